"""The grip lap: the lap that the driver's own line allows with the grip that they have shown elsewhere.

Three passes over the line. Each place has a greatest speed, v^2 |curvature| = ay_max(v). Forwards from the slowest of
these places no speed is greater than the pull allows, backwards none than the brakes allow; beside cornering both have
what the tyres have left. On a stadium of two straights of 400 m and two half circles of 50 m, with 11.772 m/s^2
sideways and under brakes and a pull of 5 m/s^2, the lap takes 32.33424 s (closed form, in the tests).
"""

from __future__ import annotations

from math import sqrt

import numpy as np

from coach.engine.grip import BRAKES, FASTEST, Envelope, Forces, forces
from coach.engine.lap import CHANNEL_DIGITS, TIME_DIGITS, Floats, GridLap

TRIES = 25
"""Rounds in which the cornering speed and the limit at that speed settle on each other."""
STRAIGHTEST = 1e-6
"""1/m: a radius of 1,000 km has no cornering speed worth a figure."""
FEET = 0.15
"""s, half the time in which brakes come on, so that they begin that much before the brake point of the profile: a foot
changes over in 0.2 to 0.3 s (common practice)."""
SHORTEST = 1e-6
"""m: a car that stands goes no way."""
PEDAL = 0.02
"""Pedal travel that is rounding and not meant."""
KEPT = ("x", "y", "edge_left", "edge_right")
"""Channels of the line itself."""


def grip_lap(lap: GridLap, envelope: Envelope) -> GridLap | None:
    """The grip lap on the line of `lap`; None where nothing tells how the line turns.

    It is nowhere slower than `lap` itself, which was driven after all: where that braked harder than the limit, the
    grip lap brakes as it did, and where it still comes out slower, it is the lap. Gears are left out, and pedals are
    what its accelerations ask for.
    """
    seen = forces(lap)
    if seen is None:
        return None
    speed, time = seen.speed, lap.time
    ways = 0.5 * (speed[1:] + speed[:-1]) * np.diff(time)  # the car's own way, and not the centre line's
    slowed = (speed[:-1] ** 2 - speed[1:] ** 2) / (2.0 * np.maximum(ways, SHORTEST))
    harder = -seen.along >= np.maximum(_left_along(seen, envelope), BRAKES)
    possible = speed_profile(seen.curvature[:-1], ways, envelope, np.where(harder[:-1], slowed, np.nan))
    quick = np.maximum(np.append(possible, possible[0]), speed)
    quick[0] = quick[-1] = max(quick[0], quick[-1])
    steps = 2.0 * ways / np.maximum(quick[1:] + quick[:-1], 1e-3)
    least = 10.0**-TIME_DIGITS
    clock = np.round(np.concatenate([[0.0], np.cumsum(np.maximum(steps, 2.0 * least))]), TIME_DIGITS)
    channels = {name: column for name in KEPT if (column := lap.get(name)) is not None}
    channels["speed"] = np.round(quick, CHANNEL_DIGITS)
    channels["throttle"], channels["brake"] = _pedals(seen, quick, ways, envelope)
    if "x" not in channels or "y" not in channels:
        channels["yaw_rate"] = np.round(seen.curvature * quick, CHANNEL_DIGITS)
    lateral = np.round(np.abs(seen.curvature) * quick * quick, CHANNEL_DIGITS)
    return GridLap(lap.number, lap.length, clock, lateral, channels, lap.track, lap.car)


def speed_profile(curvature: Floats, ways: Floats, envelope: Envelope, braked: Floats | None = None) -> Floats:
    """m/s at each place of a closed line: `curvature` 1/m, shape (n,), and `ways` m from each place to the next, (n,).

    The three passes; a closed line has a slowest corner, and each pass begins there. Between two places acceleration
    is constant, so that constant limits come out exact. `braked` (n,), m/s^2 or NaN: what stands for the limit of the
    brakes from a place to the next.
    """
    bends = np.abs(curvature)
    corner = _corner_speeds(bends, envelope)
    known = np.full(len(bends), np.nan) if braked is None else braked
    first = int(corner.argmin())
    bends, top, ways, known = (np.roll(column, -first) for column in (bends, corner, ways, known))
    between = 0.5 * (bends + np.roll(bends, -1))
    turn, way, shown, count = between.tolist(), ways.tolist(), known.tolist(), len(top)
    limits = _Limits(envelope)
    speed = top.tolist()
    for i in range(count - 1):
        v = speed[i]
        reached = sqrt(v * v + 2.0 * limits.power(v, turn[i]) * way[i])
        if reached < speed[i + 1]:
            speed[i + 1] = reached
    following = speed[0]
    for i in range(count - 1, -1, -1):
        hard = shown[i] if shown[i] == shown[i] else limits.brakes(following, turn[i])
        reached = sqrt(max(0.0, following * following + 2.0 * hard * way[i]))
        if reached < speed[i]:
            speed[i] = reached
        following = speed[i]
    return np.roll(np.array(speed), first)


