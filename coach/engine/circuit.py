"""The circuit's map: its bends, numbered once by geometry, with the places of each in one lap."""

from __future__ import annotations

from dataclasses import dataclass, replace
from hashlib import sha256
from itertools import pairwise
from math import isfinite, log
from typing import Any

import numpy as np
from numpy.typing import NDArray

from coach.engine.curvature import path_curvature
from coach.engine.held import BRAKE_HELD, BRAKING, held
from coach.engine.lap import Floats, GridLap
from coach.vocabulary.errors import FormatError
from coach.vocabulary.events import CornerMark

BEND = 1 / 500
"""1/m: what is straighter is no bend; a 500 m radius at 60 m/s pulls 7 m/s^2, and most cars take it flat."""
TURN = 0.2
"""rad (11 degrees) turned in all: a car that crosses from edge to edge on a straight turns less."""
EDGE, UNWOUND = 0.2, 0.1
"""of the bend's greatest curvature: where the bend begins, and where it is over. A car on power unwinds slowly, and
its corner lasts until it runs straight along the outer edge."""
VALLEY = 0.5
"""of the smaller of two peaks of one direction: a valley deeper than this divides two corners, a shallower one
makes one corner of several apexes."""
SAME = 40.0
"""m between the apexes of one bend as two laps drive it."""
LIFTING = 0.8
"""Throttle: below is a lift. A bend with neither lift nor brakes is flat out, and nothing is coached there."""
FULL = 0.95
"""Throttle: full."""
ROUND, FLAT = 0.98, 0.02
"""of a peak, and m of the inside gap: where an arc is as tight, and a line as near the edge, as at the apex itself."""
SAME_LENGTH = 0.005
"""of the length: two laps of one circuit measure it with less between them."""
WAY_IN = 0.5
"""s before the bend in which brakes or a lift still belong to it."""
CUT = 0.3
"""s around a shift up in which throttle is cut, whatever the driver wants."""
LINKED_GAP = 0.3
"""s of full throttle between two corners: with less than this they are one linked run (contract, `full`)."""


@dataclass(slots=True, frozen=True)
class Bend:
    """A bend as geometry: m from the line; may reach over it, then `exit` < `entry`."""

    left: bool
    entry: float
    exit: float
    apexes: tuple[float, ...]
    heart: float
    """where half of the turning is done"""


@dataclass(slots=True)
class Circuit:
    """The numbered bends of one circuit, with the places of each in the lap that they were last read from."""

    name: str
    """the map's id, made from its geometry when it was first seen"""
    length: float
    marks: tuple[CornerMark, ...] = ()

    @property
    def coached(self) -> list[CornerMark]:
        """The corners in which something is to be won, in the order driven."""
        return [mark for mark in self.marks if mark.coached]

    def fits(self, lap: GridLap) -> bool:
        """Whether it can be the map of the circuit that `lap` drove."""
        return abs(self.length - lap.length) <= SAME_LENGTH * lap.length

    def numbers_in(self, other: Circuit) -> dict[int, int]:
        """By number here the number in `other`, of the bends that both have from one lap."""
        places = {(mark.direction, mark.entry, mark.apex): mark.corner for mark in other.marks}
        found = ((mark.corner, places.get((mark.direction, mark.entry, mark.apex))) for mark in self.marks)
        return {here: there for here, there in found if there is not None}

    def to_json(self) -> dict[str, Any]:
        """Plain JSON for a recording's head."""
        fields = CornerMark.__dataclass_fields__
        return {
            "name": self.name,
            "length": self.length,
            "marks": [{f: getattr(mark, f) for f in fields} for mark in self.marks],
        }

    @classmethod
    def from_json(cls, data: Any) -> Circuit:
        """The map that `to_json` wrote. Raises FormatError naming what is wrong."""
        try:
            return cls(str(data["name"]), _metres(data["length"]), tuple(_mark(mark) for mark in data["marks"]))
        except (KeyError, TypeError, ValueError, OverflowError) as error:
            raise FormatError(f"the circuit's map cannot be read ({error!r}): record it again") from error


def _mark(data: Any) -> CornerMark:
    if data["direction"] not in ("left", "right"):
        raise ValueError(f"a corner turns {data['direction']!r:.20}")
    places = {name: _metres(data[name]) for name in ("brake", "entry", "apex", "exit")}
    return CornerMark(
        corner=int(data["corner"]),
        direction=data["direction"],
        **places,
        apexes=tuple(_metres(place) for place in data["apexes"]),
        linked=bool(data.get("linked", False)),
        coached=bool(data.get("coached", True)),
    )


