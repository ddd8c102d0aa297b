"""The main channels of a stream as a person reads them off a dashboard. Pure: samples in, lines out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from statistics import median

from coach.vocabulary.sample import Sample

STANDS = 0.5
"""m/s under which a car is said to stand (choice)."""
STRAIGHT = 1.0
"""degrees of steering that are called straight (choice)."""
KMH = 3.6
_NAME = 15


def readings(samples: Sequence[Sample]) -> list[str]:
    """One line a channel: what it read at the end, and the range it went through where it moved."""
    return [f"{name:{_NAME}}{text}" for name, text in _read(samples)]


def _read(samples: Sequence[Sample]) -> Iterator[tuple[str, str]]:
    speed = _numbers(samples, "speed")
    if speed:
        now = speed[-1]
        state = ", standing" if abs(now) < STANDS else ""
        yield "speed", f"{now * KMH:.0f} km/h{state}{_range([v * KMH for v in speed], 1.0, 'km/h')}"
    turns = _numbers(samples, "engine_speed")
    if turns:
        yield "engine speed", f"{turns[-1]:,.0f} rev/min{_range(turns, 50.0, 'rev/min')}"
    gears = _numbers(samples, "gear")
    if gears:
        seen = sorted({int(gear) for gear in gears})
        others = f" (seen: {', '.join(map(_gear, seen))})" if len(seen) > 1 else ""
        yield "gear", f"{_gear(int(gears[-1]))}{others}"
    for name in ("throttle", "brake", "clutch"):
        pedal = _numbers(samples, name)
        if pedal:
            yield name, f"{pedal[-1] * 100.0:.0f} %{_range([v * 100.0 for v in pedal], 1.0, '%')}"
    steer = [math.degrees(angle) for angle in _numbers(samples, "steer")]
    if steer:
        yield "steering", f"{_side(steer[-1])}{_range(steer, 2.0, 'degrees')}"
    x, y = _numbers(samples, "x"), _numbers(samples, "y")
    if x and y:
        moved = math.hypot(max(x) - min(x), max(y) - min(y))
        yield (
            "position",
            f"x {x[-1]:.1f} m, y {y[-1]:.1f} m, {f'moved over {moved:.0f} m' if moved >= 1.0 else 'at rest'}",
        )
    distance = _numbers(samples, "lap_distance")
    if distance:
        yield "lap distance", f"{distance[-1]:.0f} m{_range(distance, 5.0, 'm')}"
    laps = _numbers(samples, "lap")
    if laps:
        others = f" (from {laps[0]:.0f})" if laps[0] != laps[-1] else ""
        yield "lap", f"{laps[-1]:.0f}{others}"
    time = _numbers(samples, "lap_time")
    if time:
        yield "lap time", f"{time[-1]:.1f} s"
    fuel = _numbers(samples, "fuel")
    if fuel:
        yield "fuel", f"{median(fuel[-9:]):.1f} L"


def _numbers(samples: Sequence[Sample], name: str) -> list[float]:
    return [float(value) for sample in samples if (value := getattr(sample, name)) is not None]


def _range(values: Sequence[float], least: float, unit: str) -> str:
    low, high = min(values), max(values)
    return f" ({low:,.0f} to {high:,.0f} {unit})" if high - low >= least else ""


def _gear(gear: int) -> str:
    return {-1: "reverse", 0: "neutral"}.get(gear, str(gear))


def _side(degrees: float) -> str:
    if abs(degrees) < STRAIGHT:
        return "straight"
    return f"{abs(degrees):.0f} degrees to the {'left' if degrees > 0.0 else 'right'}"
