"""Layouts made at random: packets packed by `struct` alone decode to what was packed; any bytes do no harm."""

from __future__ import annotations

import math
import struct
from dataclasses import fields
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from layout.test_layout_file import GOOD

from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import Sample
from feeds.channels import LARGEST
from feeds.layout import LayoutFeed, layout_from_text, layout_of, layout_text

CODES = {
    **{"u8": "B", "u16": "H", "u32": "I", "u64": "Q", "i8": "b", "i16": "h", "i32": "i", "i64": "q"},
    **{"f16": "e", "f32": "f", "f64": "d"},
}
NUMBERS = (
    "lap_time",
    "lap_distance",
    "x",
    "y",
    "z",
    "speed",
    "ax",
    "ay",
    "engine_speed",
    "fuel",
    "edge_left",
    "air_temp",
)
LENGTH = 200


@st.composite
def cases(draw: st.DrawFn) -> tuple[dict[str, Any], bytes, dict[str, float]]:
    """A layout as plain values, a packet of it, and the values that its channels have."""
    names = draw(st.lists(st.sampled_from(NUMBERS), unique=True, max_size=len(NUMBERS)))
    data = bytearray(draw(st.binary(min_size=LENGTH, max_size=LENGTH)))
    channels: dict[str, Any] = {}
    values: dict[str, float] = {}
    place = draw(st.integers(0, 20))
    for name in ["t", *draw(st.permutations(names))]:
        type_ = draw(st.sampled_from(list(CODES)))
        order = draw(st.sampled_from(["little", "big"]))
        code = ("<" if order == "little" else ">") + CODES[type_]
        size = struct.calcsize(code)
        if type_[0] == "f":
            raw: float = draw(st.floats(-60000.0, 60000.0, width=16))
        else:
            bits = min(8 * size, 38)
            raw = draw(
                st.integers(0, 2**bits - 1) if type_[0] == "u" else st.integers(-(2 ** (bits - 1)), 2 ** (bits - 1) - 1)
            )
        struct.pack_into(code, data, place, raw)
        scale = draw(st.sampled_from([1.0, -1.0, 0.5, 0.001]))
        bias = draw(st.sampled_from([0.0, 0.0, -3.0, 7.25]))
        channels[name] = {"offset": place, "type": type_, "byte_order": order, "scale": scale, "bias": bias}
        values[name] = raw * scale + bias
        place += size + draw(st.integers(0, 3))
    packet = {"name": "all", "length": LENGTH, "channels": channels}
    return {"layout": 1, "packet": [packet]}, bytes(data), values


@settings(max_examples=60)
@given(cases())
def test_what_was_packed_is_decoded(case: tuple[dict[str, Any], bytes, dict[str, float]]) -> None:
    plain, data, values = case
    layout = layout_of(plain)
    feed = LayoutFeed(layout)
    assert feed.decode(data) == Sample(**values)
    assert feed.left_out.total == 0
    assert layout_from_text(layout_text(layout).encode()) == layout == layout_of(layout.to_json())
    again = LayoutFeed(layout_from_text(layout_text(layout).encode()))
    assert again.decode(data) == Sample(**values)


ONE_KIND = """layout = 1
[[packet]]
name = "all"
length = [60, 80]
[packet.channels]
t = { offset = 0, type = "f32" }
speed = { offset = 4, type = "f16", convert = "mph", absent = -1 }
throttle = { offset = 6, type = "f32" }
brake = { offset = 10, type = "i16", convert = "0..65535" }
gear = { offset = 12, type = "f32" }
lap = { offset = 16, type = "u64" }
yaw = { offset = 24, type = "f64", convert = "degrees", zero = "north" }
velocity = { offset = 30, type = "f32", axes = "east south up" }
wheel_speed = { offset = 26, type = "f32", radius = 0.3, order = ["FR", "FL", "RR", "RL"] }
tyre_pressure = { offset = 40, type = "f32" }
tyre_temp = { offset = 30, type = "i16", convert = "kelvin" }
on_track = { offset = 12, type = "u8" }
in_pit = { offset = 13, type = "i64", bit = 63 }
assist_abs = { offset = 14, type = "f32" }
track = { offset = 30, type = "text", length = 30 }
car = { offset = 30, type = "text", length = 29, encoding = "utf-16" }
session_kind = { offset = 50, type = "i8", names = { 1 = "race" } }
beside = { offset = 50, type = "u8", names = { 0 = "", 1 = "left" } }
fuel = { constant = 3 }
"""
FEEDS = [layout_from_text(text.encode()) for text in (ONE_KIND, GOOD)]


def check(value: object) -> None:
    """What a sample promises: finite numbers under 1e12, text that can be shown, tuples of them, none with holes."""
    if isinstance(value, tuple):
        for item in value:
            assert item is not None
            check(item)
    elif isinstance(value, str):
        assert value.isprintable()
    elif value is not None:
        assert isinstance(value, (int, float))
        assert math.isfinite(value)
        assert abs(value) <= LARGEST


def check_sample(sample: Sample) -> None:
    for entry in fields(sample):
        check(getattr(sample, entry.name))
    for share in (sample.throttle, sample.brake):
        assert share is None or 0.0 <= share <= 1.0
    assert sample.gear is None or (type(sample.gear) is int and sample.gear >= -1)


some = st.binary(min_size=60, max_size=80) | st.binary(max_size=90)
motion = st.binary(min_size=298, max_size=298).map(lambda data: b"CW\xc3\xa9" + data[:2] + b"\x03" + data[2:])
cars = st.binary(min_size=500, max_size=500).map(lambda data: data[:16] + b"\x00" + data[17:])


@settings(max_examples=100)
@given(st.lists(some | motion | cars, max_size=6), st.sampled_from(FEEDS))
def test_any_bytes_give_a_sample_none_or_the_one_error(packets: list[bytes], layout: Any) -> None:
    feed = LayoutFeed(layout)
    for data in packets:
        try:
            sample = feed.decode(data, 5.0)
        except FormatError as error:
            assert error.cause in ("no packet of the layout", "no t")
            assert str(error).isprintable()
            continue
        if sample is not None:
            check_sample(sample)
        if layout is FEEDS[0]:
            fresh = LayoutFeed(layout)
            assert sample == fresh.decode(data), "what came before has changed it"
    for line in feed.left_out.lines(0.0):
        assert line.isprintable()
        assert len(line) < 200


@settings(max_examples=60)
@given(st.binary(min_size=72, max_size=72))
def test_the_quick_way_and_the_patient_one_agree(data: bytes) -> None:
    """One NaN sends the packet the patient way; all other channels stay as they are."""
    text = ONE_KIND.replace("[60, 80]", "[60, 90]") + 'air_temp = { offset = 56, type = "f32" }\n'
    feed = LayoutFeed(layout_from_text(text.encode()))
    fine, spoilt = bytearray(data), bytearray(data)
    struct.pack_into("<f", fine, 56, 21.0)
    struct.pack_into("<f", spoilt, 56, float("nan"))
    outcomes = []
    for packet in (fine, spoilt):
        try:
            sample = feed.decode(bytes(packet))
        except FormatError as error:
            outcomes.append(error.cause)
            continue
        assert sample is not None
        sample.air_temp = None
        # bytes 56 to 59 are the end of these
        sample.tyre_pressure = sample.track = sample.car = None
        outcomes.append(repr(sample))
    assert outcomes[0].replace("-0.0,", "0.0,") == outcomes[1].replace("-0.0,", "0.0,")
