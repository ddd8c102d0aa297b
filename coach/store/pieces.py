"""Samples as they came, in pieces of a part of a second, and the pieces of a lap as one."""

from __future__ import annotations

from collections.abc import Sequence
from operator import attrgetter

import numpy as np

from coach.engine.lap import CHANNEL_DIGITS, TIME_DIGITS
from coach.store.packing import Floats, pack, unpack
from coach.vocabulary.sample import Sample

COLUMNS = (
    *("t", "lap_distance", "x", "y", "z", "yaw", "yaw_rate", "speed", "vx", "vy", "ax", "ay", "az"),
    *("throttle", "brake", "clutch", "steer", "gear", "engine_speed", "edge_left", "edge_right", "fuel"),
)
"""The channels of a sample that are kept, where they are sent."""
_take = attrgetter(*COLUMNS)


def pack_samples(samples: Sequence[Sample]) -> bytes:
    """The samples' channels, quickly: there are four such pieces a second. What was not sent is NaN, and a channel
    never sent is left out. `t` to the microsecond, the others to 4 digits, as a lap's grid has them."""
    table = np.array([_take(sample) for sample in samples], dtype=np.float64)  # None becomes NaN
    with np.errstate(over="ignore", invalid="ignore"):
        columns = {
            name: np.round(table[:, i], TIME_DIGITS if name == "t" else CHANNEL_DIGITS)
            for i, name in enumerate(COLUMNS)
            if not np.isnan(table[:, i]).all()
        }
    return pack(columns, quick=True)


def joined(blobs: Sequence[bytes]) -> dict[str, Floats]:
    """The columns of several pieces behind each other. Raises FormatError where one is damaged."""
    parts = [unpack(blob)[0] for blob in blobs]
    names = [name for name in COLUMNS if any(name in part for part in parts)]
    return {name: np.concatenate([part.get(name, np.full(len(part["t"]), np.nan)) for part in parts]) for name in names}
