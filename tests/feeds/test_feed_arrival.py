"""How datagrams arrive: jitter against RFC 3550's own formula, the rest against streams whose losses are known."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feeds.arrival import Arrival, ArrivalReport, Jitter


def arrived(packets: list[tuple[float, float | None]], size: int = 100) -> ArrivalReport:
    """Each packet is its time of arrival and its `t`."""
    arrival = Arrival()
    for received, t in packets:
        arrival.take(received, t, size)
    return arrival.report()


def steady(number: int, hz: float, delay: float = 0.0) -> list[tuple[float, float | None]]:
    return [(1000.0 + k / hz + delay, k / hz) for k in range(number)]


@pytest.mark.parametrize(
    ("packets", "expected"),
    [(1, 0.625), (2, 1.2109375), (5, 2.7580357), (10, 4.7553952), (16, 6.4392587), (50, 9.6032072), (100, 9.9842555)],
)
def test_jitter_of_a_constant_difference_is_the_series_of_rfc_3550(packets: int, expected: float) -> None:
    """RFC 3550, section 6.4.1: J += (|D| - J) / 16, so after n differences of 10 it is 10 (1 - (15/16)^n)."""
    jitter = Jitter()
    for number in range(packets + 1):
        jitter.take(10.0 * (number % 2))
    assert jitter.value == pytest.approx(expected, abs=5e-8)
    assert jitter.value == pytest.approx(10.0 * (1.0 - (15.0 / 16.0) ** packets), rel=1e-14)
    if packets <= 2:
        assert jitter.value == expected, "exact in binary"


def test_datagrams_by_turns_2_ms_early_and_late_have_a_jitter_of_4_ms() -> None:
    """|D| = 4 ms each time (RFC 3550, section 6.4.1)."""
    report = arrived([(1.0 + k / 60 + (0.002 if k % 2 else -0.002), k / 60) for k in range(400)])
    assert report.jitter == pytest.approx(0.004, abs=1e-9)
    assert report.worst_jitter == pytest.approx(0.004, abs=1e-9)
    assert 0.003 < report.mean_jitter < 0.004
    assert (report.lost, report.late, report.duplicates) == (0, 0, 0)


def rfc_3550_a_8(packets: list[tuple[float, float]]) -> float:
    """The appendix's code, in real numbers."""
    j = 0.0
    for (before, before_t), (received, t) in pairwise(packets):
        d = (received - t) - (before - before_t)
        j += (1.0 / 16.0) * (abs(d) - j)
    return j


DELAYS = st.lists(st.integers(0, 200), min_size=2, max_size=80)
"""1/1024 s: sums of them are exact in binary."""


@settings(max_examples=60)
@given(DELAYS, st.integers(-(2**30), 2**30))
def test_the_offset_of_the_clocks_does_not_matter(delays: list[int], offset: int) -> None:
    """RFC 3550, section 6.4.1: the difference of transit times cancels it; delays over a step change the order."""
    packets = [(k / 64 + delay / 1024, k / 64) for k, delay in enumerate(delays)]
    jitters = [
        arrived([(received + moved, t) for received, t in sorted(packets)]).jitter for moved in (0.0, float(offset))
    ]
    assert jitters[0] == jitters[1] == rfc_3550_a_8(sorted(packets))


@pytest.mark.parametrize("hz", [20.0, 60.0, 90.0, 144.0, 360.0])
@pytest.mark.parametrize("digits", [3, 9])
def test_loss_is_counted_where_the_source_is_steady(hz: float, digits: int) -> None:
    chance = random.Random(int(hz) + digits)
    packets = [(received, round(t or 0.0, digits)) for received, t in steady(5000, hz)]
    kept = [packet for k, packet in enumerate(packets) if k in (0, 4999) or chance.random() > 0.05]
    report = arrived(kept)
    assert report.lost == 5000 - len(kept)
    assert report.loss == pytest.approx(report.lost / 4999)
    assert report.step == pytest.approx(1 / hz, rel=1e-2 if digits == 3 else 1e-6)


def test_nothing_is_called_lost_where_the_source_is_not_steady() -> None:
    """A source that sends a datagram for each picture it draws, 12 to 50 ms apart."""
    chance, t, packets = random.Random(3), 0.0, []
    for _ in range(2000):
        packets.append((t, t))
        t += chance.uniform(0.012, 0.05)
    report = arrived(packets)
    assert report.lost is None and report.loss is None
    assert report.step is not None and report.rate == pytest.approx(1999 / packets[-1][0])


def test_a_source_whose_pace_wavers_a_little_has_lost_nothing() -> None:
    chance, t, packets = random.Random(4), 0.0, []
    for _ in range(3000):
        packets.append((t, t))
        t += chance.gauss(1 / 60, 0.001)
    assert arrived(packets).lost == 0


def test_a_change_of_pace_is_no_loss() -> None:
    packets = [(k / 60, k / 60) for k in range(1024)]
    packets += [(packets[-1][0] + k / 20, packets[-1][1] + k / 20) for k in range(1, 1024)]
    lost = arrived(packets).lost
    assert lost is not None and lost <= 2 * 256, "at most the batch in which it changed is misread"


