"""Axes against ISO 8855:2011: of the car x forward, y left, z up; a turn to the left is positive."""

from __future__ import annotations

import math
from itertools import permutations, product

import numpy as np
import pytest
from layout.packing import decoded, one, packet

from coach.vocabulary.sample import Sample
from feeds.layout.axes import BODY, PRESETS, WORLD, axes_of

FORWARD, LEFT, UP = 20.0, 3.0, 9.81
"""What a car does in a turn to the left, in ISO 8855; up is what it feels of gravity."""
SENT = {
    # by the right-hand rule and the name of the axis that points up, written out by hand
    "z-up right-handed": (FORWARD, LEFT, UP),
    "z-up left-handed": (FORWARD, -LEFT, UP),
    "z-down right-handed": (FORWARD, -LEFT, -UP),
    "z-down left-handed": (FORWARD, LEFT, -UP),
    "y-up left-handed": (-LEFT, UP, FORWARD),
    "y-up right-handed": (-LEFT, UP, -FORWARD),
}
UNIT = {
    **{"forward": (1, 0, 0), "backward": (-1, 0, 0), "left": (0, 1, 0), "right": (0, -1, 0)},
    **{"east": (1, 0, 0), "west": (-1, 0, 0), "north": (0, 1, 0), "south": (0, -1, 0)},
    **{"up": (0, 0, 1), "down": (0, 0, -1)},
}
"""Directions in ISO 8855, of the car and of the world."""


def test_every_frame_with_a_name_is_tried() -> None:
    assert set(SENT) == set(PRESETS)


@pytest.mark.parametrize("name", PRESETS)
def test_a_frame_is_as_handed_as_its_name_says(name: str) -> None:
    for words in PRESETS[name]:
        axes = np.array([UNIT[word] for word in words.split()])
        assert np.linalg.det(axes) == pytest.approx(1.0 if "right" in name else -1.0)
        upward = axes["xyz".index(name[0])]
        assert upward[2] == (1 if "up" in name else -1)


@pytest.mark.parametrize("name", SENT)
@pytest.mark.parametrize("type_", ["f32", "i16"])
def test_a_turn_to_the_left_is_one_whatever_the_sources_axes(name: str, type_: str) -> None:
    scale, code = (1.0, "<3f") if type_ == "f32" else (0.01, "<3h")
    sent = SENT[name] if type_ == "f32" else tuple(round(value / scale) for value in SENT[name])
    layout = one(
        f"""acceleration = {{ offset = 8, type = "{type_}", axes = "{name}", scale = {scale} }}
        velocity = {{ offset = 20, type = "{type_}", axes = "{name}", scale = {scale} }}"""
    )
    sample = decoded(layout, packet((8, code, sent), (20, code, sent)))
    assert (sample.ax, sample.ay, sample.az) == pytest.approx((FORWARD, LEFT, UP))
    assert (sample.vx, sample.vy) == pytest.approx((FORWARD, LEFT))
    assert sample.speed == pytest.approx(math.sqrt(FORWARD**2 + LEFT**2 + UP**2))


@pytest.mark.parametrize("words", ["forward left up", *SENT])
def test_acceleration_of_each_frame_stands_where_it_should(words: str) -> None:
    """One number at a time: a frame with two axes exchanged would pass no more."""
    axes = axes_of(words, False)
    sent = [0.0, 0.0, 0.0]
    sent[axes.y.place] = axes.y.sign * 5.0
    sample = decoded(
        one(f'acceleration = {{ offset = 8, type = "f32", axes = "{words}" }}'), packet((8, "<3f", tuple(sent)))
    )
    assert (sample.ax, sample.ay, sample.az) == (0.0, 5.0, 0.0)


