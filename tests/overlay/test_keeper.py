"""What is to be seen, event by event. The car drives the made circuit; its straights are in made_circuit.py."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from timeit import timeit

import pytest

from coach.overlay.keeper import ViewKeeper
from coach.overlay.look import Look
from coach.overlay.scales import offset_of
from coach.overlay.view import View
from coach.vocabulary.actions import ACTIONS
from coach.vocabulary.events import Action, Cue, Delta, Detector, Event, Lap, Moment, Reference, Run, Stream, Topic
from tests.planner.made_circuit import drive, lap_trace

SPOKEN = Look()
TRACE = lap_trace()
LAP = TRACE.time[-1]
REFERENCE = Reference(0.0, 1, LAP, "made", TRACE)
CORNER = Moment(10.0, 1, 520.0, 25.0, 0.3, 0.0, 20.0)
LONG = 1240.0
"""m: where the long straight begins; 13.8 s of it are before the line"""


def knowing(*events: Event, look: Look = SPOKEN) -> ViewKeeper:
    keeper = ViewKeeper(look)
    keeper.take(REFERENCE)
    for event in events:
        keeper.take(event)
    return keeper


def stands(delta: float, t: float = 10.0, lap: int = 1) -> list[Event]:
    """The delta, and a moment in a corner."""
    return [Delta(t, lap, 520.0, delta), replace(CORNER, t=t, lap=lap)]


def driven(
    begin: float, seconds: float, delta: float = 0.42, t: float = 100.0, rate: float = 50.0, lap: int = 1
) -> Iterable[Event]:
    """What comes while the reference is driven again from `begin` (m): a delta each tenth, a moment each sample."""
    for sample, moment in enumerate(drive(TRACE, 5, rate, t, begin)):
        if sample > seconds * rate:
            return
        now = replace(moment, lap=moment.lap + lap - 1)
        if sample % (rate // 10) == 0:
            yield Delta(now.t, now.lap, now.distance or 0.0, delta)
        yield now


def cue(starts: float, ends: float, spoken: bool = True, t: float | None = None) -> Cue:
    at = starts if t is None else t
    return Cue(at, 1, "correction", "late_throttle", (), 3, "Throttle sooner", spoken, starts, ends, ends + 3.0, None)


def read(keeper: ViewKeeper, events: Iterable[Event]) -> list[tuple[float, str]]:
    """When a number was to be read, and which."""
    return [
        (event.t, goal.text)
        for event in events
        if (goal := keeper.take(event)).text is not None and goal.text_alpha > 0.0 and isinstance(event, Moment)
    ]


# states


def test_it_is_silent_until_telemetry_comes_and_then_waits() -> None:
    assert ViewKeeper().goal.state == "silent"
    assert knowing().goal == View("silent", brightness=ViewKeeper().goal.brightness)
    for first in (Run(0.0, 0, "0", "generic", None, None, None, "made"), CORNER):
        assert knowing(first).goal.state == "waiting"


def test_ahead_rides_above_and_behind_below() -> None:
    assert knowing(*stands(-0.3)).goal.offset == offset_of(-0.3) > 0.0
    assert knowing(*stands(0.3)).goal.offset == offset_of(0.3) < 0.0
    assert knowing(*stands(0.3)).goal.state == "driving"


def test_the_farther_the_brighter() -> None:
    lights = [knowing(*stands(delta)).goal.brightness for delta in (0.0, 0.1, -0.5, 2.0, -5.0)]
    assert lights == sorted(lights)
    assert lights[-1] == 1.0
    assert ViewKeeper().goal.brightness < lights[0]


def test_without_deltas_for_half_a_second_it_waits_again() -> None:
    keeper = knowing(*stands(-0.3))
    assert keeper.take(replace(CORNER, t=10.5)).state == "driving"
    assert keeper.take(replace(CORNER, t=10.6)).state == "waiting"
    assert keeper.goal.offset == 0.0
    assert keeper.take(Delta(10.7, 1, 530.0, -0.3)).state == "driving"


def test_a_reference_that_is_given_up_leaves_it_waiting() -> None:
    keeper = knowing(*driven(LONG, 3.0))
    assert keeper.goal.text is not None
    keeper.take(Detector(103.0, 1, "reference", False, "it is of another circuit"))
    assert keeper.goal.state == "waiting"
    assert read(keeper, driven(LONG, 6.0, t=110.0)) == []


def test_lost_until_it_is_back() -> None:
    keeper = knowing(*stands(-0.3))
    lost = keeper.take(Stream(10.0, 1, "lost", 10.0, None))
    assert (lost.state, lost.offset, lost.trend) == ("lost", 0.0, 0.0)
    assert lost.brightness < knowing(*stands(0.0)).goal.brightness
    assert keeper.take(Stream(10.0, 1, "back", 10.0, 14.0)).state == "driving"
    assert keeper.take(replace(CORNER, t=14.0)).state == "waiting"
    assert keeper.take(Delta(14.1, 1, 560.0, -0.3)).state == "driving"


@pytest.mark.parametrize("what", ["pit", "pause"])
def test_pit_and_pause_stand_until_they_end(what: str) -> None:
    keeper, state = knowing(*stands(-0.3)), "pit" if what == "pit" else "paused"
    assert keeper.take(Stream(10.0, 1, what, 10.0, None)).state == state
    if what == "pit":
        assert keeper.take(replace(CORNER, t=10.1, quiet="pit")).state == state
    assert keeper.take(Delta(20.0, 1, 520.0, -0.3)).state == state
    assert keeper.take(Stream(20.1, 1, what, 10.0, 20.1)).state == "driving"


def test_the_pits_are_seen_by_the_moments_too() -> None:
    """A replay may begin there."""
    keeper = knowing(*stands(-0.3), replace(CORNER, t=10.1, quiet="pit"))
    assert keeper.goal.state == "pit"
    assert keeper.take(replace(CORNER, t=10.2)).state == "driving"


@pytest.mark.parametrize("what", ["reset", "rewind", "teleport", "source"])
def test_after_a_jump_the_old_delta_is_forgotten(what: str) -> None:
    keeper = knowing(*stands(-0.3))
    keeper.take(Stream(10.0, 1, "pause", 10.0, None))
    assert keeper.take(Stream(10.1, 1, what, 10.0, 10.1)).state == "waiting"


@pytest.mark.parametrize("what", ["gap", "late", "duplicate"])
def test_what_is_only_told_changes_nothing(what: str) -> None:
    keeper = knowing(*stands(-0.3))
    before = keeper.goal
    assert keeper.take(Stream(10.1, 1, what, 10.0, 10.1)) == before


def test_another_session_knows_no_reference() -> None:
    keeper = knowing(*driven(LONG, 3.0))
    keeper.take(Run(0.0, 0, "0", "generic", None, None, None, "made"))
    assert keeper.goal.state == "waiting"
    assert read(keeper, driven(LONG, 6.0, t=1.0)) == []


# trend


def changing(rate: float, seconds: float = 2.0, t: float = 10.0, lap: int = 1) -> list[Event]:
    tenths = range(round(seconds * 10))
    return [event for tenth in tenths for event in stands(0.2 + rate * tenth / 10, t + tenth / 10, lap)]


def test_gaining_and_losing_are_told_apart_from_where_it_stands() -> None:
    gaining, losing = knowing(*changing(-0.1)).goal, knowing(*changing(0.1)).goal
    assert gaining.trend > 0.3
    assert losing.trend == pytest.approx(-gaining.trend)
    assert knowing(*changing(0.0)).goal.trend == 0.0


def test_the_line_is_no_gain() -> None:
    for lap in (2, 3):  # the next lap, whose line gives a result, and one that does not follow
        keeper = knowing(*changing(0.1))
        for event in changing(0.05, seconds=4.0, t=12.0, lap=lap):
            assert keeper.take(event).trend <= 0.0
        assert keeper.goal.trend < -0.2


def test_another_reference_is_no_gain() -> None:
    """As when the lap that has just ended is chosen: the same lap's delta then begins elsewhere."""
    keeper = knowing(*changing(0.0))
    keeper.take(replace(REFERENCE, t=11.95, lap=2, time=LAP + 0.5))
    for event in stands(-0.3, t=12.0):
        assert keeper.take(event).offset in (offset_of(0.2), offset_of(-0.3))
    assert keeper.goal.trend == 0.0
    for event in changing(0.0, t=12.1):
        assert keeper.take(replace(event, delta=-0.3) if isinstance(event, Delta) else event).trend == 0.0


