"""Laps for the stages' tests, whose every number is chosen."""

from __future__ import annotations

from collections.abc import Sequence

from coach.practice.driven import Driven
from coach.vocabulary.events import Mark, Passed
from coach.vocabulary.marks import APEX, BRAKE, EXIT

ALLOWED = {BRAKE: 5.0, APEX: 1.1, EXIT: 1.1}
"""m that a hit may be off."""


def passed(corner: int, lap: int = 1, **off: float) -> Passed:
    """A pass of a corner with marks `brake`, `apex`, `exit`, so many m off; those not named hit it to the metre."""
    marks = [Mark(name, 100.0 + off.get(name, 0.0), off.get(name, 0.0), allowed) for name, allowed in ALLOWED.items()]
    return Passed(0.0, lap, corner, True, 0.0, tuple(marks))


def drive(
    driven: Driven,
    laps: int,
    time: float | None = 90.0,
    clean: bool = True,
    why_not: Sequence[str] = (),
    fuel: float | None = None,
    off: Sequence[float] = (0.0,),
    corners: int = 6,
) -> None:
    """`laps` laps; `off` m of the brake point, one a lap, again and again, and a tenth of it across the road."""
    for lap in range(laps):
        by = off[lap % len(off)]
        for corner in range(1, corners + 1):
            driven.passed(passed(corner, lap, brake=by, apex=by / 10.0, exit=-by / 10.0))
        driven.lap_over(time, clean, why_not, fuel)
