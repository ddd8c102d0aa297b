"""Laps: times by line crossing, numbers, and what becomes of a lap that goes wrong."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import pytest

from coach.engine.engine import Engine
from coach.vocabulary.events import Delta, Event, Fault, Lap, Loss, Moment, Reference
from coach.vocabulary.sample import Sample
from tests.engine.drives import (
    OWN_TIMES,
    at,
    begin,
    changed,
    drive,
    laps,
    learned,
    loop,
    only,
    run,
    run_through,
    streams,
    then,
    told,
)

RATES = (20.0, 50.0, 60.0, 100.0, 360.0)
CLOSE = 0.004
"""s: contract and issue, for full lap times"""
DRIVEN = {"scatter": 0.01, "wander": 0.5}
RATE, STEP = 25.0, 0.04
"""Hz and s, where the rate is not what a test is about"""

Stream_ = list[Sample]


@pytest.fixture
def plain() -> Stream_:
    """A standing start, three whole laps and a little more; without the source's own lap times."""
    return list(told(3, RATE, *OWN_TIMES, **DRIVEN))


TRUTH = {lap.lap: lap.time for lap in drive(3, RATE, **DRIVEN).laps}


def assert_times(found: dict[int, Lap], *numbers: int) -> None:
    for number in numbers:
        time = found[number].time
        assert time is not None and abs(time - TRUTH[number]) < CLOSE, f"lap {number}: {time} for {TRUTH[number]}"


def reasons(found: dict[int, Lap]) -> dict[int, tuple[str, ...]]:
    return {number: lap.why_not for number, lap in found.items()}


@pytest.mark.parametrize("rate", RATES)
def test_every_full_lap_is_timed_by_the_line_at_any_rate(rate: float) -> None:
    seed = round(rate)  # another drive at each rate
    count = 1 if rate >= 100.0 else 2
    made = drive(count, rate, seed=seed, **DRIVEN)
    found = laps(run(told(count, rate, *OWN_TIMES, seed=seed, **DRIVEN)))
    assert len(found) == len(made.laps) == count
    for truth in made.laps:
        time = found[truth.lap].time
        # measured: 0.011 ms at worst over these drives, as the made car's pull is nearly constant within a step
        assert time is not None and abs(time - truth.time) < 0.0005
    assert [lap.clean for lap in found.values()] == [False, True][:count]


def test_a_lap_is_told_at_the_line(plain: Stream_) -> None:
    found = laps(run(plain))
    for truth in drive(3, RATE, **DRIVEN).laps:
        assert 0.0 <= found[truth.lap].t - (truth.crossing + truth.time) < STEP + 0.001


# the source's own time


def own_times(late: int, stream: tuple[Sample, ...], steps: float = 0.001) -> Stream_:
    """`last_lap_time` comes `late` datagrams after the line, in steps of `steps` s."""
    held = [stream[0].last_lap_time] * late + [s.last_lap_time for s in stream]
    return [
        replace(s, last_lap_time=None if own is None else round(round(own / steps) * steps, 4))
        for s, own in zip(stream, held, strict=False)
    ]


@pytest.mark.parametrize("late", [0, 1, 5])
def test_the_sources_own_time_is_taken_over_when_it_comes(late: int) -> None:
    found = laps(run(own_times(late, told(3, RATE, **DRIVEN), 0.002)))
    for number, lap in found.items():
        assert lap.source_time is not None, number
        assert abs(lap.source_time - TRUTH[number]) <= 0.0015
        assert lap.time is not None and abs(lap.time - lap.source_time) < CLOSE


def test_the_sources_own_time_that_comes_before_the_line_is_taken_over() -> None:
    stream = told(3, RATE, **DRIVEN)
    early = [replace(s, last_lap_time=b.last_lap_time) for s, b in zip(stream, stream[3:], strict=False)]
    found = laps(run(early))
    assert {n: lap.source_time is not None for n, lap in found.items()} == {1: True, 2: True, 3: True}


