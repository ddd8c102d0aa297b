"""A drive as columns: what truly happened, one number a row and channel, in the contract's units."""

from __future__ import annotations

import gzip
import json
import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Columns = dict[str, Floats]

SCALARS = (
    *("t", "lap", "lap_time", "last_lap_time", "lap_distance", "track_length", "x", "y", "z", "yaw", "yaw_rate"),
    *("speed", "vx", "vy", "ax", "ay", "throttle", "brake", "clutch", "steer", "gear", "engine_speed"),
    *("engine_speed_max", "edge_left", "edge_right", "fuel"),
)
WHEELS = ("wheel_fl", "wheel_fr", "wheel_rl", "wheel_rr")
MIRRORED = ("y", "yaw", "yaw_rate", "vy", "ay", "steer")
"""What changes its sign in a mirror that stands along the x axis."""


def columns_of(rows: Iterable[dict[str, Any]]) -> Columns:
    """The rows of the generic stream as columns; what a row lacks is 0."""
    kept = list(rows)
    columns = {name: np.array([row.get(name) or 0.0 for row in kept], dtype=np.float64) for name in SCALARS}
    columns["lap_time"] = np.maximum(columns["lap_time"], 0.0)
    wheels = np.array([row["wheel_speed"] for row in kept], dtype=np.float64)
    columns.update({name: wheels[:, i] for i, name in enumerate(WHEELS)})
    return columns


def recorded(path: Path, first_lap: int = 0) -> Columns:
    """Of a recorded run: from the grid (or 6 s before the line of `first_lap`) to 8 s behind the end of a whole lap."""
    with gzip.open(path, "rt", encoding="utf-8") as lines:
        rows = [json.loads(line) for line in lines]
    laps = np.array([row["lap"] for row in rows])
    t = np.array([row["t"] for row in rows])
    begin = 0 if first_lap == 0 else int(np.searchsorted(t, t[np.argmax(laps == first_lap)] - 6.0))
    end = int(np.searchsorted(t, t[np.argmax(laps == max(first_lap, 1) + 1)] + 8.0))
    return columns_of(rows[begin:end])


def mirrored(columns: Columns) -> Columns:
    """The same drive in a mirror: as true to physics, and every corner the other way."""
    return {name: -values if name in MIRRORED else values for name, values in columns.items()} | {
        "edge_left": columns["edge_right"],
        "edge_right": columns["edge_left"],
        "wheel_fl": columns["wheel_fr"],
        "wheel_fr": columns["wheel_fl"],
        "wheel_rl": columns["wheel_rr"],
        "wheel_rr": columns["wheel_rl"],
    }


def moved(columns: Columns, angle: float, dx: float, dy: float) -> Columns:
    """The same drive in another world frame."""
    c, s = math.cos(angle), math.sin(angle)
    x, y = columns["x"], columns["y"]
    yaw = np.remainder(columns["yaw"] + angle + math.pi, math.tau) - math.pi
    return columns | {"x": c * x - s * y + dx, "y": s * x + c * y + dy, "yaw": yaw}
