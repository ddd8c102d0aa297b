"""Laps whose every number is known: a round circuit, driven to the left at a speed that may change at places."""

from __future__ import annotations

from collections.abc import Callable
from math import pi

import numpy as np

from coach.engine.lap import GridLap
from coach.review.model import KeptLap, KeptSession
from coach.vocabulary.events import CornerMark, LossPart

RADIUS = 400.0
LENGTH = 2 * pi * RADIUS
"""m"""
ROAD = 10.0
"""m wide; the car is 4 m from its right edge"""


def grid(speed: Callable[[float], float], radius: float = RADIUS, number: int = 1, position: bool = True) -> GridLap:
    """A lap at `speed` (m/s) by place (m)."""
    places = np.linspace(0.0, 2 * pi * radius, round(2 * pi * radius) + 1)
    speeds = np.array([speed(float(place)) for place in places])
    step = places[1] - places[0]
    time = np.concatenate([[0.0], np.cumsum(step * 0.5 * (1 / speeds[1:] + 1 / speeds[:-1]))])
    channels = {"speed": speeds, "throttle": np.full(len(places), 0.5), "gear": np.full(len(places), 4.0)}
    if position:
        angle = places / radius
        channels["x"], channels["y"] = radius * np.cos(angle), radius * np.sin(angle)
        channels["edge_left"], channels["edge_right"] = np.full(len(places), 6.0), np.full(len(places), 4.0)
    return GridLap(number, float(places[-1]), time, np.zeros(len(places)), channels)


def lap(number: int, driven: GridLap | None, clean: bool = True, parts: tuple[LossPart, ...] = ()) -> KeptLap:
    time = None if driven is None else driven.total
    return KeptLap(number, number - 1, 100.0 * number, time, clean, parts=parts, grid=driven)


def mark(corner: int, apex: float, coached: bool = True) -> CornerMark:
    at = [(apex + off) % LENGTH for off in (-100.0, -50.0, 0.0, 50.0)]
    return CornerMark(corner, "left", at[0], at[1], at[2], at[3], (at[2],), coached=coached)


def session_with(*laps: KeptLap, corners: tuple[CornerMark, ...] = ()) -> KeptSession:
    return KeptSession(track="round", car="car", laps=list(laps), corners=corners, length=LENGTH)
