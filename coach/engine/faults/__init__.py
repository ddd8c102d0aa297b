"""The faults that the engine sees, one file a family.

A new family is a class like `base.Family` or `base.Watch` in a file of its own, listed here.
"""

from __future__ import annotations

from coach.engine.faults.base import Family, Watch
from coach.engine.faults.braking import BrakingFamily
from coach.engine.faults.edges import EdgeWatch
from coach.engine.faults.gearbox import GearboxFamily
from coach.engine.faults.line import LineFamily
from coach.engine.faults.slides import SlideWatch
from coach.engine.faults.slowing import CoastingFamily, SpeedFamily
from coach.engine.faults.throttle import ThrottleFamily
from coach.engine.faults.turning import TurnInFamily
from coach.engine.faults.upshift import UpshiftWatch
from coach.engine.faults.wheels import LockWatch, WheelspinWatch

FAMILIES: tuple[Family, ...] = (
    BrakingFamily(),
    GearboxFamily(),
    LineFamily(),
    CoastingFamily(),
    SpeedFamily(),
    ThrottleFamily(),
    TurnInFamily(),
)
"""Judges of corner passes."""
WATCHES: tuple[type[Watch], ...] = (UpshiftWatch, SlideWatch, EdgeWatch, LockWatch, WheelspinWatch)
"""Judges of what may happen anywhere; a session makes one of each."""
