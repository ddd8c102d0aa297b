"""The driver chooses a lap of this session as the reference, by a button."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache

import pytest

from coach.engine import session
from coach.engine.engine import Engine
from coach.engine.references import CHOSEN
from coach.engine.session import JUST_ENDED
from coach.engine.start import EngineStart
from coach.vocabulary.actions import MARK, USE_LAP
from coach.vocabulary.events import Action, Advice, Answer, Event, Lap, Loss, Moment, Passed, Reference
from coach.vocabulary.sample import Sample
from tests.engine.drives import begin, learned, only, recorded, samples
from tests.make_stream import Mistake, make_drive, test_loop

LAPS = 6
SLOW_LAP = 3


@cache
def driven() -> tuple[Sample, ...]:
    """Lap 1 from standing, lap 3 slow, the others alike."""
    slow = [Mistake("late_throttle", SLOW_LAP, corner, 0.6) for corner in (1, 6)]
    return tuple(samples(make_drive(test_loop(), LAPS, 25.0, mistakes=slow).rows))


def pressed(
    presses: Mapping[int, float],
    start: EngineStart | None = None,
    name: str = USE_LAP,
    stream: Sequence[Sample] | None = None,
) -> list[Event]:
    """What comes of the drive where the button is pressed, by lap, at that share of it."""
    engine, out = Engine(begin() if start is None else start), []
    left = dict(presses)
    length = test_loop().length
    for sample in driven() if stream is None else stream:
        events = engine.push(sample)
        out += events
        moment = only(events, Moment)
        if not moment or moment[-1].distance is None:
            continue
        lap, place = moment[-1].lap, moment[-1].distance
        if lap in left and place >= left[lap] * length:
            del left[lap]
            out += engine.act(Action(sample.t, lap, name, place))
    assert not left, "every press was made"
    return [event for event in out + engine.finish() if not isinstance(event, Moment)]


def lap_times(events: list[Event]) -> dict[int, float]:
    return {lap.lap: lap.time for lap in only(events, Lap) if lap.time is not None}


def test_the_running_lap_is_the_reference_once_it_has_ended_and_stays_it() -> None:
    events = pressed({SLOW_LAP: 0.5})
    times, references = lap_times(events), only(events, Reference)
    assert times[SLOW_LAP] > times[4] + 0.1, "quicker laps follow and do not take its place"
    chosen = [reference for reference in references if reference.origin == CHOSEN]
    assert [reference.lap for reference in chosen] == [SLOW_LAP]
    assert references[-1] is chosen[0]
    assert chosen[0].time == pytest.approx(times[SLOW_LAP], abs=2e-3)
    assert [answer.done for answer in only(events, Answer)] == [True]
    for lap in only(events, Lap):
        if lap.lap > SLOW_LAP and lap.time is not None:
            assert lap.delta == pytest.approx(lap.time - times[SLOW_LAP], abs=2e-3)


def test_shortly_after_the_line_it_is_the_lap_that_has_just_ended() -> None:
    events = pressed({SLOW_LAP + 1: 0.5 * JUST_ENDED})
    chosen = [reference for reference in only(events, Reference) if reference.origin == CHOSEN]
    assert [reference.lap for reference in chosen] == [SLOW_LAP]
    assert [answer.lap for answer in only(events, Answer)] == [SLOW_LAP + 1]


def test_another_press_chooses_another_lap() -> None:
    events = pressed({2: 0.5, 4: 0.6})
    assert [reference.lap for reference in only(events, Reference) if reference.origin == CHOSEN] == [2, 4]


def test_a_lap_that_is_not_clean_is_refused_with_the_reason() -> None:
    events = pressed({1: 0.5})
    assert [answer.done for answer in only(events, Answer)] == [False]
    assert CHOSEN not in {reference.origin for reference in only(events, Reference)}
    (advice,) = only(events, Advice)
    assert advice.text == "lap 1 cannot be the reference: standing start"


def test_a_lap_that_is_never_driven_to_its_end_is_refused() -> None:
    engine = Engine(begin())
    stream = driven()
    for sample in stream[:2000]:
        engine.push(sample)
    assert engine.act(Action(stream[1999].t, 2, USE_LAP)) == []
    events = [event for sample in driven()[:200] for event in engine.push(sample)]  # the clock begins anew
    assert [answer.done for answer in only(events, Answer)] == [False]
    assert only(events, Reference) == []


def test_it_takes_the_place_of_a_reference_from_a_file() -> None:
    events = pressed({SLOW_LAP: 0.5}, learned())
    assert [reference.origin for reference in only(events, Reference)] == ["plain", CHOSEN]
    last = only(events, Lap)[-1]
    assert last.delta == pytest.approx(lap_times(events)[last.lap] - lap_times(events)[SLOW_LAP], abs=2e-3)


def test_pressed_before_the_lap_is_told_it_is_told_after_it() -> None:
    """A source that tells its lap time late holds the lap back: what was lost in it was lost to the other reference."""
    late = [driven()[max(0, i - 4)].last_lap_time for i in range(len(driven()))]
    stream = [replace(sample, last_lap_time=own) for sample, own in zip(driven(), late, strict=True)]
    events = pressed({SLOW_LAP + 1: 0.0}, learned(), stream=stream)
    (chosen,) = (event for event in only(events, Reference) if event.origin == CHOSEN)
    told = [event for event in events if isinstance(event, (Lap, Loss, Reference, Answer))]
    place = told.index(chosen)
    assert [type(event) for event in told[place - 2 : place + 2]] == [Lap, Loss, Reference, Answer]
    assert told[place - 1].lap == chosen.lap == SLOW_LAP
    assert [event.t for event in told] == sorted(event.t for event in told)
    assert only(events, Reference)[-1] is chosen


def test_what_was_driven_before_the_press_is_still_judged(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pressed behind the exit of the corner whose throttle is late, where its pass waits for the throttle."""
    monkeypatch.setattr(session, "JUST_ENDED", 0.3)
    later = [Mistake("late_throttle", 3, 1, 1.5)]
    stream = samples(make_drive(test_loop(), 3, 25.0, mistakes=later).rows)
    behind_the_exit = 446.0 / test_loop().length
    plain = pressed({}, learned(), stream=stream)
    events = pressed({3: behind_the_exit}, learned(), stream=stream)
    assert CHOSEN in {reference.origin for reference in only(events, Reference)}
    passes = [(passed.lap, passed.corner, passed.judged) for passed in only(events, Passed)]
    assert passes == [(passed.lap, passed.corner, passed.judged) for passed in only(plain, Passed)]