def test_while_a_result_stands_nothing_is_gained_or_lost() -> None:
    keeper = knowing(*changing(0.1))
    assert {keeper.take(event).trend for event in changing(0.1, seconds=2.4, t=12.0, lap=2)} == {0.0}


# the lap's result


def test_the_result_stands_for_a_while_behind_the_line() -> None:
    keeper = knowing(*stands(0.61, t=9.95))
    for event in stands(0.0, t=10.05, lap=2):
        assert keeper.take(event).offset == offset_of(0.61)
    keeper.take(Lap(10.2, 1, LAP + 0.6, None, True, (), 0.625, LAP))
    assert keeper.goal.offset == offset_of(0.625)
    for tenth in range(1, 24):
        keeper.take(Delta(10.05 + tenth / 10, 2, 100.0, 0.05))
        assert keeper.take(replace(CORNER, t=10.05 + tenth / 10, lap=2)).offset == offset_of(0.625)
    keeper.take(Delta(12.6, 2, 100.0, 0.05))
    assert keeper.take(replace(CORNER, t=12.6, lap=2)).offset == offset_of(0.05)


def test_a_lap_that_does_not_follow_has_no_result() -> None:
    assert knowing(*stands(0.61, t=10.0, lap=1), *stands(0.0, t=10.1, lap=3)).goal.offset == 0.0
    assert knowing(*stands(0.61, t=10.0, lap=1), *stands(0.0, t=11.0, lap=2)).goal.offset == 0.0


