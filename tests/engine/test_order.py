"""Order and jumps, as the contract has them: duplicates, late datagrams, gaps, new runs."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from coach.engine.order import GAP, Order, Verdict
from coach.vocabulary.events import Stream
from coach.vocabulary.sample import Sample


def judged(clock: Iterable[float | tuple[float, int | None]]) -> tuple[list[Verdict], list[Stream]]:
    """The verdict on each `t` or (`t`, `lap`), and all events."""
    order, verdicts, events = Order(), [], []
    for moment in clock:
        t, lap = moment if isinstance(moment, tuple) else (moment, None)
        verdict, told = order.judge(Sample(t, lap=lap), 7)
        verdicts.append(verdict)
        events += told
    events += order.flush(7)
    assert all(isinstance(event, Stream) and event.lap == 7 for event in events)
    return verdicts, events  # type: ignore[return-value]


def steady(rate: float, count: int, begins: float = 0.0) -> list[float]:
    return [round(begins + i / rate, 4) for i in range(count)]


def test_the_first_sample_begins_a_run_and_a_steady_stream_says_nothing() -> None:
    verdicts, events = judged(steady(50.0, 500))
    assert verdicts[0] == Verdict(True, new_run=True)
    assert all(v.keep and not v.new_run and not v.gap for v in verdicts[1:])
    assert verdicts[-1].step == pytest.approx(0.02)
    assert events == []


def test_an_equal_time_is_a_duplicate() -> None:
    verdicts, events = judged([0.0, 0.02, 0.02, 0.04])
    assert [v.keep for v in verdicts] == [True, True, False, True]
    assert [(e.what, e.start, e.end, e.count) for e in events] == [("duplicate", 0.02, 0.02, 1)]


@pytest.mark.parametrize("back", [0.001, 0.02, 0.5, 0.999])
def test_a_time_back_by_less_than_a_second_is_late(back: float) -> None:
    verdicts, events = judged([5.0, 5.0 - back, 5.02])
    assert [v.keep for v in verdicts] == [True, False, True]
    assert not verdicts[2].new_run and verdicts[2].step == pytest.approx(0.02)
    assert [(e.what, e.start, e.count) for e in events] == [("late", 5.0 - back, 1)]


@pytest.mark.parametrize("before", [2.0, 2.3, 12.3, 4097.1, 86_400.7])
def test_a_time_back_by_a_second_is_a_new_run_whatever_the_floats(before: float) -> None:
    after = round(before - 1.0, 4)
    verdicts, events = judged([before, after])
    assert verdicts[1] == Verdict(True, new_run=True)
    assert [(e.what, e.start, e.end, e.t) for e in events] == [("rewind", before, after, after)]


def test_a_falling_lap_is_a_new_run() -> None:
    verdicts, events = judged([(1.0, 3), (1.02, 3), (1.04, 1), (1.06, 1), (1.08, 2)])
    assert [v.new_run for v in verdicts] == [True, False, True, False, False]
    assert [(e.what, e.start, e.end) for e in events] == [("reset", 1.02, 1.04)]


def test_a_lap_that_is_absent_for_a_while_is_compared_with_the_last_one_sent() -> None:
    verdicts, events = judged([(1.0, 3), (1.02, None), (1.04, 2)])
    assert [v.new_run for v in verdicts] == [True, False, True]
    assert [e.what for e in events] == ["reset"]


def test_the_lap_of_a_dropped_datagram_does_not_count() -> None:
    verdicts, events = judged([(1.0, 3), (1.02, 4), (1.01, 3), (1.02, 2), (1.04, 4)])
    assert [v.keep for v in verdicts] == [True, True, False, False, True]
    assert {e.what for e in events} == {"late", "duplicate"}


def test_a_rewind_forgets_the_lap_of_the_run_before() -> None:
    verdicts, events = judged([(50.0, 6), (40.0, None), (40.02, 2)])
    assert [v.new_run for v in verdicts] == [True, True, False]
    assert [e.what for e in events] == ["rewind"]


def test_drops_are_told_at_once_then_at_most_every_ten_seconds_and_all_are_counted() -> None:
    clock: list[float] = []
    for t in steady(50.0, 50 * 35):
        clock += [t, t]  # each datagram twice
    _, events = judged(clock)
    assert {e.what for e in events} == {"duplicate"}
    assert sum(e.count for e in events) == len(clock) // 2
    assert events[0].t == 0.0 and events[0].count == 1
    times = [e.t for e in events]
    assert times[:4] == pytest.approx([0.0, 10.0, 20.0, 30.0])
    assert len(events) == 5, "the rest is told when the stream ends"
    assert events[1].start == pytest.approx(0.02) and events[1].end == pytest.approx(10.0)


def test_late_and_duplicate_datagrams_are_told_apart() -> None:
    _, events = judged([1.0, 1.02, 1.02, 1.01, 1.04, 1.04, 1.03])
    assert {(e.what, e.count) for e in events} == {("duplicate", 1), ("late", 1)}
    assert sum(e.count for e in events if e.what == "late") == 2
    assert sum(e.count for e in events if e.what == "duplicate") == 2


def test_drops_that_wait_to_be_told_are_told_before_a_rewind() -> None:
    _, events = judged([5.0, 5.0, 5.02, 5.02, 3.0])
    assert [(e.what, e.count) for e in events] == [("duplicate", 1), ("duplicate", 1), ("rewind", 1)]


@pytest.mark.parametrize(
    ("rate", "silence", "is_gap"),
    [
        (50.0, 0.1, False),
        (50.0, 0.18, False),
        (50.0, 0.2, True),
        (50.0, 0.3, True),
        (50.0, 2.0, True),
        (360.0, 0.2, True),
        (20.0, 0.15, False),
        (20.0, 0.2, True),
        (10.0, 0.3, False),
        (10.0, 0.4, True),
    ],
)
def test_a_silence_is_a_gap_from_a_fifth_of_a_second_and_four_usual_steps(
    rate: float, silence: float, is_gap: bool
) -> None:
    before = steady(rate, 300)
    after = steady(rate, 100, before[-1] + silence)
    verdicts, events = judged(before + after)
    assert [i for i, v in enumerate(verdicts) if v.gap] == ([300] if is_gap else [])
    assert [(e.what, e.start, e.end) for e in events] == ([("gap", before[-1], after[0])] if is_gap else [])


@pytest.mark.parametrize("rate", [2.0, 4.0])
def test_a_slow_source_is_not_all_gaps(rate: float) -> None:
    verdicts, events = judged(steady(rate, 200))
    assert not any(v.gap for v in verdicts) and events == []


def test_a_source_that_goes_slow_is_gaps_only_until_its_pace_is_learned() -> None:
    fast = steady(50.0, 200)
    verdicts, _ = judged(fast + steady(4.0, 200, fast[-1] + 0.25))
    gaps = [i for i, v in enumerate(verdicts) if v.gap]
    assert 0 < len(gaps) < 40
    assert max(gaps) < 250


def test_the_length_of_a_gap_is_under_a_late_datagrams_second() -> None:
    assert GAP < 1.0
