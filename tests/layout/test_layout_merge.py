"""Several kinds of packet in one stream: what belongs together, what holds, what must never come through."""

from __future__ import annotations

import struct
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import Sample
from feeds.layout import LayoutFeed, layout_from_text

TEXT = """
layout = 1
hold = 2.0
[[packet]]
name = "motion"
length = 20
match = [{ offset = 0, type = "u8", is = 1 }]
closes = true
[packet.channels]
t = { offset = 4, type = "f64" }
speed = { offset = 12, type = "f32" }
[[packet]]
name = "pedals"
length = 20
match = [{ offset = 0, type = "u8", is = 2 }]
[packet.channels]
t = { offset = 4, type = "f64" }
throttle = { offset = 12, type = "f32" }
[[packet]]
name = "session"
length = [8, 20]
match = [{ offset = 0, type = "u8", is = 3 }]
hold = 10
[packet.channels]
setup = { offset = 1, type = "text", length = 4 }
tyre_pressure = { offset = 4, type = "u8" }
[[packet]]
name = "chat"
length = 20
match = [{ offset = 0, type = "u8", is = 4 }]
"""
LAYOUT = layout_from_text(TEXT.encode())


def motion(t: float, speed: float = 1.0) -> bytes:
    return struct.pack("<B3xdf4x", 1, t, speed)


def pedals(t: float, throttle: float = 0.5) -> bytes:
    return struct.pack("<B3xdf4x", 2, t, throttle)


def session(setup: bytes = b"Ring") -> bytes:
    return struct.pack("<B4s4x", 3, setup)


def fed(*packets: bytes) -> list[Sample]:
    feed = LayoutFeed(LAYOUT)
    samples = [feed.decode(data) for data in packets]
    assert feed.left_out.total == 0
    return [sample for sample in samples if sample is not None]


def test_the_closing_kind_makes_the_sample_of_its_time() -> None:
    first, second = fed(pedals(1.0, 0.25), motion(1.0, 10.0), pedals(1.1, 0.75), motion(1.1, 11.0))
    assert (first.t, first.speed, first.throttle) == (1.0, 10.0, 0.25)
    assert (second.t, second.speed, second.throttle) == (1.1, 11.0, 0.75)


def test_other_kinds_give_none_and_are_no_error() -> None:
    feed = LayoutFeed(LAYOUT)
    assert [feed.decode(data) for data in (pedals(1.0), session(), bytes([4]) + bytes(19))] == [None] * 3
    with pytest.raises(FormatError) as caught:
        feed.decode(bytes([5]) + bytes(19))
    assert caught.value.cause == "no packet of the layout"


def test_values_hold_for_two_seconds_and_not_longer() -> None:
    samples = fed(pedals(1.0, 0.25), motion(1.0), motion(3.0), motion(3.001))
    assert [sample.throttle for sample in samples] == [0.25, 0.25, None]


def test_a_kind_has_a_hold_of_its_own_and_may_have_no_time() -> None:
    samples = fed(session(b"lost"), motion(1.0), session(), motion(10.9), motion(11.1))
    assert [sample.setup for sample in samples] == [None, "Ring", None]
    assert [sample.tyre_pressure is None for sample in samples] == [True, False, True]


def test_a_later_packet_that_came_early_is_not_used_for_the_frame_before() -> None:
    samples = fed(pedals(1.0, 0.25), pedals(1.1, 0.75), motion(1.0), motion(1.1))
    assert [sample.throttle for sample in samples] == [0.25, 0.75]


def test_a_packet_that_came_late_does_not_replace_a_newer_one() -> None:
    samples = fed(pedals(1.1, 0.75), pedals(1.0, 0.25), motion(1.1), motion(1.2))
    assert [sample.throttle for sample in samples] == [0.75, 0.75]


def test_a_packet_that_came_late_is_still_in_time_for_its_own_frame() -> None:
    samples = fed(pedals(1.0, 0.125), pedals(1.2, 0.75), pedals(1.1, 0.25), motion(1.1), motion(1.2))
    assert [sample.throttle for sample in samples] == [0.25, 0.75]


def test_a_lost_closing_packet_costs_one_sample() -> None:
    samples = fed(pedals(1.0, 0.25), pedals(1.1, 0.5), pedals(1.2, 0.75), motion(1.2))
    assert [(sample.t, sample.throttle) for sample in samples] == [(1.2, 0.75)]


@pytest.mark.parametrize("back", [1.0, 5.0, 60.0])
def test_nothing_from_before_a_rewind_is_in_a_sample_after_it(back: float) -> None:
    t = 60.0
    before = (session(), pedals(t, 0.25), motion(t))
    for first in (motion(t - back), pedals(t - back, 0.75)):
        samples = fed(*before, first, motion(t - back + 0.1))
        assert samples[0].throttle == 0.25
        assert [sample.throttle for sample in samples[1:]] == [None, None] if len(samples) == 3 else [0.75]
        assert [sample.setup for sample in samples[1:]] == [None] * (len(samples) - 1)


def test_a_packet_of_the_old_run_that_comes_after_the_rewind_does_not_leak() -> None:
    samples = fed(pedals(60.0, 0.25), motion(60.0), motion(0.0), pedals(59.9, 0.25), motion(0.1), motion(0.2))
    assert [sample.throttle for sample in samples] == [0.25, None, None, None]