def test_the_result_of_a_lap_without_one_is_where_it_stood() -> None:
    keeper = knowing(*stands(0.61, t=9.95), *stands(0.0, t=10.05, lap=2))
    keeper.take(Lap(10.2, 1, None, None, False, ("gap",), None, None))
    assert keeper.goal.offset == offset_of(0.61)


# the number


def test_a_number_shows_on_a_straight_when_no_cue_can_come_any_more_and_goes_by_itself() -> None:
    times = [t for t, _ in read(knowing(), driven(LONG, 12.0))]
    assert times[0] == pytest.approx(101.6, abs=0.03)
    assert times[-1] == pytest.approx(101.6 + 2.5, abs=0.03)
    assert len(times) == pytest.approx(2.5 * 50, abs=2)


def test_it_waits_for_as_long_as_the_driver_feels_for_grip() -> None:
    """The planner counts from full throttle that stays; a number that a cue cuts off would only have drawn the eye."""
    felt = [
        replace(event, throttle=0.85 if round(50 * event.t) % 2 else 1.0)
        if isinstance(event, Moment) and event.t < 101.0
        else event
        for event in driven(LONG, 9.0)
    ]
    assert min(t for t, _ in read(knowing(), felt)) == pytest.approx(102.6, abs=0.03)


def test_where_nothing_is_spoken_it_shows_sooner_and_no_cue_takes_it_away() -> None:
    events = [*driven(LONG, 6.0)]
    events.insert(60, cue(101.0, 102.0))
    times = [t for t, _ in read(knowing(look=Look(spoken=False)), events)]
    assert times[0] == pytest.approx(100.4, abs=0.03)
    assert times[-1] == pytest.approx(102.9, abs=0.03)


def test_it_does_not_count_while_it_is_read() -> None:
    events = [
        replace(event, delta=0.4 + 0.02 * (event.t - 100.0)) if isinstance(event, Delta) else event
        for event in driven(LONG, 6.0)
    ]
    assert len({number for _, number in read(knowing(), events)}) == 1


def test_it_shows_once_a_straight() -> None:
    laps = read(knowing(), driven(LONG, 2 * LAP))
    starts = [t for (before, _), (t, _) in zip([(0.0, ""), *laps], laps, strict=False) if t - before > 0.5]
    assert len(starts) == 4  # turn one's straight and the long one, twice
    assert all(number == "+0.42" for _, number in laps)


