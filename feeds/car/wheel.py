"""One wheel: how it turns, and the forces of its tyre in one step."""

from __future__ import annotations

from feeds.car.spec import TyreSpec
from feeds.car.tyre import slip_forces

CREEP = 2.0
"""m/s: slower than this, slip is taken as sliding speed by it, so that a standing car has finite forces."""


def held(spin: float, most: float) -> float:
    """`spin` after dry friction that can change it by `most` at most: it stops a wheel and never turns it back."""
    if spin > most:
        return spin - most
    return spin + most if spin < -most else 0.0


class Wheel:
    """A wheel whose hub is at `x`, `y` m from the centre of gravity; `spin` in rad/s.

    A wheel's spin answers the tyre's longitudinal force in far less than a step at low speed. So `feel` hands that
    force on as what it does to the wheel within the step: with no other torque, the spin after the step is
    momentum / inertia, and both hold the tyre's share.
    """

    __slots__ = (
        "_along", "_own", "across", "inertia", "momentum", "most", "radius", "side", "sideways", "slip", "spin",
        "stiff", "tyre", "x", "y",
    )  # fmt: skip

    def __init__(self, tyre: TyreSpec, x: float, y: float, radius: float, inertia: float, spin: float) -> None:
        self.tyre, self.x, self.y, self.radius, self.spin = tyre, x, y, radius, spin
        self._own = self.inertia = inertia
        """kg m^2"""
        self.momentum = inertia * spin
        """kg m^2/s"""
        self._along = self.across = 0.0
        """m/s of the hub along the wheel's plane, and across it to the left"""
        self.slip = self.sideways = 0.0
        """as the step began: kappa = omega Re / (v cos alpha) - 1 (SAE J670: -1 is locked, positive drives; rolling
        backward, by the size of the speed) and tan alpha, positive to the left (ISO 8855)"""
        self.stiff = self.most = 0.0
        """N of longitudinal force for each m/s of sliding, and the most that there can be, N"""
        self.side = 0.0
        """N to the left"""

    def feel(self, dt: float, along: float, across: float, load: float, grip: float) -> None:
        """What the tyre does in the next `dt` s with `load` N on it and its hub at `along`, `across` m/s."""
        self._along, self.across = along, across
        over = abs(along)
        if over < CREEP:
            over = CREEP
        own, radius, spin = self._own, self.radius, self.spin
        self.slip = slip = (spin * radius - along) / over
        self.sideways = sideways = across / over
        stiff, stiff_across, self.most = slip_forces(self.tyre, load, slip, sideways, grip)
        self.side = -stiff_across * sideways
        self.stiff = stiff = stiff / over
        back = dt * radius * stiff
        self.inertia = own + radius * back
        self.momentum = own * spin + back * along

    def turn(self, dt: float, brake: float) -> None:
        """`dt` s with `brake` Nm and no drive."""
        self.spin = held(self.momentum / self.inertia, dt * brake / self.inertia)

    def sliding(self) -> float:
        """m/s that the tread slides backward over the ground, with the spin that the wheel has now."""
        return self.spin * self.radius - self._along
