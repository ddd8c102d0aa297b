"""What could be the car's speed: 0 while it stands, more than 0 for most of the drive."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feeds.finder.columns import Column
from feeds.finder.confirm import is_ours
from feeds.finder.evidence import Evidence
from feeds.finder.fields import Floats
from feeds.finder.signals import Mask, alike, mean_over

Rows = NDArray[np.intp]

MOVING = 0.15
"""of the greatest speed: below it the car is too slow for a ratio to tell much"""
GLANCE = 60
"""Rows at which a pair of columns is tried before it is looked at closely (choice)."""


WHEELS, WIDEST = 4, 64
"""Wheels of a car; bytes between their numbers at most."""
OF_ONE_CAR = (0.97, 0.05)
"""Least correlation of a wheel's speed with another's, and how far from 1 their ratio may be (choice)."""


@dataclass(slots=True)
class Speed:
    column: Column
    smooth: Floats
    rows: Mask
    """in which the car moves"""
    glance: Rows


def speeds_in(evidence: Evidence) -> list[Speed]:
    found = []
    standing = evidence.standing
    reach = evidence.reach
    for column in evidence.columns:
        if column.distinct < 40 or column.high <= 0.0 or column.low < -0.03 * column.high or column.field.type == "u64":
            continue
        values = column.values
        if standing.any() and np.quantile(np.abs(values[standing]), 0.98) > 0.01 * column.high:
            continue
        moving = evidence.driving & (values > MOVING * column.high)
        if moving.sum() < 0.5 * evidence.driving.sum() or moving.sum() < 200:
            continue
        moving[:reach] = moving[-reach:] = False
        if not is_ours(evidence, values):
            continue
        at_ = np.flatnonzero(moving)
        glance = at_[np.linspace(0, len(at_) - 1, GLANCE).astype(int)]
        found.append(Speed(column, mean_over(values, evidence.t, reach), moving, glance))
    return found


def is_wheel(speeds: list[Speed], column: Column) -> bool:
    """Whether it is one of just four like numbers at even distances: a wheel's speed, which slips."""
    f = column.field
    like = {f.offset}
    for other in (speed.column for speed in speeds):
        g = other.field
        if (g.kind, g.type, g.big) != (f.kind, f.type, f.big):
            continue
        sizes = float(np.abs(other.values).sum()) / max(float(np.abs(column.values).sum()), 1e-12)
        if abs(sizes - 1.0) <= OF_ONE_CAR[1] and alike(column.values, other.values) >= OF_ONE_CAR[0]:
            like.add(g.offset)
    for stride in range(f.width, WIDEST + 1):
        count = 1
        for way in (-stride, stride):
            at = f.offset + way
            while at in like:
                count, at = count + 1, at + way
        if count == WHEELS:
            return True
    return False