def test_it_is_gone_half_a_second_before_the_reference_brakes() -> None:
    begin = 650.0  # 5.6 s before turn two's brake point
    times = [t for t, _ in read(knowing(), driven(begin, 8.0))]
    assert times
    brakes = 100.0 + TRACE.at(TRACE.time, 900.0) - TRACE.at(TRACE.time, begin)
    assert times[-1] <= brakes - 0.5 + 0.03
    near = 724.0  # 3.9 s before: 2.3 s are left when it shows
    times = [t for t, _ in read(knowing(), driven(near, 8.0))]
    assert times[-1] - times[0] == pytest.approx(1.8, abs=0.05)
    late = 770.0  # 2.9 s before
    assert read(knowing(), driven(late, 8.0)) == []


def test_it_never_shows_while_a_cue_sounds() -> None:
    events = [*driven(LONG, 9.0)]
    at = next(index for index, event in enumerate(events) if event.t >= 102.0)
    events.insert(at, cue(102.0, 103.5))
    times = [t for t, _ in read(knowing(), events)]
    assert times[0] == pytest.approx(101.6, abs=0.03)
    assert not [t for t in times if 102.0 <= t <= 103.5]


def test_a_cue_takes_it_away_before_another_sample() -> None:
    keeper = knowing(*driven(LONG, 3.0))
    assert keeper.goal.text == "+0.42"
    assert keeper.take(cue(103.0, 104.0)).text is None


def test_after_a_cue_it_waits_for_a_breath() -> None:
    events = [*driven(LONG, 9.0)]
    at = next(index for index, event in enumerate(events) if event.t >= 101.0)
    events.insert(at, cue(101.0, 103.0))
    times = [t for t, _ in read(knowing(), events)]
    assert times[0] == pytest.approx(103.32, abs=0.03)


def test_a_cue_that_comes_soon_or_is_held_back() -> None:
    soon = [cue(102.5, 103.5, t=100.0), *driven(LONG, 9.0)]
    assert min(t for t, _ in read(knowing(), soon)) == pytest.approx(103.82, abs=0.03)
    late = [cue(105.0, 106.0, t=100.0), *driven(LONG, 9.0)]
    assert min(t for t, _ in read(knowing(), late)) == pytest.approx(101.6, abs=0.03)
    told = [*driven(LONG, 9.0)]
    told.insert(next(index for index, event in enumerate(told) if event.t >= 102.0), cue(102.5, 103.5, t=102.0))
    assert max(t for t, _ in read(knowing(), told)) == pytest.approx(102.5, abs=0.03)
    held = [cue(101.0, 104.0, spoken=False, t=100.0), *driven(LONG, 9.0)]
    assert min(t for t, _ in read(knowing(), held)) == pytest.approx(101.6, abs=0.03)


@pytest.mark.parametrize("what", ["lost", "pit", "pause", "teleport", "reset"])
def test_what_happens_to_the_stream_takes_it_away(what: str) -> None:
    keeper = knowing(*driven(LONG, 3.0))
    assert keeper.goal.text == "+0.42"
    assert keeper.take(Stream(103.0, 1, what, 103.0, None)).text is None
    assert keeper.take(Stream(103.0, 1, "back" if what == "lost" else what, 103.0, 103.0)).text is None
    assert keeper.take(Delta(103.0, 1, 700.0, 0.42)).text is None


def test_a_cue_of_before_a_rewind_sounds_no_more() -> None:
    events = [*driven(LONG, 9.0)]
    keeper = knowing(*events[:100], cue(102.0, 104.0, t=101.0))
    keeper.take(Stream(100.0, 1, "rewind", 101.0, 100.0))
    times = [t for t, _ in read(keeper, events)]
    assert (times[0], times[-1]) == (pytest.approx(101.6, abs=0.03), pytest.approx(104.1, abs=0.03))