def test_two_laps_of_one_time_both_have_the_sources_time(plain: Stream_) -> None:
    """It does not change at the second line, so it must be known by its value."""
    end = at(plain, 3, 0.0)
    lap = plain[at(plain, 2, 0.0) : end]
    again = then(plain[:end], lap, laps=1, silence=plain[end].t - plain[end - 1].t)
    again = then(again, plain[end:], laps=1)
    lap2 = round(TRUTH[2], 3)
    sent = [replace(s, last_lap_time=0.0 if (s.lap or 0) < 3 else lap2) for s in again if (s.lap or 0) <= 4]
    found = laps(run(sent))
    assert found[2].source_time == found[3].source_time == lap2


@pytest.mark.parametrize("never", [None, 0.0, 99.5])
def test_a_source_without_a_lap_time_holds_the_lap_up_for_a_quarter_of_a_second_at_most(never: float | None) -> None:
    stream = [replace(s, last_lap_time=never) for s in told(3, RATE, **DRIVEN)]
    found = laps(run(stream))
    assert sorted(found) == [1, 2, 3]
    for truth in drive(3, RATE, **DRIVEN).laps:
        assert found[truth.lap].source_time is None
        assert found[truth.lap].t - (truth.crossing + truth.time) < 0.25 + 2 * STEP


def test_a_lap_time_that_is_set_to_nought_is_none() -> None:
    stream = told(3, RATE, **DRIVEN)
    zeroed = [replace(s, last_lap_time=-1.0 if s.lap == 3 else s.last_lap_time) for s in stream]
    assert laps(run(zeroed))[2].source_time is None


# numbers


def later(stream: Stream_, count: int) -> Stream_:
    """The lap count `count` datagrams late, or early where negative."""
    numbers = [s.lap for s in stream]
    moved = [numbers[min(max(i - count, 0), len(numbers) - 1)] for i in range(len(numbers))]
    return [replace(s, lap=lap) for s, lap in zip(stream, moved, strict=True)]


@pytest.mark.parametrize("count", [1, 2, 5, 10, 20, -1, -3])
def test_a_lap_count_that_comes_late_or_early_numbers_the_same_laps(plain: Stream_, count: int) -> None:
    events = run(later(plain, count))
    found = laps(events)
    assert sorted(found) == [1, 2, 3]
    assert_times(found, 1, 2, 3)
    assert streams(events) == []


COUNTS: dict[str, Callable[[int], int | None]] = {
    "absent": lambda lap: None,
    "stuck at 0": lambda lap: 0,
    "stuck at 1": lambda lap: 1,
    "lap 1 from the start on": lambda lap: max(1, lap),
}


@pytest.mark.parametrize("name", COUNTS)
def test_laps_are_counted_from_the_first_line_where_the_source_does_not(plain: Stream_, name: str) -> None:
    events = run([replace(s, lap=COUNTS[name](s.lap or 0)) for s in plain])
    found = laps(events)
    assert sorted(found) == [1, 2, 3]
    assert_times(found, 1, 2, 3)


@pytest.mark.parametrize("first", [4, 17])
def test_laps_go_by_the_sources_count(plain: Stream_, first: int) -> None:
    found = laps(run([replace(s, lap=(s.lap or 0) + first) for s in plain]))
    assert sorted(found) == [first + 1, first + 2, first + 3]


def test_a_count_that_never_changes_is_where_counting_begins(plain: Stream_) -> None:
    assert sorted(laps(run([replace(s, lap=5) for s in plain]))) == [5, 6, 7]


def test_a_count_that_jumps_ahead_is_followed(plain: Stream_) -> None:
    """Laps that were driven while nobody listened."""
    ahead = [replace(s, lap=s.lap if (s.lap or 0) < 2 else (s.lap or 0) + 4) for s in plain]
    assert sorted(laps(run(ahead))) == [1, 6, 7]


def test_a_stream_joined_on_the_way_takes_the_count_over(plain: Stream_) -> None:
    found = laps(run([replace(s, lap=(s.lap or 0) + 7) for s in plain[at(plain, 1, 700.0) :]]))
    assert reasons(found) == {8: ("out_lap",), 9: (), 10: ()}
    assert found[8].time is None and not found[8].clean


