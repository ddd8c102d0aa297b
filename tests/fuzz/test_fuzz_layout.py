"""Layout files and the packets they read: any text is a layout or one FormatError, any bytes samples or one."""

from __future__ import annotations

import math
import tomllib
from dataclasses import astuple
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import Sample
from feeds.channels import LARGEST
from feeds.layout import LayoutFeed, layout_from_text, layout_of, layout_text

EXAMPLE = b"""layout = 1
name = "rig"
byte_order = "big"
hold = 3
[[packet]]
name = "motion"
length = [110, 400]
match = [{ offset = 0, bytes = "43 57" }, { offset = 6, type = "u8", is = [3, 4] }]
closes = true
[packet.channels]
t = { offset = 8, type = "f32" }
speed = { offset = 12, type = "f32", convert = "km/h", absent = -1 }
gear = { offset = 20, type = "u8", bias = -1 }
throttle = { offset = 21, type = "u8", convert = "0..255" }
yaw = { offset = 24, type = "f32", positive = "right", zero = "north" }
velocity = { offset = 32, type = "f16", axes = "east up north" }
wheel_speed = { offset = [50, 54, 62, 58], type = "f32", radius = [0.33, 0.34] }
tyre_temp = { offset = 70, type = "i8", across = ["left", "mid", "right"], order = ["RL", "RR", "FL", "FR"] }
on_track = { offset = 30, type = "u8", bit = 3, inverted = true }
assist_abs = { offset = 30, type = "u64", bit = 60 }
track = { offset = 84, type = "text", length = 24, encoding = "utf-16" }
session_kind = { offset = 39, type = "u8", names = { 1 = "practice", 2 = "race" } }
car_width = { constant = 1.94 }
[[packet]]
name = "cars"
length = 100
[packet.channels]
t = { offset = 8, type = "f64" }
[packet.cars]
offset = 20
stride = 10
index = { offset = 16, type = "i16" }
[packet.cars.channels]
lap = { offset = 4, type = "f32" }
"""
MOTION = b"CW\0\0\0\0\x03\0" + bytes(range(120))
CARS = bytes(100)
LAYOUT = layout_from_text(EXAMPLE)


def check_file(data: bytes) -> None:
    """A layout, which reads back the same from what is written of it and which compiles, or one FormatError."""
    try:
        layout = layout_from_text(data, "layout rig.toml")
    except FormatError as error:
        assert str(error).isprintable()
        assert len(str(error)) < 900
        return
    plain = layout.to_json()
    assert layout_of(plain) == layout
    assert layout_from_text(layout_text(layout).encode()) == layout
    check_packets(data, LayoutFeed(layout))


def check_packets(data: bytes, feed: LayoutFeed | None = None) -> None:
    """Bytes as packets of an example, cut in pieces of which the first byte tells the length."""
    feed = LayoutFeed(LAYOUT) if feed is None else feed
    while data:
        size, data = data[0], data[1:]
        check_sample(feed, data[:size], 0.1 * size)
        check_sample(feed, (b"CW\0\0\0\0\x04" + data[:size]).ljust(120, b"\x7f"), 0.1 * size)
        data = data[size:]
    for line in feed.left_out.lines(0.0):
        assert line.isprintable()
        assert len(line) < 250


def check_sample(feed: LayoutFeed, data: bytes, received: float) -> None:
    try:
        sample = feed.decode(data, received)
    except FormatError as error:
        assert error.cause in ("no packet of the layout", "no t")
        assert str(error).isprintable()
        return
    if sample is not None:
        assert isinstance(sample, Sample)
        for value in astuple(sample):
            check_value(value)


def check_value(value: object) -> None:
    """What the class promises: finite numbers, text that can be shown, tuples of them without holes."""
    if isinstance(value, tuple):
        for item in value:
            assert item is not None
            check_value(item)
    elif isinstance(value, str):
        assert value.isprintable()
    elif value is not None and not isinstance(value, bool):
        assert isinstance(value, (int, float))
        assert math.isfinite(value)
        assert abs(value) <= LARGEST


TARGETS = {"layout": check_file, "packets": check_packets}
SEEDS = {"layout": [EXAMPLE], "packets": [b"\x64" + CARS + b"\x80" + MOTION, b"\x80" + MOTION]}

words = st.sampled_from(sorted(set(EXAMPLE.decode().replace("=", " ").replace(",", " ").split())))
lines = st.lists(words | st.text(max_size=5) | st.sampled_from(["=", ",", "\n", "{", "}", "[", "]", '"']), max_size=30)


@settings(max_examples=60)
@given(
    st.binary(max_size=300) | st.text(max_size=200).map(str.encode) | lines.map(lambda some: " ".join(some).encode())
)
def test_any_text(data: bytes) -> None:
    check_file(data)


@settings(max_examples=80)
@given(
    st.lists(st.tuples(st.integers(0, len(EXAMPLE)), st.integers(0, 12), words.map(str.encode)), min_size=1, max_size=3)
)
def test_a_file_with_parts_taken_out_or_put_in(changes: list[tuple[int, int, bytes]]) -> None:
    data = EXAMPLE
    for place, size, put in changes:
        data = data[:place] + put + data[place + size :]
    check_file(data)


values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**70), 2**70) | st.floats() | st.text(max_size=8)
    | st.sampled_from(["f32", "text", "big", "km/h", "forward left up", "utf-16"]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=6,
)  # fmt: skip
PLAIN = tomllib.loads(EXAMPLE.decode())


def paths(value: Any, before: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place in a nest of tables and lists."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path for key, item in inside for path in [(*before, key), *paths(item, (*before, key))]]


def changed(value: Any, path: tuple[Any, ...], new: Any) -> Any:
    """The same nest with another value at one place."""
    if not path:
        return new
    if isinstance(value, dict):
        return {key: changed(item, path[1:], new) if key == path[0] else item for key, item in value.items()}
    return [changed(item, path[1:], new) if place == path[0] else item for place, item in enumerate(value)]


@settings(max_examples=80)
@given(st.sampled_from(paths(PLAIN)), values)
def test_a_head_in_which_anything_may_stand(path: tuple[Any, ...], new: Any) -> None:
    try:
        layout = layout_of(changed(PLAIN, path, new))
    except FormatError as error:
        assert str(error).isprintable()
        return
    assert layout_from_text(layout_text(layout).encode()) == layout
    check_packets(SEEDS["packets"][0], LayoutFeed(layout))


@settings(max_examples=40)
@given(st.lists(st.binary(max_size=200), max_size=4))
def test_any_packets(pieces: list[bytes]) -> None:
    check_packets(b"".join(bytes([len(piece)]) + piece for piece in pieces))