@pytest.mark.parametrize(("directions", "is_world"), [(BODY, False), (WORLD, True)])
def test_all_48_frames_in_words(directions: tuple[str, ...], is_world: bool) -> None:
    iso = np.array([1.0, 2.0, 3.0])
    for order in permutations(range(3)):
        for signs in product((0, 1), repeat=3):
            named = [directions[2 * axis + sign] for axis, sign in zip(order, signs, strict=True)]
            sent = [float(np.dot(UNIT[word], iso)) for word in named]
            axes = axes_of(" ".join(named), is_world)
            assert [sent[axis.place] * axis.sign for axis in (axes.x, axes.y, axes.z)] == iso.tolist()


@pytest.mark.parametrize(("key", "unit"), [("yaw_rate", "deg/s"), ("steer", "degrees")])
def test_a_sense_of_rotation_to_the_right_is_turned_round(key: str, unit: str) -> None:
    layout = one(f'{key} = {{ offset = 8, type = "f32", positive = "right", convert = "{unit}" }}')
    sample = decoded(layout, packet((8, "<f", -90.0)))
    assert getattr(sample, key) == pytest.approx(math.pi / 2)


COURSES = [0.0, 0.4, 1.5, 2.6, 3.14, 4.0, 5.5]
"""rad, counter-clockwise from x: where the car goes."""


@pytest.mark.parametrize("course", COURSES)
@pytest.mark.parametrize("name", SENT)
def test_a_position_moves_where_yaw_points(course: float, name: str) -> None:
    """A compass heading: clockwise from north, where the frame's x is east (ISO 8855 has yaw counter-clockwise)."""
    step = np.array([math.cos(course), math.sin(course), 0.1])
    sent = [float(np.dot(UNIT[word], step)) for word in PRESETS[name][1].split()]
    heading = math.degrees(math.pi / 2 - course)
    layout = one(
        f"""position = {{ offset = 8, type = "f32", axes = "{name}" }}
        yaw = {{ offset = 20, type = "f32", convert = "degrees", positive = "right", zero = "north" }}
        velocity = {{ offset = 24, type = "f32", axes = "{PRESETS[name][1]}", scale = 30 }}"""
    )
    sample = decoded(layout, packet((8, "<3f", tuple(sent)), (20, "<f", heading), (24, "<3f", tuple(sent))))
    assert (sample.x, sample.y, sample.z) == pytest.approx(step.tolist(), abs=1e-6)
    assert sample.yaw is not None
    assert (math.cos(sample.yaw), math.sin(sample.yaw)) == pytest.approx((math.cos(course), math.sin(course)), abs=1e-6)
    assert (sample.vx, sample.vy) == pytest.approx((30.0, 0.0), abs=1e-4)
    assert sample.speed == pytest.approx(30.0 * math.hypot(1.0, 0.1))


@pytest.mark.parametrize(("zero", "yaw"), [("east", 0.5), ("north", 2.0708), ("west", 3.6416), ("south", -1.0708)])
def test_yaw_counts_from_where_the_source_says(zero: str, yaw: float) -> None:
    layout = one(f'yaw = {{ offset = 8, type = "f32", zero = "{zero}" }}')
    assert decoded(layout, packet((8, "<f", 0.5))).yaw == pytest.approx(yaw, abs=1e-4)


def test_a_slide_to_the_left_has_velocity_to_the_left() -> None:
    layout = one(
        """yaw = { offset = 8, type = "f32" }
        velocity = { offset = 12, type = "f32", axes = "east north up" }
        speed = { offset = 24, type = "f32" }"""
    )
    sample = decoded(layout, packet((8, "<ffff", (math.pi / 2, -2.0, 10.0, 0.0)), (24, "<f", 10.2)))
    assert (sample.vx, sample.vy) == pytest.approx((10.0, 2.0), abs=1e-5)
    assert sample.speed == pytest.approx(10.2)


def test_what_cannot_be_turned_is_absent() -> None:
    layout = one(
        """yaw = { offset = 8, type = "f32" }
        velocity = { offset = 12, type = "f32", axes = "east north up" }"""
    )
    data = packet((8, "<ffff", (float("nan"), 3.0, 4.0, 0.0)))
    assert decoded(layout, data) == Sample(1.5, speed=5.0)
