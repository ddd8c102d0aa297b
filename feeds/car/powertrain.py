"""Engine, clutch, gearbox, differential and brakes of the driven axle, solved together for one step.

Clutch, differential and brakes are dry friction: each carries what would bring its two sides to one speed by the end
of the step, and no more than it can. So they slip, hold and let go without a switch between models and without blowing
up, and a lower gear that the wheels are too fast for drags them: the engine's inertia, by the square of the ratio, is
on the axle.
"""

from __future__ import annotations

from feeds.car.engine import Engine
from feeds.car.gearbox import Gearbox
from feeds.car.spec import RPM, CarSpec, EngineSpec
from feeds.car.wheel import Wheel, held

OPEN_BELOW = 0.9
"""of idle: the anti-stall clutch is open there"""


def capacity(spec: EngineSpec, spin: float) -> float:
    """Nm that the anti-stall clutch carries at `spin` rad/s of the engine: none near idle, all from `launch` on."""
    opens = OPEN_BELOW * spec.idle
    closed = (spin * RPM - opens) / (spec.launch - opens)
    return spec.clutch * min(max(closed, 0.0), 1.0)


class Powertrain:
    """`spin` of the engine in rad/s, `burnt` L of fuel since the car was built."""

    __slots__ = ("_burn", "_inertia", "_locking", "_preload", "box", "burnt", "engine", "spin")

    def __init__(self, spec: CarSpec, gear: int, wheel_spin: float) -> None:
        self.engine = Engine(spec.engine)
        self.box = Gearbox(spec, gear)
        idle = spec.engine.idle / RPM
        self.spin = max(idle, self.box.ratio * wheel_spin)
        self.burnt = 0.0
        self._inertia = spec.engine.inertia
        self._preload, self._locking = spec.preload, spec.locking
        self._burn = spec.engine.burn * 1e-6

    def turn(self, dt: float, throttle: float, pedal: float, brake: float, left: Wheel, right: Wheel) -> None:
        """Turn the two driven wheels for `dt` s.

        `throttle` (negative: there is no fuel) and clutch `pedal` in 0..1, `brake` Nm at each wheel.
        """
        spin, box = self.spin, self.box
        burning = 0.0 if box.cut or throttle < 0.0 else self.engine.combustion(spin, throttle)
        self.burnt += burning * spin * self._burn * dt
        after = spin + dt / self._inertia * (burning - self.engine.friction(spin))

        inertia_l, inertia_r, stop = left.inertia, right.inertia, dt * brake
        spin_l, spin_r = left.momentum / inertia_l, right.momentum / inertia_r
        through = 0.0
        most = (1.0 - pedal) * box.closed * capacity(self.engine.spec, spin) if box.ratio else 0.0
        if most > 0.0:
            half = 0.5 * box.ratio
            # the brakes are taken to act as they do now; `held` below sees to a wheel that they would turn back
            slow_l = stop / inertia_l * ((left.spin > 0.0) - (left.spin < 0.0))
            slow_r = stop / inertia_r * ((right.spin > 0.0) - (right.spin < 0.0))
            apart = after - half * (spin_l - slow_l + spin_r - slow_r)
            through = apart / (dt * (1.0 / self._inertia + half * half * (1.0 / inertia_l + 1.0 / inertia_r)))
            through = min(max(through, -most), most)
            after -= dt * through / self._inertia
            spin_l += dt * half * through / inertia_l
            spin_r += dt * half * through / inertia_r
        self.spin = after if after > 0.0 else 0.0

        couple = (spin_r - spin_l) / (1.0 / inertia_l + 1.0 / inertia_r)
        most = 0.5 * dt * (self._preload + self._locking * abs(box.ratio * through))
        couple = min(max(couple, -most), most)
        left.spin = held(spin_l + couple / inertia_l, stop / inertia_l)
        right.spin = held(spin_r - couple / inertia_r, stop / inertia_r)