def test_a_lap_joined_past_its_half_is_not_told(plain: Stream_) -> None:
    assert sorted(laps(run(plain[at(plain, 1, 0.6 * loop().length) :]))) == [2, 3]


@pytest.mark.parametrize("name", ["absent", "stuck at 0"])
def test_every_event_names_its_lap(plain: Stream_, name: str) -> None:
    events = run([replace(s, lap=COUNTS[name](s.lap or 0)) for s in plain], learned())
    driven = drive(3, RATE, **DRIVEN).laps
    crossings = [lap.crossing for lap in driven] + [driven[-1].crossing + driven[-1].time]
    for event in only(events, Delta):
        assert event.lap == sum(event.t >= crossing for crossing in crossings)


# a lap that goes wrong


def assert_broken(events: list[Event], *broken: int) -> None:
    """A broken lap is neither clean nor a reference."""
    for lap in only(events, Lap):
        assert lap.clean == (lap.why_not == ()), lap
        if lap.lap in broken:
            assert not lap.clean and lap.why_not
    assert not {reference.lap for reference in only(events, Reference)} & set(broken)


def lap_2_at(stream: Stream_, distance: float) -> int:
    return at(stream, 2, distance)


def test_a_reset_to_the_pits(plain: Stream_) -> None:
    """Put into the pits 100 m before the line at 1200 m of lap 2, and off again from a stand."""
    out = changed(plain, lambda s: s.t < 3.0, in_pit=True)
    out = changed(out, lambda s: s.t >= 3.0, in_pit=False)
    placed = at(plain, 2, 1200.0)
    events = run(then(changed(plain[:placed], lambda s: True, in_pit=False), out, laps=2))
    resets = streams(events, "reset")
    assert [(s.start, s.lap) for s in resets] == [(plain[placed - 1].t, 2)]
    pits = streams(events, "pit")
    assert [(s.start is None, s.end is None) for s in pits] == [(False, True), (False, False)]
    assert pits[1].start == pits[0].start and pits[1].end == pytest.approx(pits[0].t + 3.0)
    assert streams(events, "teleport", "gap", "rewind") == []
    found = laps(events)
    assert reasons(found) == {
        1: ("standing_start",),
        2: ("pit", "reset", "standing_start", "out_lap", "in_lap"),
        3: ("standing_start",),
        4: (),
        5: (),
    }
    assert found[2].time is None
    assert found[4].time == pytest.approx(TRUTH[2], abs=CLOSE)
    assert_broken(events, 1, 2, 3)


def test_a_reset_where_the_source_begins_to_count_anew(plain: Stream_) -> None:
    events = run(then(plain[: at(plain, 2, 1200.0)], plain))
    assert [s.what for s in streams(events)] == ["reset"]
    found = only(events, Lap)
    assert [(lap.lap, lap.clean) for lap in found] == [(1, False), (1, False), (2, True), (3, True)]
    assert found[1].time == pytest.approx(TRUTH[1], abs=CLOSE)


@pytest.mark.parametrize(("there", "put"), [(500.0, 1500.0), (1500.0, 900.0), (1900.0, 2200.0)])
def test_a_teleport(plain: Stream_, there: float, put: float) -> None:
    events = run(then(plain[: at(plain, 2, there)], plain[at(plain, 2, put) :]))
    assert [s.what for s in streams(events)] == ["teleport"]
    found = laps(events)
    assert reasons(found) == {1: ("standing_start",), 2: ("reset",), 3: ()}
    assert found[2].time is None
    assert_times(found, 3)
    assert_broken(events, 1, 2)


def test_a_teleport_over_the_line_makes_no_lap(plain: Stream_) -> None:
    events = run(then(plain[: at(plain, 2, 2300.0)], plain[at(plain, 3, 200.0) :]))
    assert [s.what for s in streams(events)] == ["teleport"]
    found = only(events, Lap)
    assert [lap.time for lap in found[1:]] == [None]
    assert_broken(events, 2, 3)


