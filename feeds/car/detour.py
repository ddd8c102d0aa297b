"""Lines other than the racing line: how far, in m by station, a mistake moves the car across the road to the left."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from feeds.car.circuit import Circuit, Corner
from feeds.car.line import Path, smooth_bump
from feeds.car.mistakes import Mistake

Floats = NDArray[np.float64]

HALF_CAR = 0.95
"""m"""
WAY = 120.0
"""m in which the car goes over to another line on a straight, and comes back."""
REJOIN = 60.0
"""m behind the bend in which a car that ran off comes back."""
SWINGS_IN = 60.0
"""m before the bend in which the car crosses the road to turn in elsewhere."""
OPENS = 0.15
"""m that who turned in too early runs wide for each m of it."""
ROUND = 30.0
"""m in which the line is left and found again about an apex that is missed."""


def detour(circuit: Circuit, line: Path, corner: Corner, mistake: Mistake) -> Floats:
    """What `mistake` at `corner` makes of `line`; nothing for a kind that is not of the line."""
    size, side = mistake.size, corner.side
    if mistake.kind == "missed_apex":
        return -side * _away_from_inside(circuit, line, corner, size)
    middle = _apex(circuit, line, corner)
    if mistake.kind == "narrow_entry":
        return side * size * _bump(circuit, corner.begins - WAY, corner.begins, middle)
    if mistake.kind == "narrow_exit":
        return side * size * _bump(circuit, middle, corner.ends, corner.ends + WAY)
    if mistake.kind == "late_turn_in":
        return -side * _turned_in_later(circuit, line, corner, size)
    if mistake.kind == "early_turn_in":
        return -side * _turned_in_earlier(circuit, line, corner, size)
    if mistake.kind == "off_track":
        return -side * _run_wide(circuit, line, corner, size)
    return np.zeros_like(circuit.station)


def room_inside(circuit: Circuit, line: Path, corner: Corner, place: float) -> float:
    """m that a car on `line` can move to the inside at a place before its own side is at the edge."""
    return circuit.width / 2 - float(np.interp(place, circuit.station, line.offset)) * corner.side - HALF_CAR


def _apex(circuit: Circuit, line: Path, corner: Corner) -> float:
    """m: where the line is nearest the inside edge."""
    within = _within(circuit, corner.begins, corner.ends)
    inside = np.where(within, line.offset * corner.side, -np.inf)
    return float(circuit.station[int(np.argmax(inside))])


def _away_from_inside(circuit: Circuit, line: Path, corner: Corner, size: float) -> Floats:
    """m outward that leave `size` more between the car and the inside edge wherever in the bend it comes near."""
    within = _within(circuit, corner.begins, corner.ends)
    inside = line.offset * corner.side
    needed = np.where(within, np.maximum(inside - inside[within].max() + size, 0.0), 0.0)[:-1]
    reach = round(ROUND / circuit.step)
    widened = np.max([np.roll(needed, i) for i in range(-reach, reach + 1)], axis=0)
    outside = (circuit.width / 2 - HALF_CAR + inside)[:-1]
    smooth = _smooth(np.minimum(_smooth(widened, reach), outside), reach // 2)
    return np.append(smooth, smooth[0])


def _run_wide(circuit: Circuit, line: Path, corner: Corner, size: float) -> Floats:
    """m outward that bring the car `size` beyond the outer edge at the widest, about the bend's end."""
    bump = _bump(circuit, _apex(circuit, line, corner), corner.ends, corner.ends + REJOIN)
    there = bump > 0.05
    missing = circuit.width / 2 + HALF_CAR + size + line.offset[there] * corner.side
    return float(np.min(missing / bump[there])) * bump


def _turned_in_later(circuit: Circuit, line: Path, corner: Corner, size: float) -> Floats:
    """m outward: the same arc, `size` m further along the straight before the bend, up to its apex.

    Where the road has turned by th, that is size sin(th) further out and size cos(th) further on. It never takes the
    car beyond the outer edge.
    """
    outward = _moved_on(circuit, line, corner, size, corner.ends + SWINGS_IN)
    outside = circuit.width / 2 - HALF_CAR + line.offset * corner.side
    return _soft(np.minimum(outward, np.maximum(outside, 0.0)), circuit)


def _turned_in_earlier(circuit: Circuit, line: Path, corner: Corner, size: float) -> Floats:
    """m outward: the same arc, `size` m sooner, which meets the inside edge and is opened there: the car runs wide."""
    inside = circuit.width / 2 - HALF_CAR - line.offset * corner.side
    inward = _soft(np.maximum(_moved_on(circuit, line, corner, -size, corner.ends), -np.maximum(inside, 0.0)), circuit)
    wide = _bump(circuit, _apex(circuit, line, corner), corner.ends, corner.ends + WAY)
    return inward + OPENS * size * wide


def _moved_on(circuit: Circuit, line: Path, corner: Corner, size: float, until: float) -> Floats:
    """m outward of the path when its arc lies `size` m further along the straight before the bend; it is left behind
    the apex, and found again by `until` m."""
    turned = np.abs(circuit.heading - float(np.interp(corner.begins, circuit.station, circuit.heading)))
    turned = np.minimum(turned, np.pi / 2)
    before = (circuit.station - size * np.cos(turned)) % circuit.length
    across = np.interp(before, circuit.station, line.offset) - line.offset
    whole = size * np.sin(turned) - corner.side * across
    apex = _apex(circuit, line, corner)
    into = _bump(circuit, corner.begins - SWINGS_IN, corner.begins, corner.begins)
    out = _bump(circuit, apex, apex, until)
    return np.where(_within(circuit, corner.begins, apex), 1.0, np.maximum(into, out)) * whole


def _soft(values: Floats, circuit: Circuit) -> Floats:
    smooth = _smooth(values[:-1], round(ROUND / circuit.step) // 2)
    return np.append(smooth, smooth[0])


def _smooth(values: Floats, reach: int) -> Floats:
    """The mean over `reach` stations to both sides, the near ones counting most."""
    bell = 1.0 + np.cos(np.linspace(-np.pi, np.pi, 2 * reach + 3)[1:-1])
    around = np.concatenate((values[-reach:], values, values[:reach]))
    return np.convolve(around, bell / bell.sum(), "valid")


def _within(circuit: Circuit, begins: float, ends: float) -> NDArray[np.bool_]:
    return (circuit.station - begins) % circuit.length <= (ends - begins) % circuit.length


def _bump(circuit: Circuit, begins: float, peak: float, ends: float) -> Floats:
    return smooth_bump(circuit.station, begins, peak, ends, circuit.length)