def _metres(value: Any) -> float:
    place = float(value)
    if not isfinite(place):
        raise ValueError("a place is not finite")
    return place


def survey(lap: GridLap, known: Circuit | None = None) -> Circuit:
    """The map of the circuit that `lap` drove: `known` with this lap's places, and with bends not seen before.

    A bend keeps its number for good; a new one gets the next number, so that what was said of corner 4 stays said of
    it. Bends of `known` that this lap does not show keep their places and are not coached.
    """
    bends = find_bends(lap)
    if known is not None and not known.fits(lap):
        known = None
    marks = _places(lap, bends)
    if known is None:
        numbered = [replace(mark, corner=i) for i, mark in enumerate(marks, 1)]
        return Circuit(_name(lap, bends), lap.length, tuple(numbered))
    same = _same(marks, known.marks, lap.length)
    numbered, following = [], max((m.corner for m in known.marks), default=0) + 1
    for index, mark in enumerate(marks):
        if index in same:
            numbered.append(replace(mark, corner=known.marks[same[index]].corner))
        else:
            numbered.append(replace(mark, corner=following))
            following += 1
    seen = set(same.values())
    numbered += [replace(mark, coached=False) for i, mark in enumerate(known.marks) if i not in seen]
    numbered.sort(key=lambda m: m.apex)
    return Circuit(known.name, known.length, tuple(numbered))


def _same(marks: list[CornerMark], known: tuple[CornerMark, ...], length: float) -> dict[int, int]:
    """Which mark is which of the known ones, by index: what lies on the same road first, then the nearest apex.

    In a long bend the apex moves from lap to lap by more than a short bend is long, so the bends' overlap decides.
    """
    pairs = sorted(
        (-over, apart, i, j)
        for i, mark in enumerate(marks)
        for j, old in enumerate(known)
        if mark.direction == old.direction
        and ((over := _overlap(mark, old, length)) > 0.0) | ((apart := _apart(mark.apex, old.apex, length)) <= SAME)
    )
    same: dict[int, int] = {}
    for _, _, i, j in pairs:
        if i not in same and j not in same.values():
            same[i] = j
    return same


def _overlap(a: CornerMark, b: CornerMark, length: float) -> float:
    """m of road that lie in both bends."""
    size = (a.exit - a.entry) % length
    begins = (b.entry - a.entry) % length
    ends = begins + (b.exit - b.entry) % length
    return max(0.0, min(size, ends) - begins) + max(0.0, min(size, ends - length))


def _apart(a: float, b: float, length: float) -> float:
    gap = abs(a - b) % length
    return min(gap, length - gap)


def _name(lap: GridLap, bends: list[Bend]) -> str:
    """By the circuit's label and its length in steps of 5 %; where it has no label, by the way it turns.

    Places would not do: another lap of the same circuit has them a metre further on.
    """
    turns = "" if lap.track else "".join("L" if bend.left else "R" for bend in bends)
    size = round(log(lap.length) / log(1.05))
    return "m" + sha256(f"{lap.track or ''}/{size}/{turns}".encode()).hexdigest()[:10]


def find_bends(lap: GridLap) -> list[Bend]:
    """The bends of a lap in the order driven, from its path's curvature.

    A stretch of one sign over `BEND` that turns by `TURN` or more is a bend; it ends where curvature falls under
    `UNWOUND` of its peak. Deep valleys divide it, shallow ones make it a corner of several apexes.
    """
    curvature = path_curvature(lap)
    if curvature is None:
        return []
    ring = curvature[:-1]
    shift = int(np.argmin(np.abs(ring)))  # begin on the straightest place, so that no bend lies over the seam
    ring = np.roll(ring, -shift)
    bends = []
    for low, high in _stretches(ring):
        for a, b in _divided(np.abs(ring[low:high]), low):
            turned = float(np.abs(ring[a:b]).sum()) * lap.step
            if turned >= TURN:
                bends.append(_bend(lap, ring, a, b, shift))
    return sorted(bends, key=lambda bend: bend.apexes[0])


def _stretches(ring: Floats) -> list[tuple[int, int]]:
    """Runs of one sign with |curvature| over `BEND`, as half-open ranges."""
    kind = np.where(ring > BEND, 1, np.where(ring < -BEND, -1, 0))
    cuts = np.flatnonzero(np.diff(kind)) + 1
    starts = np.concatenate([[0], cuts])
    ends = np.concatenate([cuts, [len(ring)]])
    return [(int(a), int(b)) for a, b in zip(starts, ends, strict=True) if kind[a] != 0]