def test_a_rewind_in_mid_lap(plain: Stream_) -> None:
    back = plain[at(plain, 2, 600.0) :]
    events = run([*plain[: at(plain, 2, 1500.0)], *back])
    assert [(s.what, s.end) for s in streams(events)] == [("rewind", back[0].t)]
    found = laps(events)
    assert reasons(found) == {1: ("standing_start",), 2: ("reset",), 3: ()}
    assert found[2].time is None
    assert_times(found, 3)
    assert_broken(events, 2)


def test_a_lap_that_ended_just_before_a_rewind_is_not_lost(plain: Stream_) -> None:
    stream = [replace(s, last_lap_time=99.0) for s in plain]  # so that the lap waits for the source's time
    end = at(plain, 3, 0.0) + 3
    events = run([*stream[:end], *stream[at(plain, 2, 600.0) :]])
    second = [lap for lap in only(events, Lap) if lap.lap == 2]
    assert [lap.time is not None for lap in second] == [True, False]
    assert [s.what for s in streams(events)] == ["rewind"]
    assert only(events, Reference), "nor is what it taught"


def silent(stream: Stream_, where: int, seconds: float) -> Stream_:
    return [*stream[:where], *(s for s in stream[where:] if s.t >= stream[where - 1].t + seconds - 1e-6)]


@pytest.mark.parametrize(("seconds", "is_gap"), [(0.1, False), (0.3, True), (2.0, True)])
def test_a_gap(plain: Stream_, seconds: float, is_gap: bool) -> None:
    events = run(silent(plain, at(plain, 2, 1100.0), seconds))
    gaps = streams(events)
    assert [s.what for s in gaps] == (["gap"] if is_gap else [])
    found = laps(events)
    assert reasons(found) == {1: ("standing_start",), 2: ("gap",) if is_gap else (), 3: ()}
    assert_times(found, *((3,) if is_gap else (2, 3)))
    assert_broken(events, *((1, 2) if is_gap else (1,)))


@pytest.mark.parametrize("seconds", [0.3, 0.9, 2.0])
def test_a_gap_over_the_line_spoils_both_laps(plain: Stream_, seconds: float) -> None:
    line = at(plain, 3, 0.0)
    events = run(silent(plain, line - round(seconds * RATE / 2), seconds))
    assert [s.what for s in streams(events)] == ["gap"]
    assert reasons(laps(events)) == {1: ("standing_start",), 2: ("gap",), 3: ("gap",)}
    assert_broken(events, 1, 2, 3)


def test_the_lap_before_a_gap_that_begins_behind_the_line_stays_clean(plain: Stream_) -> None:
    events = run(silent(plain, at(plain, 3, 0.0) + 2, 2.0))
    assert reasons(laps(events)) == {1: ("standing_start",), 2: (), 3: ("gap",)}


@pytest.mark.parametrize("channels", [("lap_distance",), ("lap_distance", "x", "y")])
def test_a_place_that_is_missing_for_a_while_is_a_gap_too(plain: Stream_, channels: tuple[str, ...]) -> None:
    where = plain[at(plain, 2, 1100.0)].t
    nothing = dict.fromkeys(channels)
    events = run(changed(plain, lambda s: where <= s.t < where + 0.6, **nothing))
    assert reasons(laps(events)) == {1: ("standing_start",), 2: ("gap",), 3: ()}
    assert_broken(events, 1, 2)


def test_five_in_a_hundred_lost_and_neighbours_swapped(plain: Stream_) -> None:
    chance = random.Random(5)
    left = [s for s in plain if chance.random() > 0.05]
    for i in range(0, len(left) - 1, 2):
        if chance.random() < 0.05:
            left[i], left[i + 1] = left[i + 1], left[i]
    late = sum(b.t < a.t for a, b in pairwise(left))
    assert late > 100, "or the test is about nothing"
    events = run(left)
    assert {s.what for s in streams(events)} == {"late"}
    assert sum(s.count for s in streams(events)) == late
    found = laps(events)
    assert reasons(found) == {1: ("standing_start",), 2: (), 3: ()}
    assert_times(found, 1, 2, 3)


