"""The faults that the engine sees, one file a family.

A new family is a class like `base.Family` or `base.Watch` in a file of its own, listed here.
"""

from __future__ import annotations

from coach.engine.faults.base import Family, Watch
from coach.engine.faults.braking import BrakingFamily
from coach.engine.faults.gearbox import GearboxFamily
from coach.engine.faults.line import LineFamily
from coach.engine.faults.slowing import CoastingFamily, SpeedFamily
from coach.engine.faults.throttle import ThrottleFamily

FAMILIES: tuple[Family, ...] = (
    BrakingFamily(),
    GearboxFamily(),
    LineFamily(),
    CoastingFamily(),
    SpeedFamily(),
    ThrottleFamily(),
)
"""Judges of corner passes."""
WATCHES: tuple[type[Watch], ...] = ()
"""Judges of what may happen anywhere; a session makes one of each."""