def test_order_is_counted_as_the_contract_says() -> None:
    """Equal `t` is a duplicate, back by less than 1 s late, by 1 s or more a restart."""
    packets = steady(200, 50.0)
    swapped = [*packets[:100], packets[101], packets[100], *packets[102:]]
    report = arrived(swapped)
    assert (report.late, report.reordered, report.lost, report.duplicates) == (1, 1, 0, 0)
    repeated = [*packets[:100], packets[99], *packets[100:150], packets[100], *packets[150:]]
    report = arrived(repeated)
    assert (report.duplicates, report.late, report.reordered, report.lost) == (1, 1, 0, 0)
    again = [*packets, *[(received + 10.0, t) for received, t in packets]]
    report = arrived(again)
    assert (report.restarts, report.late, report.jumps, report.lost) == (1, 0, 0, 0)
    assert report.silence == pytest.approx(10.0 - 199 / 50)
    assert report.worst_jitter < 1e-9, "a restart is no jitter"


@pytest.mark.parametrize(("back", "restarts", "late"), [(1.0, 1, 0), (0.98, 0, 1)])
def test_a_whole_second_back_is_a_restart(back: float, restarts: int, late: int) -> None:
    report = arrived([(k / 50, 12.3 + k / 50) for k in range(100)] + [(2.0, 12.3 + 99 / 50 - back)])
    assert (report.restarts, report.late) == (restarts, late)


def test_a_jump_ahead_is_neither_loss_nor_jitter() -> None:
    packets = steady(200, 50.0)
    report = arrived([*packets, *[(received + 4.0, (t or 0.0) + 60.0) for received, t in packets]])
    assert (report.jumps, report.lost) == (1, 0)
    assert report.worst_jitter < 1e-9


def test_a_pause_in_which_the_clock_stands_is_neither_loss_nor_jitter() -> None:
    packets = steady(200, 50.0)
    received, t = packets[-1]
    paused = [(received + k / 50, t) for k in range(1, 500)]
    after = [(received + (500 + k) / 50, (t or 0.0) + (1 + k) / 50) for k in range(200)]
    report = arrived([*packets, *paused, *after])
    assert (report.duplicates, report.lost, report.late) == (499, 0, 0)
    assert report.stood == pytest.approx(499 / 50)
    assert report.pace == pytest.approx(1.0), "in a pause it has none"
    report = arrived([*packets, *after])
    assert (report.duplicates, report.lost, report.silence) == (0, 0, pytest.approx(500 / 50))
    assert report.pace == pytest.approx(1.0) and report.worst_jitter < 1e-9, "nothing was sent in the pause"
    assert report.worst_jitter < 1e-9


@pytest.mark.parametrize("pace", [0.25, 1.0, 8.0])
def test_the_pace_of_the_source_shows(pace: float) -> None:
    packets = steady(200, 50.0)
    again = [(received + 30.0, (t or 0.0) + 500.0) for received, t in packets]
    report = arrived([(received / pace, t) for received, t in packets + again])
    assert report.pace == pytest.approx(pace)


def test_rates_sizes_and_silence() -> None:
    arrival = Arrival()
    for k in range(101):
        arrival.take(50.0 + k / 50, k / 50 if k % 2 else None, 300 if k % 4 else 1200)
    arrival.take(57.0, None, 10)
    report = arrival.report()
    assert (report.datagrams, report.samples) == (102, 50)
    assert report.span == 7.0 and report.rate == pytest.approx(101 / 7.0)
    assert report.silence == pytest.approx(5.0)
    assert (report.smallest, report.largest, report.usual_size, report.sizes) == (10, 1200, 300, 3)
    assert report.step == pytest.approx(0.04)


def test_nothing_and_one_datagram_have_a_report_too() -> None:
    report = Arrival().report()
    assert (report.datagrams, report.rate, report.lost, report.jitter, report.usual_size) == (0, None, None, 0.0, 0)
    report = arrived([(5.0, 1.0)])
    assert (report.datagrams, report.samples, report.span, report.rate, report.step) == (1, 1, 0.0, None, None)


@settings(max_examples=60)
@given(
    st.lists(st.tuples(st.floats(0.0, 10.0), st.one_of(st.none(), st.floats()), st.integers(0, 65_507)), max_size=80)
)
def test_whatever_comes_the_counts_add_up(packets: list[tuple[float, float | None, int]]) -> None:
    arrival, now = Arrival(), 0.0
    for wait, t, size in packets:
        now += wait
        arrival.take(now, t, size)
    report = arrival.report()
    assert report.datagrams == len(packets) >= report.samples
    assert report.samples >= report.duplicates + report.late + report.restarts + report.jumps
    assert report.late >= report.reordered
    assert report.loss is None or 0.0 <= report.loss < 1.0
    assert 0.0 <= report.silence <= report.span + 1e-9
    assert report == arrival.report(), "to ask changes nothing"