def test_duplicates_change_nothing(plain: Stream_) -> None:
    once = run(plain)
    twice = run([s for s in plain for _ in range(2)])
    assert [e for e in twice if e not in streams(twice, "duplicate")] == once
    assert sum(s.count for s in streams(twice)) == len(plain)


# a pause


def paused(stream: Stream_, where: int, seconds: float, clock: bool, flag: bool) -> Stream_:
    """The car held at `where` for `seconds`; the clock runs on or stands; the flag is sent or not."""
    held = stream[where - 1]
    count = round(seconds * RATE)
    still = [
        replace(held, t=round(held.t + (i + 1) * STEP, 4) if clock else held.t, paused=True if flag else None)
        for i in range(count)
    ]
    rest = stream[where:]
    first = [replace(s, paused=False if flag else None) for s in stream[:where]]
    after = [replace(s, paused=False if flag else None) for s in rest]
    return then([*first, *still], after)


@pytest.mark.parametrize("clock", [True, False], ids=["clock runs on", "clock stands"])
def test_a_pause_by_the_flag(plain: Stream_, clock: bool) -> None:
    where = at(plain, 2, 1100.0)
    events = run(paused(plain, where, 8.0, clock, flag=True))
    told_ = streams(events, "pause")
    assert [(s.start is not None, s.end is not None) for s in told_] == [(True, False), (True, True)]
    assert told_[1].start == told_[0].start
    assert told_[1].end is not None and told_[0].start is not None
    assert told_[1].end - told_[0].start == pytest.approx(8.0 if clock else STEP, abs=STEP + 0.001)
    assert streams(events, "teleport", "reset", "rewind", "gap") == []
    found = laps(events)
    assert reasons(found) == {1: ("standing_start",), 2: ("paused",), 3: ()}
    assert_times(found, 3)
    assert_broken(events, 1, 2)


def test_a_clock_that_jumps_on_with_the_car_in_its_place(plain: Stream_) -> None:
    where = at(plain, 2, 1100.0)
    events = run(then(plain[:where], plain[where:], silence=30.0))
    assert [s.what for s in streams(events)] == ["gap"]
    assert reasons(laps(events)) == {1: ("standing_start",), 2: ("gap",), 3: ()}
    assert_broken(events, 1, 2)


# the pits


def in_pits(stream: Stream_, begins: tuple[int, float], ends: tuple[int, float]) -> Stream_:
    low, high = at(stream, *begins), at(stream, *ends)
    return [replace(s, in_pit=low <= i < high) for i, s in enumerate(stream)]


def test_a_pit_lane_that_crosses_the_line(plain: Stream_) -> None:
    events = run(in_pits(plain, (2, 2200.0), (3, 150.0)))
    assert [s.lap for s in streams(events, "pit")] == [2, 3]
    found = laps(events)
    assert reasons(found) == {1: ("standing_start",), 2: ("pit", "in_lap"), 3: ("pit", "out_lap")}
    assert_times(found, 2, 3)
    assert_broken(events, 1, 2, 3)


def test_a_pit_lane_on_one_side_of_the_line(plain: Stream_) -> None:
    before = laps(run(in_pits(plain, (2, 2100.0), (2, 2400.0))))
    assert reasons(before) == {1: ("standing_start",), 2: ("pit", "out_lap", "in_lap"), 3: ()}
    behind = laps(run(in_pits(plain, (2, 50.0), (2, 400.0))))
    assert reasons(behind)[2] == ("pit", "out_lap", "in_lap")


# what a lap teaches


def test_the_best_clean_lap_is_the_reference(plain: Stream_) -> None:
    events, engine = run_through(plain)
    best = min((2, 3), key=lambda n: TRUTH[n])
    assert only(events, Reference)[-1].lap == best
    assert engine.session is not None and engine.session.best is not None
    assert engine.session.best.number == best
    assert engine.session.best.total == pytest.approx(TRUTH[best], abs=1e-4)


SPOILED: dict[str, dict[str, object]] = {
    "off_track": {"edge_left": -2.0},
    "cut": {"lap_valid": False},
    "spin": {"vx": -20.0, "vy": 3.0},
}