def test_what_ends_before_the_lap_does_is_answered_too() -> None:
    engine = Engine(begin())
    for sample in driven()[:2000]:
        engine.push(sample)
    assert engine.act(Action(driven()[1999].t, 2, USE_LAP)) == []
    assert [answer.done for answer in only(engine.finish(), Answer)] == [False]


@pytest.mark.parametrize("choice", ["grip", "patchwork"])
def test_it_takes_the_place_of_a_made_reference(choice: str) -> None:
    events = pressed({SLOW_LAP: 0.5}, begin(choice=choice))
    assert only(events, Reference)[-1].origin == CHOSEN


def test_the_losses_against_it_sum_to_the_delta() -> None:
    events = pressed({SLOW_LAP: 0.5})
    deltas = {lap.lap: lap.delta for lap in only(events, Lap)}
    losses = [loss for loss in only(events, Loss) if loss.lap > SLOW_LAP]
    assert losses
    for loss in losses:
        assert sum(part.seconds for part in loss.parts) == pytest.approx(deltas[loss.lap], abs=1e-3)


def test_other_actions_are_nothing_to_the_engine() -> None:
    assert recorded(pressed({2: 0.5}, name=MARK)) == recorded(pressed({}))


def test_before_the_first_sample_nothing_comes_of_it() -> None:
    assert Engine(begin()).act(Action(0.0, 0, USE_LAP)) == []


def test_the_same_presses_give_the_same_events() -> None:
    assert recorded(pressed({2: 0.5})) == recorded(pressed({2: 0.5}))