def test_a_packet_a_little_late_is_no_rewind() -> None:
    samples = fed(pedals(1.5, 0.25), motion(1.5), motion(0.6), motion(1.6))
    assert [(sample.t, sample.throttle) for sample in samples] == [(1.5, 0.25), (0.6, None), (1.6, 0.25)]


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_any_order_within_a_frame_gives_that_frames_values_or_older_ones(order: tuple[int, ...]) -> None:
    frame = [motion(2.0, 20.0), pedals(2.0, 0.75), session(b"Ring")]
    last = fed(pedals(1.9, 0.25), motion(1.9), session(b"Ring"), *(frame[place] for place in order))[-1]
    assert last.throttle == (0.75 if order.index(1) < order.index(0) else 0.25)
    assert (last.t, last.speed, last.setup) == (2.0, 20.0, "Ring")


def test_without_a_word_the_last_kind_with_a_time_closes() -> None:
    layout = layout_from_text(TEXT.replace("closes = true", "").encode())
    assert layout.closing.name == "pedals"
    feed = LayoutFeed(layout)
    assert feed.decode(motion(1.0, 9.0)) is None
    assert feed.decode(pedals(1.0, 0.5)) == Sample(1.0, speed=9.0, throttle=0.5)


def test_without_a_time_of_the_source_kinds_merge_by_their_arrival() -> None:
    text = TEXT.replace("hold = 2.0", 'hold = 2.0\nclock = "received"').replace('t = { offset = 4, type = "f64" }', "")
    feed = LayoutFeed(layout_from_text(text.encode()))
    assert feed.decode(pedals(0.0, 0.25), 100.0) is None
    assert feed.decode(motion(0.0, 9.0), 100.01) == Sample(100.01, speed=9.0, throttle=0.25)
    assert feed.decode(motion(0.0, 9.0), 102.5) == Sample(102.5, speed=9.0)


frames = st.lists(st.sampled_from([motion, pedals]), min_size=1, max_size=4)
streams = st.lists(st.tuples(st.integers(0, 400), st.sampled_from("mps")), max_size=40)


@settings(max_examples=60)
@given(streams)
def test_a_value_is_never_of_the_future_nor_older_than_it_may_be(stream: list[tuple[int, str]]) -> None:
    """Any order, loss, duplicates, jumps: the throttle says when it was sent, 400 hundredths of a second being 1."""
    feed = LayoutFeed(LAYOUT)
    run: list[int] = []
    latest = None
    for tick, what in stream:
        t = tick / 100.0
        if what == "s":
            assert feed.decode(session()) is None
            continue
        if latest is not None and t <= latest - 1.0:
            run, latest = [], None
        latest = t if latest is None else max(latest, t)
        if what == "p":
            run.append(tick)
            assert feed.decode(pedals(t, tick / 400.0)) is None
            continue
        sample = feed.decode(motion(t, 5.0))
        assert sample is not None
        assert (sample.t, sample.speed) == (t, 5.0)
        if sample.throttle is not None:
            sent = round(sample.throttle * 400.0)
            assert sent in run, "a value of another run"
            assert 0 <= tick - sent <= 200
        if run and run[-1] == tick:
            assert sample.throttle == pytest.approx(t / 4.0)


@settings(max_examples=30)
@given(st.integers(2, 30), st.sets(st.integers(0, 60)), st.sets(st.integers(0, 60)))
def test_loss_and_duplicates_cost_no_more_than_themselves(count: int, lost: set[int], twice: set[int]) -> None:
    packets = [packet for tick in range(count) for packet in (pedals(tick / 10, tick / 400), motion(tick / 10, tick))]
    kept = [packet for place, packet in enumerate(packets) if place not in lost for _ in range(1 + (place in twice))]
    samples = fed(*kept)
    expected = [tick for tick in range(count) for _ in range(1 + (2 * tick + 1 in twice)) if 2 * tick + 1 not in lost]
    assert [sample.speed for sample in samples] == expected
    for sample in samples:
        known = [tick for tick in range(count) if 2 * tick not in lost and 0 <= sample.t - tick / 10 <= 2.0 + 1e-9]
        assert sample.throttle == (None if not known else pytest.approx(max(known) / 400))


NAMED = layout_from_text(TEXT.replace("setup =", "track =").encode())


def test_a_stream_begins_with_its_names() -> None:
    feed = LayoutFeed(NAMED)
    assert [feed.decode(motion(t)) for t in (0.0, 1.0, 2.0)] == [None] * 3
    assert feed.decode(session()) is None
    assert [(sample.t, sample.track) for sample in map(feed.decode, [motion(3.0)]) if sample] == [(3.0, "Ring")]


def test_names_that_do_not_come_are_waited_for_no_longer_than_five_seconds() -> None:
    feed = LayoutFeed(NAMED)
    samples = [feed.decode(motion(t / 2)) for t in range(1200, 1220)]
    assert [sample.t for sample in samples if sample is not None] == [t / 2 for t in range(1210, 1220)]
    assert all(sample is not None for sample in map(feed.decode, map(motion, (0.0, 1.0))))  # a new run waits no more


def test_a_rewind_while_names_are_waited_for_begins_the_wait_anew() -> None:
    feed = LayoutFeed(NAMED)
    times = [100.0, 104.0, 0.0, 4.5, 5.0]
    assert [feed.decode(motion(t)) is None for t in times] == [True, True, True, True, False]
