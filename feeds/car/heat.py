"""The heat of four tyres: three thirds of tread and a carcass each; what they make of pressure and friction."""

from __future__ import annotations

from math import exp

from feeds.car.spec import CarSpec, TyreSpec
from feeds.car.tyre import pressure, temperature_grip

LEAN = 0.12
"""share of the heat that a full side force moves from one shoulder to the other"""
ACROSS = 25.0
"""W/K between a shoulder and the middle"""
HYSTERESIS = 0.6
"""share of the rolling resistance that heats the carcass"""


class TyreHeat:
    """Temperatures (degC) and what follows from them, by wheel in the order FL, FR, RL, RR.

    The car adds each step's friction work to `work` (J), and to `leaned` the same times side force by load, positive to
    the left; `settle` turns both into temperatures. The lists are live.
    """

    __slots__ = ("_air", "_roll", "core", "grip", "leaned", "pressure", "tread", "tyres", "work")

    def __init__(self, spec: CarSpec, temp: float | None = None) -> None:
        front, rear = spec.front_tyre, spec.rear_tyre
        self.tyres: list[TyreSpec] = [front, front, rear, rear]
        starts = [tyre.start_temp if temp is None else temp for tyre in self.tyres]
        self.tread = [[start] * 3 for start in starts]
        """inner, middle, outer; inner is nearest the car's centre"""
        self.core = list(starts)
        self.work = [0.0] * 4
        self.leaned = [0.0] * 4
        self.pressure = [0.0] * 4
        """kPa gauge"""
        self.grip = [1.0] * 4
        """share of the friction"""
        self._air = spec.air_temp
        self._roll = HYSTERESIS * spec.rolling
        for wheel in range(4):
            self._follow(wheel)

    def settle(self, dt: float, speed: float, loads: list[float]) -> None:
        """The heat of the last `dt` s at `speed` m/s and `loads` N goes where it goes."""
        for wheel, tyre in enumerate(self.tyres):
            third = tyre.tread_heat / 3.0
            heat = tyre.slip_share * self.work[wheel]
            lean = LEAN * tyre.slip_share * self.leaned[wheel]
            if wheel % 2:  # a force to the left loads the right shoulder: on the right wheels that is the outer one
                lean = -lean
            lean += tyre.camber_share * heat
            self.work[wheel] = self.leaned[wheel] = 0.0
            inner, middle, outer = tread = self.tread[wheel]
            core = self.core[wheel]
            standing, moving = tyre.tread_cooling
            # each exchange in closed form, so that no step is too long
            air = 1.0 - exp(-(standing + moving * speed) / tyre.tread_heat * dt)
            inward = 1.0 - exp(-tyre.inward / tyre.tread_heat * dt)
            across = 0.5 * (1.0 - exp(-2.0 * ACROSS / third * dt))
            tread[0] = inner + (heat / 3.0 + lean) / third
            tread[1] = middle + heat / 3.0 / third
            tread[2] = outer + (heat / 3.0 - lean) / third
            out, back = across * (tread[1] - tread[0]), across * (tread[1] - tread[2])
            tread[0] += out
            tread[1] -= out + back
            tread[2] += back
            given = 0.0
            for place in range(3):
                passed = inward * (tread[place] - core)
                given += passed * third
                tread[place] += air * (self._air - tread[place]) - passed
            given += self._roll * loads[wheel] * speed * dt
            core += given / tyre.core_heat
            self.core[wheel] = core + (1.0 - exp(-tyre.core_cooling / tyre.core_heat * dt)) * (self._air - core)
            self._follow(wheel)

    def _follow(self, wheel: int) -> None:
        tyre = self.tyres[wheel]
        self.pressure[wheel] = pressure(tyre.cold_pressure, tyre.cold_temp, self.core[wheel])
        self.grip[wheel] = temperature_grip(tyre, sum(self.tread[wheel]) / 3.0)