def _divided(size: Floats, origin: int) -> list[tuple[int, int]]:
    """The stretch, cut at its deepest valley as long as one is deeper than `VALLEY` of the lower peak beside it."""
    best: tuple[float, int] | None = None
    left_peak = np.maximum.accumulate(size)
    right_peak = np.maximum.accumulate(size[::-1])[::-1]
    depth = size / np.maximum(np.minimum(left_peak, right_peak), 1e-12)
    place = int(np.argmin(depth))
    if depth[place] < VALLEY:
        best = (float(depth[place]), place)
    if best is None:
        return [(origin, origin + len(size))]
    return _divided(size[:place], origin) + _divided(size[place:], origin + place)


def _bend(lap: GridLap, ring: Floats, a: int, b: int, shift: int) -> Bend:
    size = np.abs(ring[a:b])
    peak = float(size.max())
    first = a + int(np.flatnonzero(size >= EDGE * peak)[0])
    last = a + int(np.flatnonzero(size >= UNWOUND * peak)[-1])
    left = bool(ring[a + int(size.argmax())] > 0)
    edge = lap.get("edge_left" if left else "edge_right")
    gap = None if edge is None else np.roll(edge[:-1], -shift)[first : last + 1]
    tight = np.abs(ring[first : last + 1])
    apexes = _apexes(tight, gap)
    count = len(ring)

    def place(index: int) -> float:
        return float((index + shift) % count * lap.step)

    turned = np.cumsum(tight)
    heart = first + int(np.searchsorted(turned, 0.5 * turned[-1]))
    return Bend(left, place(first), place(last), tuple(place(first + i) for i in apexes), place(heart))


def _apexes(tight: Floats, gap: Floats | None) -> list[int]:
    """Indices of the apexes: for each peak of curvature that stands out, the nearest point to the inside edge.

    Without edges, the peak itself (contract, *Apex*). Where a line follows the edge or an arc for a while, the middle.
    """
    peaks = [
        i
        for i in range(len(tight))
        if tight[i] >= VALLEY * tight.max() and tight[i] == tight[max(0, i - 15) : i + 16].max()
    ]
    kept: list[int] = []
    for i in peaks:
        if kept and tight[kept[-1] : i + 1].min() > 0.8 * min(tight[kept[-1]], tight[i]):
            if tight[i] > tight[kept[-1]]:
                kept[-1] = i
        else:
            kept.append(i)
    cuts = [0] + [int(a + np.argmin(tight[a : b + 1])) for a, b in pairwise(kept)] + [len(tight)]
    if gap is None:
        return [
            a + _middle(tight[a:b] >= ROUND * tight[i], i - a) for i, (a, b) in zip(kept, pairwise(cuts), strict=True)
        ]
    bent = np.where(tight >= VALLEY * tight.max(), gap, np.inf)  # an esse leaves the last edge where this bend begins
    return [a + _middle(bent[a:b] <= bent[a:b].min() + FLAT, int(bent[a:b].argmin())) for a, b in pairwise(cuts)]


def _middle(level: NDArray[np.bool_], index: int) -> int:
    """The middle of the run of `level` places around `index`."""
    first = last = index
    while first > 0 and level[first - 1]:
        first -= 1
    while last + 1 < len(level) and level[last + 1]:
        last += 1
    return (first + last) // 2


def _places(lap: GridLap, bends: list[Bend]) -> list[CornerMark]:
    """Each bend's brake point, and whether there is anything to coach, from the pedals of `lap`.

    `linked` looks past bends that are flat out: nothing is asked there, and a run of corners ends before them.
    """
    braking = _braking(lap)
    throttle = _throttle(lap, braking)
    brakes = []
    for index, bend in enumerate(bends):
        before = bends[index - 1]
        since = _later(before, before.apexes[-1], before.heart, lap.length) if len(bends) > 1 else bend.exit
        brakes.append(_first_action(lap, throttle, braking, bend, since))
    marks = []
    for index, (bend, brake) in enumerate(zip(bends, brakes, strict=True)):
        coached = brake is not None or throttle is None
        behind = [(index + 1 + i) % len(bends) for i in range(len(bends))]
        following = bends[next((i for i in behind if brakes[i] is not None), behind[0])]
        marks.append(
            CornerMark(
                corner=0,
                direction="left" if bend.left else "right",
                brake=_round(bend.entry if brake is None else _earlier(bend, brake, bend.entry, lap.length)),
                entry=_round(bend.entry),
                apex=_round(bend.apexes[0]),
                exit=_round(bend.exit),
                apexes=tuple(_round(a) for a in bend.apexes),
                linked=len(bends) > 1 and not _full_between(lap, throttle, bend.apexes[-1], following.entry),
                coached=coached,
            )
        )
    return marks


