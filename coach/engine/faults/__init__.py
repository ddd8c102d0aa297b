"""The faults that the engine sees, one file a family.

A new family is a class like `base.Family` in a file of its own, listed in `FAMILIES`.
"""

from __future__ import annotations

from coach.engine.faults.base import Family
from coach.engine.faults.gearbox import GearboxFamily
from coach.engine.faults.throttle import ThrottleFamily

FAMILIES: tuple[Family, ...] = (GearboxFamily(), ThrottleFamily())
"""In the order in which findings of one pass are logged."""
