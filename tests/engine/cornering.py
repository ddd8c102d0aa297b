"""One corner driven leg by leg, each of constant acceleration: passes whose times and speeds are algebra.

The corner as it should be driven: 50 m/s up to 100 m, brakes of 10 m/s^2 to 20 m/s (105 m), a touch of throttle that
holds the speed up to the apex at 235 m, then full throttle and 4 m/s^2.
"""

from __future__ import annotations

from array import array
from dataclasses import dataclass, replace

from coach.engine.faults.base import CornerPass, Family, Finding
from coach.engine.ledger import Bounds
from coach.engine.stretch import Stretch
from coach.engine.tape import CHANNELS, NAN
from tests.engine.handmade import bounds, corner_pass
from tests.physics.motion import Motion

RATES = (20.0, 60.0, 360.0)
"""Hz"""
FAST, SLOW, BRAKES, PULL = 50.0, 20.0, 10.0, 4.0
"""m/s, m/s, m/s^2, m/s^2"""
BRAKE_AT, ENTRY, APEX, EXIT, END = 100.0, 205.0, 235.0, 285.0, 735.0
WHERE: Bounds = replace(bounds(50.0, ENTRY, APEX, EXIT, END), behind=0.0, approach=0.0)
"""The ledger's braking begins a second before the brake point; the corner before lies at the line."""
RADIUS = SLOW**2 / 12.0
"""m: 12 m/s^2 at the speed of the corner"""


@dataclass(slots=True, frozen=True)
class Leg:
    """`metres` driven at a constant `pull` m/s^2 with the pedals as given."""

    metres: float
    pull: float
    throttle: float
    brake: float = 0.0


def fast(metres: float) -> Leg:
    """Full throttle at the top speed."""
    return Leg(metres, 0.0, 1.0)


def brakes(to: float, of: float = BRAKES, begins: float = FAST) -> Leg:
    """From `begins` m/s down `to` m/s at `of` m/s^2."""
    return Leg((begins**2 - to**2) / (2.0 * of), -of, 0.0, of / 12.0)


def coast(seconds: float, speed: float = SLOW) -> Leg:
    """Neither pedal, at one speed."""
    return Leg(seconds * speed, 0.0, 0.0)


def balance(metres: float, throttle: float = 0.3) -> Leg:
    """A touch of throttle that holds the speed."""
    return Leg(metres, 0.0, throttle)


def power(metres: float, pull: float = PULL) -> Leg:
    """Full throttle."""
    return Leg(metres, pull, 1.0)


def drive(
    legs: list[Leg], rate: float = 60.0, side: float = 1.0, upto: float = END + 20.0, radius: float = RADIUS
) -> Stretch:
    """The legs from 0 m and 0 s on, the last one lasting to `upto` m; pedals in whole per cent, as a source may round.

    `side` +1 turns left; `radius` m of the path between turn-in and exit, straight on elsewhere.
    """
    before = sum(leg.metres for leg in legs[:-1])
    last = legs[-1]
    legs = [*legs[:-1], Leg(max(upto - before, 1.0), last.pull, last.throttle, last.brake)]
    motion = Motion(FAST, [(leg.metres, leg.pull) for leg in legs])
    t = array("d", [i / rate for i in range(int(motion.time(min(upto, motion.length)) * rate) + 1)])
    d = array("d", [motion.place(at) for at in t])
    columns = {name: array("d", [NAN] * len(t)) for name in (*CHANNELS, "front", "rear")}
    driven = [legs[motion.leg(place)] for place in d]
    speed = [motion.speed(place) for place in d]
    turns = [side / radius if ENTRY <= place <= EXIT else 0.0 for place in d]
    columns["speed"] = array("d", speed)
    columns["throttle"] = array("d", [round(leg.throttle, 2) for leg in driven])
    columns["brake"] = array("d", [round(leg.brake, 2) for leg in driven])
    columns["gear"] = array("d", [3.0] * len(t))
    columns["yaw_rate"] = array("d", [v * k for v, k in zip(speed, turns, strict=True)])
    columns["ay"] = array("d", [v * v * k for v, k in zip(speed, turns, strict=True)])
    return Stretch(t, d, columns)


def usual_legs() -> list[Leg]:
    """The corner as it should be driven."""
    return [fast(BRAKE_AT), brakes(SLOW), balance(APEX - ENTRY), power(500.0)]


def reference(side: float = 1.0) -> Stretch:
    """It, in rows as dense as a reference's grid."""
    return drive(usual_legs(), 100.0, side)


def passed(
    legs: list[Leg], rate: float = 60.0, side: float = 1.0, radius: float = RADIUS, **more: object
) -> CornerPass:
    """A pass seen up to half a second behind the exit, as it is when it is judged."""
    return corner_pass(
        drive(legs, rate, side, EXIT + 15.0, radius),
        reference(side),
        WHERE,
        **more,  # type: ignore[arg-type]
    )


def names(family: Family, p: CornerPass) -> list[str]:
    return [finding.fault for finding in family.judge(p)]


def one(family: Family, p: CornerPass) -> Finding:
    (finding,) = family.judge(p)
    return finding
