"""A proposal written as a layout file decodes to the same values as the finder's own fields."""

from __future__ import annotations

import math
import struct

import pytest

from feeds.finder import Found, Proposal
from feeds.finder.fields import Field
from feeds.finder.proposal import KindOf
from feeds.layout import LayoutFeed, layout_from_text

FIELDS = {
    "t": Field(0, "u32", False, 1e-3),
    "speed": Field(4, "u16", False, 0.01 / 3.6),
    "throttle": Field(6, "u8", False, -1 / 255, 1.0),
    "brake": Field(7, "u8", False, 1 / 200),
    "steer": Field(8, "i16", True, -1 / 32767),
    "gear": Field(10, "u8", False, 1.0, -1.0),
    "yaw": Field(12, "f32", False, -math.pi / 180, math.pi / 2),
    "y": Field(16, "f32", False, -1.0),
    "engine_speed": Field(20, "f32", False, 30 / math.pi),
    "lap": Field(24, "u8", False),
    "ax": Field(25, "f32", False, 9.80665),
}
DATA = struct.pack("<IHBBxxBxfffBf", 61_500, 9000, 255, 100, 2, 30.0, 12.5, 500.0, 3, -0.5)
DATA = DATA[:8] + struct.pack(">h", 16_384) + DATA[10:]


def proposal() -> Proposal:
    found = [Found(name, f.offset, f.type, "unit", 0.9, "because") for name, f in FIELDS.items()]
    return Proposal(found, {"clutch": "the step was not done"}, [KindOf("p", len(DATA), (), 600)], FIELDS)


def test_the_layout_decodes_what_the_fields_say() -> None:
    sample = LayoutFeed(proposal().layout).decode(DATA)
    assert sample is not None
    assert sample.t == pytest.approx(61.5)
    assert sample.speed == pytest.approx(90.0 / 3.6)
    assert (sample.throttle, sample.brake) == (pytest.approx(0.0), pytest.approx(0.5))
    assert sample.steer == pytest.approx(-16_384 / 32_767)
    assert (sample.gear, sample.lap) == (1, 3)
    assert sample.yaw == pytest.approx(math.pi / 2 - math.radians(30.0))
    assert sample.y == pytest.approx(-12.5)
    assert sample.engine_speed == pytest.approx(500.0 * 60.0 / math.tau)
    assert sample.ax == pytest.approx(-0.5 * 9.80665)


def test_the_text_reads_back_as_the_same_layout_and_says_why() -> None:
    text = proposal().text()
    assert layout_from_text(text.encode()).to_json() == proposal().layout.to_json()
    assert "# 90 % sure, unit: because" in text
    assert "clutch: the step was not done" in text
    assert 'byte_order = "big"' in text and 'positive = "right"' in text and '"rad/s"' in text


def test_two_kinds_of_one_length_are_told_by_their_mark() -> None:
    fields = {"t": Field(1, "f32", False, kind=1), "speed": Field(1, "f32", False)}
    found = [Found(name, f.offset, f.type, "unit", 0.9, "because", f.kind) for name, f in fields.items()]
    clock = Field(5, "f32", False)
    kinds = [KindOf("a", 9, ((0, 3),), 9, clock), KindOf("b", 9, ((0, 5),), 9, closes=True)]
    feed = LayoutFeed(Proposal(found, {}, kinds, fields).layout)
    assert feed.decode(struct.pack("<Bff", 3, 20.0, 1.5)) is None
    sample = feed.decode(struct.pack("<Bff", 5, 1.5, 0.0))
    assert sample is not None and (sample.t, sample.speed) == (1.5, 20.0)


def test_without_a_clock_the_receive_time_serves() -> None:
    fields = {"speed": Field(0, "f32", False)}
    found = [Found("speed", 0, "f32", "m/s", 0.9, "because")]
    feed = LayoutFeed(Proposal(found, {"t": "none"}, [KindOf("a", 4)], fields).layout)
    sample = feed.decode(struct.pack("<f", 20.0), received=77.0)
    assert sample is not None and (sample.t, sample.speed) == (77.0, 20.0)