def _left_along(seen: Forces, envelope: Envelope) -> Floats:
    """m/s^2 that the brakes had left at each place, beside what was used across."""
    grid, e = np.arange(FASTEST + 1.0), envelope.exponent
    share = np.minimum(seen.across / np.interp(seen.speed, grid, envelope.lateral), 1.0)
    left: Floats = np.interp(seen.speed, grid, envelope.braking) * (1.0 - share**e) ** (1.0 / e)
    return left


def _corner_speeds(bends: Floats, envelope: Envelope) -> Floats:
    """m/s: where v^2 |curvature| is the limit at v, from above, at most `FASTEST`."""
    grid = np.arange(FASTEST + 1.0)
    speed = np.full(len(bends), float(FASTEST))
    for _ in range(TRIES):
        limit = np.interp(speed, grid, envelope.lateral)
        speed = np.minimum(np.sqrt(limit / np.maximum(bends, STRAIGHTEST)), FASTEST)
    return speed


class _Limits:
    """The envelope read at a speed beside a curvature, in plain floats: it is asked thousands of times a lap."""

    def __init__(self, envelope: Envelope) -> None:
        self._lateral: list[float] = envelope.lateral.tolist()
        self._braking: list[float] = envelope.braking.tolist()
        self._traction: list[float] = envelope.traction.tolist()
        self._pull: list[float] = envelope.pull.tolist()
        self._exponent = envelope.exponent

    def power(self, v: float, turn: float) -> float:
        """m/s^2: the engine's pull, or what the tyres leave of theirs."""
        i = min(int(v), FASTEST - 1)
        part = min(v - i, 1.0)
        pull = self._pull[i] + part * (self._pull[i + 1] - self._pull[i])
        tyres = self._traction[i] + part * (self._traction[i + 1] - self._traction[i])
        return min(pull, tyres * self._rest(v, turn, i, part))

    def brakes(self, v: float, turn: float) -> float:
        """m/s^2: what the tyres leave for braking."""
        i = min(int(v), FASTEST - 1)
        part = min(v - i, 1.0)
        tyres = self._braking[i] + part * (self._braking[i + 1] - self._braking[i])
        return tyres * self._rest(v, turn, i, part)

    def _rest(self, v: float, turn: float, i: int, part: float) -> float:
        share = turn * v * v / (self._lateral[i] + part * (self._lateral[i + 1] - self._lateral[i]))
        if share >= 1.0:
            return 0.0
        e = self._exponent
        rest: float = (1.0 - share**e) ** (1.0 / e)
        return rest


def _pedals(seen: Forces, speed: Floats, ways: Floats, envelope: Envelope) -> tuple[Floats, Floats]:
    """Throttle and brake that the speeds ask for, 0..1, where a car without pedals slows by `envelope.coasting`.

    Where the lap is as quick as the driver's own, its pedals are the driver's.
    """
    gained = (speed[1:] ** 2 - speed[:-1] ** 2) / (2.0 * np.maximum(ways, SHORTEST))
    along = 0.5 * (np.append(gained, gained[0]) + np.concatenate([[gained[-1]], gained]))
    grid = np.arange(FASTEST + 1.0)
    full, brakes = np.interp(speed, grid, envelope.full), np.interp(speed, grid, envelope.braking)
    free = envelope.coasting
    throttle: Floats = np.clip((along + free) / np.maximum(full + free, 1e-3), 0.0, 1.0)
    time = np.concatenate([[0.0], np.cumsum(2.0 * ways / np.maximum(speed[1:] + speed[:-1], 1e-3))])
    ahead, behind = np.interp(time + FEET, time, speed), np.interp(time - FEET, time, speed)
    ramped = (ahead - behind) / (2.0 * FEET)
    brake: Floats = np.clip(-(ramped + free) / np.maximum(brakes - free, 1e-3), 0.0, 1.0)
    throttle[throttle < PEDAL], brake[brake < PEDAL] = 0.0, 0.0
    throttle[throttle > 1.0 - PEDAL] = 1.0
    if seen.throttle is not None and seen.brake is not None:
        own = speed <= seen.speed
        throttle, brake = np.where(own, seen.throttle, throttle), np.where(own, seen.brake, brake)
    throttle = np.where(brake > PEDAL, 0.0, throttle)  # without gears there are no blips
    return throttle.round(CHANNEL_DIGITS), brake.round(CHANNEL_DIGITS)
