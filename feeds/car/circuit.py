"""The built-in circuit: bends with clothoid ramps, closed exactly, with edges and hills. All places in m from the line.

A bend's curvature ramps from nothing to that of its first radius, goes on evenly to that of its last, and ramps out:
equal radii give a plain bend, a growing one opens, a shrinking one tightens.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coach.vocabulary.errors import InputError

Floats = NDArray[np.float64]

GRAVITY = 9.81
"""m/s^2"""
NOTHING, ACROSS = 1e-3, 0.05
"""m, and the sine of the angle between two straights under which they run the same way."""
STEP = 0.5
"""m between the places at which the centre line is known, about."""


@dataclass(frozen=True, slots=True)
class Straight:
    """`fit`: the closing of the circuit may change the length (m)."""

    length: float
    fit: bool = False


@dataclass(frozen=True, slots=True)
class Bend:
    """`angle` rad, positive to the left; radii and ramps in m, at the beginning and at the end."""

    angle: float
    radius: float
    radius_out: float | None = None
    ramp: float = 25.0
    ramp_out: float | None = None

    @property
    def pieces(self) -> tuple[tuple[float, float, float], ...]:
        """(length, curvature at its beginning, at its end) of the ramp in, the arc and the ramp out."""
        side = math.copysign(1.0, self.angle)
        first = side / self.radius
        last = side / (self.radius_out or self.radius)
        ramp_out = self.ramp if self.ramp_out is None else self.ramp_out
        turned = first * self.ramp / 2 + last * ramp_out / 2
        arc = (self.angle - turned) / ((first + last) / 2)
        if arc < 0.0:
            bend = f"a bend of {math.degrees(self.angle):.0f} degrees"
            raise InputError(f"circuit: {bend} is shorter than its ramps: shorten the ramps")
        return ((self.ramp, 0.0, first), (arc, first, last), (ramp_out, last, 0.0))


@dataclass(frozen=True, slots=True)
class Corner:
    """Bend `number` (from 1): where its curvature begins, is greatest in the middle, and ends; `side` +1 is left."""

    number: int
    begins: float
    middle: float
    ends: float
    side: int


@dataclass(frozen=True, slots=True)
class Wave:
    """A hill: `height` m above and below, `count` times a lap, `phase` rad at the line."""

    height: float
    count: int
    phase: float


class Circuit:
    """A closed centre line with constant `width` (m). Exactly two straights have `fit`; the angles must make one turn.

    Arrays by place, `step` apart, the last entry the line again: `station`, `x`, `y`, `heading` (rad), `curvature`.
    """

    def __init__(
        self, name: str, segments: Sequence[Straight | Bend], width: float, hills: Sequence[Wave] = ()
    ) -> None:
        self.name, self.width = name, width
        self.hills = tuple(hills)
        segments = _closed(segments)
        pieces = [piece for segment in segments for piece in _pieces(segment)]
        self.length = sum(piece[0] for piece in pieces)
        count = math.ceil(self.length / STEP)
        self.step = self.length / count
        self.station: Floats = np.linspace(0.0, self.length, count + 1)
        self.curvature, self.heading = _bend(pieces, self.station)
        self.x, self.y = _walk(pieces, self.station)
        self.corners = _corners(segments)

    def height(self, place: float) -> float:
        """m above the line's mean level."""
        return sum(w.height * math.sin(self._phase(w, place)) for w in self.hills)

    def grade(self, place: float) -> float:
        """dz/ds, positive uphill."""
        return sum(w.height * math.tau * w.count / self.length * math.cos(self._phase(w, place)) for w in self.hills)

    def _phase(self, wave: Wave, place: float) -> float:
        return math.tau * wave.count * place / self.length + wave.phase


def brack_mere() -> Circuit:
    """Clockwise, 12 bends: a fast right, a chicane, a hairpin, a flat-out kink, an opening left, a fast bend, a
    tightening right, a left-right pair and two more before the long straight."""
    turn = math.radians
    return Circuit(
        "Brack Mere",
        [
            Straight(150.0),
            Bend(turn(-85), 62.0),
            Straight(150.0),
            Bend(turn(52), 24.0, ramp=14.0),
            Straight(8.0),
            Bend(turn(-62), 24.0, ramp=14.0),
            Straight(330.0, fit=True),
            Bend(turn(-165), 17.0, ramp=16.0),
            Straight(90.0),
            Bend(turn(28), 250.0, ramp=30.0),
            Straight(150.0),
            Bend(turn(85), 34.0, 80.0, ramp=20.0, ramp_out=35.0),
            Straight(70.0),
            Bend(turn(-60), 135.0, ramp=30.0),
            Straight(90.0),
            Bend(turn(-100), 95.0, 38.0, ramp=30.0, ramp_out=20.0),
            Straight(60.0),
            Bend(turn(70), 46.0),
            Straight(30.0),
            Bend(turn(-60), 55.0),
            Straight(120.0),
            Bend(turn(57), 70.0),
            Straight(60.0),
            Bend(turn(-120), 44.0),
            Straight(200.0, fit=True),
        ],
        width=11.0,
        hills=(Wave(5.0, 1, 0.4), Wave(2.0, 3, 2.1)),
    )