def _later(bend: Bend, a: float, b: float, length: float) -> float:
    """The later of two places in a bend, which may reach over the line."""
    return max(a, b, key=lambda place: (place - bend.entry) % length)


def _earlier(bend: Bend, a: float, b: float, length: float) -> float:
    """The earlier of two places on the way to a bend's exit: a lift inside the bend has its entry as the mark."""
    return max(a, b, key=lambda place: (bend.exit - place) % length)


def _round(place: float) -> float:
    return round(place, 2)


def _indices(lap: GridLap, start: float, end: float) -> list[int]:
    """Grid indices from `start` to `end` m, over the line where `end` < `start`."""
    count = len(lap.time) - 1
    a, b = int(start / lap.step), int(end / lap.step)
    if b < a:
        b += count
    return [i % count for i in range(a, b + 1)]


def _throttle(lap: GridLap, braking: NDArray[np.bool_]) -> Floats | None:
    """Throttle as the driver meant it: without the cut of a shift up, and off under brakes, where it is a blip.

    Of the lap's most, since some pedals top out short of 1.
    """
    throttle, gear = lap.get("throttle"), lap.get("gear")
    if throttle is None:
        return None
    meant = throttle / max(float(throttle.max()), 0.5)
    if gear is not None:
        forward = np.flatnonzero(gear >= 1)  # neutral between two gears is part of the change
        for before, after in pairwise(forward):
            if gear[after] > gear[before]:
                _bridge(meant, lap.time, int(before), int(after))
    meant[braking] = 0.0
    return meant


def _braking(lap: GridLap) -> NDArray[np.bool_]:
    """Where the lap brakes; nowhere if it has no brake channel."""
    brake = lap.get("brake")
    if brake is None:
        return np.zeros(len(lap.time), dtype=bool)
    return np.array(held((brake > BRAKING).tolist(), lap.time.tolist(), BRAKE_HELD))


def _bridge(throttle: Floats, time: Floats, before: int, after: int) -> None:
    """Fills the cut of the shift between two grid places up to what throttle was on both sides of it."""
    first = int(np.searchsorted(time, time[before] - CUT))
    last = int(np.searchsorted(time, time[after] + CUT))
    level = min(throttle[first : before + 1].max(), throttle[after : last + 1].max())
    high = np.flatnonzero(throttle[first : last + 1] >= level) + first
    left, right = high[high <= before][-1], high[high >= after][0]
    throttle[left : right + 1] = np.maximum(throttle[left : right + 1], level)


def _first_action(
    lap: GridLap, throttle: Floats | None, braking: NDArray[np.bool_], bend: Bend, since: float
) -> float | None:
    """Where the bend first asked something of the driver: brakes, else a lift; None if it was flat out.

    `since` m: where the bend before it is half done. What was asked must still hold on the way in or in the first half
    of the bend; its beginning is looked for back to the last full throttle, so that the way out of the last corner is
    not a lift.
    """
    places = _indices(lap, since, _later(bend, bend.apexes[-1], bend.heart, lap.length))
    braked = [bool(braking[i]) for i in places]
    asked = [braked[k] or (throttle is not None and throttle[i] < LIFTING) for k, i in enumerate(places)]
    entry = max(0, len(places) - 1 - round(((lap.step * places[-1] - bend.entry) % lap.length) / lap.step))
    way_in = entry
    while way_in > 0 and (lap.time[places[entry]] - lap.time[places[way_in]]) % lap.total < WAY_IN:
        way_in -= 1
    last = next((k for k in range(len(places) - 1, way_in - 1, -1) if asked[k]), None)
    if last is None:
        return None
    first = last
    while first > 0 and (throttle is None or throttle[places[first - 1]] < FULL):
        first -= 1
    if first == 0 and last < entry and throttle is not None:
        return None
    run = range(first, last + 1)
    found = next((k for k in run if braked[k]), next(k for k in run if asked[k]))
    return float(places[found] * lap.step)


def _full_between(lap: GridLap, throttle: Floats | None, start: float, end: float) -> bool:
    """Whether full throttle was held for `LINKED_GAP` s somewhere from `start` to `end`."""
    if throttle is None:
        return True
    began: float | None = None
    last = 0.0
    wrapped = 0.0
    for i in _indices(lap, start, end):
        now = float(lap.time[i])
        if now + wrapped < last:
            wrapped += lap.total
        last = now + wrapped
        if throttle[i] < FULL:
            began = None
        elif began is None:
            began = last
        elif last - began >= LINKED_GAP:
            return True
    return False