@pytest.mark.parametrize("why", SPOILED)
def test_a_whole_lap_that_was_spoiled_has_its_time_and_is_no_reference(plain: Stream_, why: str) -> None:
    stream = changed(plain, lambda s: True, lap_valid=True)
    best = min((2, 3), key=lambda n: TRUTH[n])
    low = at(plain, best, 900.0)
    stream[low : low + 10] = [replace(s, **SPOILED[why]) for s in stream[low : low + 10]]  # type: ignore[arg-type]
    events, engine = run_through(stream)
    found = laps(events)
    assert found[best].why_not == (why,)
    assert_times(found, 2, 3)
    assert_broken(events, 1, best)
    assert engine.session is not None and engine.session.best is not None
    assert engine.session.best.number == 5 - best


def test_a_fixed_reference_stays(plain: Stream_) -> None:
    events = run(plain, learned())
    references = only(events, Reference)
    assert [r.origin for r in references] == ["plain"]
    total = references[0].time
    for lap in laps(events).values():
        assert lap.reference_time == total
        assert lap.delta is not None and lap.time is not None
        assert abs(lap.delta - (lap.time - total)) < 1e-9


def test_a_lap_has_a_delta_and_a_ledger_only_where_there_is_a_reference(plain: Stream_) -> None:
    events = run(plain)
    found = laps(events)
    assert found[1].delta is None and found[2].delta is None
    assert found[3].delta == pytest.approx(TRUTH[3] - TRUTH[2], abs=CLOSE)
    assert [loss.lap for loss in only(events, Loss)] == [3]


def test_rolling_back_over_the_line_does_not_end_a_lap_twice(plain: Stream_) -> None:
    """Over it by 6 m, back by 12 m, and on: the lap began when it was first crossed."""
    line = at(plain, 2, 6.0)
    base = plain[line]
    assert base.lap_distance is not None and base.track_length is not None and base.x is not None
    length = base.track_length
    rolled, t = list(plain[:line]), base.t
    here = base.lap_distance
    for i in range(50):
        back = 12.0 * (1.0 - abs(1.0 - i / 25.0))
        t = round(t + STEP, 4)
        speed = -12.0 if i < 25 else 12.0
        rolled.append(
            replace(base, t=t, lap_distance=(here - back) % length, x=base.x - back, speed=abs(speed), vx=speed)
        )
    events = run(then(rolled, plain[line:]))
    found = laps(events)
    assert sorted(found) == [1, 2, 3]
    assert found[1].time == pytest.approx(TRUTH[1], abs=CLOSE)
    assert found[2].time == pytest.approx(TRUTH[2] + 51 * STEP, abs=0.01)
    assert streams(events) == []


def test_standing_on_the_line(plain: Stream_) -> None:
    """Ten seconds at rest with the nose just over it: one lap ends, once; the next starts from standing."""
    line = at(plain, 2, 0.0)
    still = [replace(plain[line], t=round(plain[line].t + STEP * (i + 1), 4), speed=0.0, vx=0.0) for i in range(250)]
    events = run(then([*plain[: line + 1], *still], plain[line + 1 :]))
    found = laps(events)
    assert reasons(found) == {1: ("standing_start",), 2: ("standing_start",), 3: ()}
    assert found[2].time == pytest.approx(TRUTH[2] + 10.0, abs=0.01)
    assert_times(found, 1, 3)


def test_where_the_car_is_is_said_at_every_kept_sample(plain: Stream_) -> None:
    engine = Engine(begin())
    for s in plain[:300]:
        moments = [event for event in engine.push(s) if isinstance(event, Moment)]
        assert [m.t for m in moments] == [s.t]
        assert moments[0].distance == s.lap_distance and moments[0].speed == s.speed


def test_nothing_is_judged_by_marks_on_a_lap_from_standing(plain: Stream_) -> None:
    events = run(plain[: at(plain, 2, 0.0) + 20], learned())
    assert [fault for fault in only(events, Fault) if fault.fault == "late_throttle"] == []