CIRCUITS: dict[str, Callable[[], Circuit]] = {"Brack Mere": brack_mere}
"""Circuits by name."""


def _pieces(segment: Straight | Bend) -> tuple[tuple[float, float, float], ...]:
    return ((segment.length, 0.0, 0.0),) if isinstance(segment, Straight) else segment.pieces


def _closed(segments: Sequence[Straight | Bend]) -> list[Straight | Bend]:
    """The segments with the two `fit` straights as long as the circuit needs to come back to its beginning."""
    turned = sum(segment.angle for segment in segments if isinstance(segment, Bend))
    if abs(abs(turned) - math.tau) > 1e-6:
        raise InputError(f"circuit: its bends turn {math.degrees(turned):.2f} degrees in all: make it 360 or -360")
    fits = [i for i, segment in enumerate(segments) if isinstance(segment, Straight) and segment.fit]
    if len(fits) != 2:
        raise InputError(f"circuit: {len(fits)} straights have fit: give it to two of different direction")
    heading, x, y = 0.0, 0.0, 0.0
    ways = []
    for i, segment in enumerate(segments):
        if i in fits:
            ways.append((math.cos(heading), math.sin(heading)))
            continue
        for length, first, last in _pieces(segment):
            places = np.linspace(0.0, length, 2001)
            angle = heading + first * places + (last - first) * places**2 / (2 * length) if length else places
            x += float(np.trapezoid(np.cos(angle), places))
            y += float(np.trapezoid(np.sin(angle), places))
            heading += (first + last) / 2 * length
    (one_x, one_y), (other_x, other_y) = ways
    if abs(one_x * other_y - one_y * other_x) < ACROSS:
        raise InputError("circuit: its two fit straights run the same way: choose others")
    lengths = np.linalg.solve(np.transpose(ways), [-x, -y])
    if min(lengths) < -NOTHING:
        raise InputError(f"circuit: to close, its fit straights would be {lengths[0]:.0f} and {lengths[1]:.0f} m long")
    out = list(segments)
    for i, length in zip(fits, lengths, strict=True):
        out[i] = Straight(max(float(length), 0.0))
    return out


def _bend(pieces: Sequence[tuple[float, float, float]], station: Floats) -> tuple[Floats, Floats]:
    """Curvature and heading at each station, exact."""
    begins = np.concatenate(([0.0], np.cumsum([piece[0] for piece in pieces])))
    curvature, heading = np.zeros_like(station), np.zeros_like(station)
    base = 0.0
    for (length, first, last), begin in zip(pieces, begins, strict=False):
        if length <= 0.0:
            continue
        here = (station >= begin - 1e-9) & (station <= begin + length + 1e-9)
        along = np.clip(station[here] - begin, 0.0, length)
        rate = (last - first) / length
        curvature[here] = first + rate * along
        heading[here] = base + first * along + rate * along**2 / 2
        base += (first + last) / 2 * length
    return curvature, heading


def _walk(pieces: Sequence[tuple[float, float, float]], station: Floats) -> tuple[Floats, Floats]:
    """x and y at each station: the heading integrated on a grid eight times as fine (Simpson's rule)."""
    fine = np.linspace(0.0, station[-1], 8 * (len(station) - 1) + 1)
    _, heading = _bend(pieces, fine)
    step = fine[1]

    def along(values: Floats) -> Floats:
        thirds = (values[:-2:2] + 4 * values[1:-1:2] + values[2::2]) * step / 3
        return np.concatenate(([0.0], np.cumsum(thirds)))[::4]

    return along(np.cos(heading)), along(np.sin(heading))


def _corners(segments: Sequence[Straight | Bend]) -> tuple[Corner, ...]:
    corners: list[Corner] = []
    place = 0.0
    for segment in segments:
        length = sum(piece[0] for piece in _pieces(segment))
        if isinstance(segment, Bend):
            side = 1 if segment.angle > 0 else -1
            corners.append(Corner(len(corners) + 1, place, place + length / 2, place + length, side))
        place += length
    return tuple(corners)
