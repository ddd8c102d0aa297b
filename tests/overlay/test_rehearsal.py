"""The drive that nobody drives: it is one that could be, the same every time, and shows all that there is to see."""

from __future__ import annotations

from itertools import islice, pairwise, takewhile
from typing import get_args

import pytest

from coach.overlay.keeper import ViewKeeper
from coach.overlay.look import Look
from coach.overlay.rehearsal import FAULTS, RATE, ROUND, Rehearsal, reference, rehearsal
from coach.overlay.signs import SIGNS
from coach.overlay.view import State, View
from coach.vocabulary.actions import ACTIONS
from coach.vocabulary.events import Action, Cue, Delta, Event, Lap, Moment, Reference, Run, Stream, Topic
from coach.vocabulary.faults import FAULTS as KNOWN

NEAR = 1e-9


def events(rounds: int = 1) -> list[Event]:
    return list(takewhile(lambda event: event.t <= rounds * ROUND, rehearsal()))


def views(look: Look, rounds: int = 1) -> list[View]:
    keeper = ViewKeeper(look)
    return [keeper.goal, *(keeper.take(event) for event in events(rounds))]


def test_within_a_minute_every_state_is_seen() -> None:
    assert ROUND <= 60.0
    assert {view.state for view in views(Look())} == set(get_args(State))


def test_in_every_round_all_is_seen_but_the_silence_before_the_first() -> None:
    keeper = ViewKeeper(Look())
    for event in events():
        keeper.take(event)
    states = [keeper.take(event).state for event in events(2) if event.t > ROUND]
    assert set(states) == set(get_args(State)) - {"silent"}


def test_it_is_ahead_and_behind_and_gains_and_loses() -> None:
    seen = views(Look())
    assert min(view.offset for view in seen) < -0.3 and max(view.offset for view in seen) > 0.3
    assert min(view.trend for view in seen) < -0.3 and max(view.trend for view in seen) > 0.3


def test_numbers_of_both_signs_stand_and_give_way_to_a_cue() -> None:
    keeper, numbers, sounding = ViewKeeper(Look()), set(), []
    cue: Cue | None = None
    for event in events():
        view = keeper.take(event)
        cue = event if isinstance(event, Cue) else cue
        if view.text is not None and view.text_alpha == 1.0:
            numbers.add(view.text[0])
        if cue is not None and cue.starts is not None and cue.ends is not None and cue.starts <= event.t <= cue.ends:
            sounding.append(view.text)
    assert numbers == {"+", "\N{MINUS SIGN}"}
    assert len(sounding) > RATE and set(sounding) == {None}


def test_where_nothing_sounds_words_stand_for_the_cue() -> None:
    words = {fault: f"words {number}" for number, fault in enumerate(FAULTS)}
    shown = [view.text for view in views(Look(spoken=False, words=words)) if view.text is not None]
    assert "words 0" in shown


@pytest.mark.parametrize("spoken", [True, False])
def test_every_sign_comes_in_three_rounds_and_one_in_each(spoken: bool) -> None:
    assert len({view.sign for view in views(Look(spoken=spoken)) if view.sign is not None}) >= 2
    assert {view.sign for view in views(Look(spoken=spoken), rounds=3)} == {None, *SIGNS}


def test_presses_are_heard() -> None:
    assert views(Look())[-1].presses >= 1
    assert all(event.action in ACTIONS for event in events() if isinstance(event, Action))


def test_it_is_the_same_every_time_and_has_no_end() -> None:
    assert list(islice(rehearsal(), 20_000)) == list(islice(rehearsal(), 20_000))


def test_time_never_goes_back_and_moments_come_sixty_times_a_second() -> None:
    many = list(islice(rehearsal(), 20_000))
    assert all(later.t >= sooner.t for sooner, later in pairwise(many))
    moments = [event.t for event in many if isinstance(event, Moment)]
    steps = [later - sooner for sooner, later in pairwise(moments)]
    assert min(steps) == pytest.approx(1 / RATE)
    assert sum(step > 1.5 / RATE for step in steps) <= 3 * (many[-1].t / ROUND + 1), "only where the stream is silent"


def test_deltas_come_ten_times_a_second_and_agree_with_the_clock() -> None:
    """A delta is the own time at a place less the reference's there, and so is the predicted time its sum with it."""
    lap, line = 0, 0.0
    trace = reference()
    counted = 0
    for event in events():
        if isinstance(event, Moment) and event.lap != lap:
            lap, line = event.lap, event.t
        if isinstance(event, Stream) and event.what == "pause" and event.end is not None and event.start is not None:
            line += event.end - event.start
        if isinstance(event, Delta) and event.lap == lap:
            counted += 1
            assert event.t - line - trace.at(trace.time, event.distance) == pytest.approx(event.delta, abs=1.5 / RATE)
            assert event.predicted == pytest.approx(trace.time[-1] + event.delta)
    driven = sum(isinstance(event, Moment) and event.lap > 1 and event.quiet == "" for event in events())
    assert abs(counted - driven / 6) <= 5


def test_the_car_never_jumps() -> None:
    length, last = reference().length, None
    for event in events():
        if isinstance(event, Moment):
            assert event.distance is not None and 0.0 <= event.distance <= length
            if last is not None:
                assert (event.distance - last[0]) % length <= 75.0 * (event.t - last[1]) + NEAR
            last = (event.distance, event.t)


def test_it_begins_like_a_session_and_tells_the_lap() -> None:
    once = [event for event in events() if not isinstance(event, (Moment, Delta))]
    kinds = [type(event) for event in once]
    assert kinds[0] is Run
    assert kinds.index(Run) < kinds.index(Reference) < kinds.index(Cue) < kinds.index(Lap)
    laps = [event for event in once if isinstance(event, Lap)]
    assert len(laps) == 1 and laps[0].time is not None and laps[0].reference_time is not None
    assert laps[0].delta == pytest.approx(laps[0].time - laps[0].reference_time)
    assert laps[0].delta < 0.0, "it lost first, and is the better one in the end"
    assert 25.0 < laps[0].time < 35.0, "half a minute"
    assert [(event.what, event.end is None) for event in once if isinstance(event, Stream)] == [
        ("pause", True),
        ("pause", False),
        ("lost", True),
        ("back", False),
        ("pit", True),
        ("pit", False),
    ]
    topics = {event.fault for event in once if isinstance(event, Topic)} - {None}
    assert topics <= set(FAULTS) <= set(KNOWN)


def test_the_reference_is_a_lap() -> None:
    trace = reference()
    points = round(trace.length / trace.step) + 1
    for channel in (trace.time, trace.speed, trace.throttle, trace.brake, trace.lateral):
        assert len(channel) == points
    assert all(later > sooner for sooner, later in pairwise(trace.time))


@pytest.mark.parametrize("step", [1 / 30, 0.1, 7.0])
def test_each_event_is_given_once_when_its_time_has_come(step: float) -> None:
    given, now, till = [], 0.0, ROUND + 5.0
    show = Rehearsal()
    while now < till:
        now = min(till, now + step)
        new = list(show.until(now))
        assert all(now - step - NEAR <= event.t <= now for event in new)
        given += new
    assert given == list(takewhile(lambda event: event.t <= till, rehearsal()))
    assert list(show.until(now)) == []
