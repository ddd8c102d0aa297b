"""The finder's parts on small cases with known answers."""

from __future__ import annotations

import struct

import numpy as np
import pytest

from feeds.base import Datagram
from feeds.finder import find
from feeds.finder.columns import column_of, numbers
from feeds.finder.evidence import nearest
from feeds.finder.fields import CODES, Field
from feeds.finder.kinds import records
from feeds.finder.signals import leads, mean_over, same, slope

TYPES = {"u8": "B", "i8": "b", "u16": "H", "i16": "h", "u32": "I", "i32": "i", "f32": "f", "f64": "d", "u64": "Q"}
"""The characters of `struct` (the standard library's table)."""


@pytest.mark.parametrize("big", [False, True])
@pytest.mark.parametrize("type_", list(CODES))
def test_a_field_reads_what_struct_packed(type_: str, big: bool) -> None:
    value = -3.5 if type_[0] == "f" else -3 if type_[0] == "i" else 200
    data = b"\x11\x22\x33" + struct.pack((">" if big else "<") + TYPES[type_], value) + b"\x44"
    rows = np.frombuffer(data * 2, dtype=np.uint8).reshape(2, -1)
    assert Field(3, type_, big, scale=2.0, bias=1.0).read(rows).tolist() == [2.0 * value + 1.0] * 2
    assert numbers(rows, type_, big)[:, 3].tolist() == [value] * 2


def test_packets_of_unlike_length_are_of_unlike_kind() -> None:
    packets = [Datagram(i / 60, bytes([i % 256]) * length) for i in range(100) for length in (40, 24)]
    assert sorted(record.kind.length for record in records(packets)) == [24, 40]
    assert all(len(record.rows) == 100 for record in records(packets))


def test_a_kind_byte_tells_packets_of_one_length() -> None:
    chance = np.random.default_rng(1)
    contents = {3: chance.bytes(28), 5: chance.bytes(28)}
    packets = [
        Datagram(i / 60, struct.pack("<HB", 0x5743, kind) + struct.pack("<f", i * 0.1) + contents[kind])
        for i in range(200)
        for kind in (3, 5)
    ]
    found = records(packets)
    assert sorted(record.kind.marks for record in found) == [((2, 3),), ((2, 5),)]
    assert [record.kind.count for record in found] == [200, 200]


def test_noise_in_a_byte_does_not_split_a_kind() -> None:
    chance = np.random.default_rng(2)
    packets = [
        Datagram(i / 60, bytes([int(chance.integers(0, 4))]) + struct.pack("<5f", *walk))
        for i, walk in enumerate(np.cumsum(chance.normal(0.0, 1.0, (400, 5)), axis=0))
    ]
    assert [record.kind.marks for record in records(packets)] == [()]


def test_a_late_copy_and_a_smoothed_one_follow() -> None:
    t = np.arange(0.0, 20.0, 0.02)
    pedal = np.clip(2.0 * np.sin(t) ** 3, 0.0, 1.0)
    smoothed, kept = np.empty_like(pedal), 0.0
    for i, value in enumerate(pedal.tolist()):
        kept += (value - kept) * 0.15
        smoothed[i] = kept
    assert leads(pedal, np.concatenate([pedal[:3], pedal[:-3]])) > 0.9
    assert leads(pedal, smoothed) > 0.5
    assert leads(smoothed, pedal) < -0.5
    assert abs(leads(pedal, pedal**2)) < 0.3
    assert same(pedal, pedal + 0.004) and not same(pedal, smoothed)


def test_slope_and_mean_of_a_parabola() -> None:
    t = np.arange(0.0, 2.0, 0.01)
    inside = slice(10, -10)
    assert slope(t**2, t, 4)[inside] == pytest.approx(2.0 * t[inside])
    # The mean of t^2 over t +- h is t^2 + h^2 / 3.
    assert mean_over(t**2, t, 4)[inside] == pytest.approx(t[inside] ** 2 + 0.04**2 / 3.0, rel=2e-3)


def test_nearest_in_time() -> None:
    times = np.array([0.0, 1.0, 2.0])
    assert nearest(times, np.array([-1.0, 0.4, 0.6, 1.5, 9.0])).tolist() == [0, 0, 1, 1, 2]
    assert nearest(np.array([5.0]), np.array([1.0, 9.0])).tolist() == [0, 0]


def test_a_constant_is_no_column() -> None:
    place = Field(0, "f32", False)
    assert column_of(place, np.full(100, 3.0)) is None
    assert column_of(place, np.full(100, np.nan)) is None


@pytest.mark.parametrize(
    ("layout", "scale", "first", "per"),
    [("<f", 1.0, 5.0, 1 / 60), (">d", 1.0, 0.0, 1 / 60), ("<I", 1e-3, 250, 1000 / 60), (">Q", 1e-6, 10**9, 1e6 / 60)],
)
def test_a_clock_is_found_in_its_unit(layout: str, scale: float, first: float, per: float) -> None:
    chance = np.random.default_rng(3)
    packets = []
    for i in range(600):
        value = first + i * per
        number = value if layout[1] in "fd" else round(value)
        data = bytes(chance.integers(0, 256, 5, dtype=np.uint8)) + struct.pack(layout, number) + b"\x07\x00\x00"
        packets.append(Datagram(100.0 + i / 60 + float(chance.exponential(1e-3)), data))
    clock = find(packets).fields["t"]
    assert (clock.offset, clock.scale, clock.big) == (5, pytest.approx(scale), layout[0] == ">")


def test_a_frame_counter_serves_as_a_clock() -> None:
    packets = [Datagram(3.0 + i / 50, struct.pack("<4xI", 77 + i)) for i in range(600)]
    found = find(packets)
    assert found.fields["t"].scale == pytest.approx(1 / 50)
    assert "50 a second" in next(one.unit for one in found.found if one.channel == "t")