def test_at_the_line_the_number_is_the_laps() -> None:
    keeper, events = knowing(), []
    for event in driven(1970.0, 5.0, delta=0.61):
        if isinstance(event, Delta) and event.lap == 2:
            event = replace(event, delta=0.0)
        events.append(event)
    assert {number for _, number in read(keeper, events)} == {"+0.61"}


def test_a_moment_costs_microseconds() -> None:
    """A ratio to the cost of making the moment itself, which needs a few hundred nanoseconds anywhere. Measured by
    turns, so that a machine that is busy for a while slows both."""
    keeper = knowing(*stands(-0.3))
    moment = replace(CORNER, t=10.1)
    turns = [
        (
            timeit(lambda: Moment(10.1, 1, 520.0, 25.0, 0.3, 0.0, 20.0), number=200),
            timeit(lambda: keeper.take(moment), number=200),
        )
        for _ in range(60)
    ]
    make, take = (min(costs) for costs in zip(*turns, strict=True))
    assert take < 30 * make


# topic, presses, times hidden


def test_the_topic_has_its_familys_sign_until_it_is_another() -> None:
    keeper = knowing()
    assert keeper.take(Topic(1.0, 1, "late_throttle")).sign == "throttle"
    assert knowing(Topic(1.0, 1, "late_throttle"), *stands(0.3)).goal.sign == "throttle"
    assert keeper.take(Topic(2.0, 1, "lock_up")).sign == "brakes"
    assert keeper.take(Topic(3.0, 1, "a fault of a later version")).sign is None
    assert keeper.take(Topic(4.0, 1, None)).sign is None


def test_each_press_counts_and_only_one_that_does_something() -> None:
    keeper = knowing(*stands(0.3))
    for count, action in enumerate(ACTIONS, 1):
        assert keeper.take(Action(10.0, 1, action)).presses == count
    assert keeper.take(Action(10.0, 1, "of a later version")).presses == len(ACTIONS)
    assert keeper.take(Stream(11.0, 1, "lost", 10.0, None)).presses == len(ACTIONS)


def test_a_press_is_noted_for_half_a_second_of_the_source() -> None:
    keeper = knowing(*stands(0.3))
    assert keeper.take(Action(10.0, 1, "mark")).noted == 1.0
    assert keeper.take(replace(CORNER, t=10.4)).noted == 1.0
    assert keeper.take(replace(CORNER, t=10.5)).noted == 0.0
    keeper.take(Action(10.6, 1, "mark"))
    for what in ("lost", "pause"):  # the clock stands: what is shown fades by the screen's own, see test_easing.py
        assert keeper.take(Stream(10.6, 1, what, 10.6, None)).noted == 0.0


def test_a_press_of_before_a_rewind_is_noted_no_more() -> None:
    """Its time may come only after hours of the new clock, and as long the picture would count as moving."""
    keeper = knowing(*stands(0.3), Action(10.0, 1, "mark"))
    keeper.take(Stream(10.0, 1, "rewind", 10.0, 2.0))
    assert keeper.take(replace(CORNER, t=2.0)).noted == 0.0


def test_where_times_are_hidden_the_view_does_not_know_of_a_delta() -> None:
    def views(size: float, rate: float) -> list[View]:
        keeper = knowing(look=Look(times=False))
        events = [*changing(rate), *stands(size, t=12.0), *stands(0.0, t=12.1, lap=2)]
        events.append(Lap(12.2, 1, LAP + size, None, True, (), size, LAP))
        return [keeper.take(event) for event in events if not isinstance(event, Delta)] + [
            keeper.take(event) for event in events
        ]

    still = views(0.0, 0.0)
    assert {view.state for view in still} == {"driving"}
    assert not any(view.timed or view.offset or view.trend for view in still)
    for size, rate in ((0.3, 0.1), (-2.0, -0.3)):
        assert views(size, rate) == still


def test_where_times_are_hidden_it_waits_for_the_reference_alone() -> None:
    keeper = ViewKeeper(Look(times=False))
    assert keeper.take(CORNER).state == "waiting"
    assert keeper.take(REFERENCE).state == "driving"
    assert keeper.take(replace(CORNER, t=20.0)).state == "driving"
    assert keeper.take(Detector(20.0, 1, "reference", False, None)).state == "waiting"
