"""What a person does in the guided steps, made: a car that stands, pedals and wheel that a person moves.

Ramps and not steps, a reaction time, a hand that is not quite still, an engine with inertia. The drive follows, from
its first place; one that begins rolling gets a launch in front of it.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field

import numpy as np

from feeds.finder import Step
from tests.finder.columns import WHEELS, Columns, Floats

LAUNCH = 4.5
"""m/s^2 with which a drive that begins rolling is led in (choice)."""
IDLE_JITTER = 12.0
"""rev/min"""


@dataclass
class Hand:
    """A pedal's or wheel's travel over time: points (s, value), straight between them."""

    points: list[tuple[float, float]] = field(default_factory=list)

    def go(self, at: float, value: float, within: float) -> float:
        """From `at` on to `value` in `within` s; when it is there."""
        before = self.points[-1][1] if self.points else 0.0
        self.points += [(at, before), (at + within, value)]
        return at + within

    def over(self, t: Floats) -> Floats:
        """Values at times."""
        if not self.points:
            return np.zeros_like(t)
        at, value = zip(*self.points, strict=True)
        return np.interp(t, at, value)


def ratios(columns: Columns) -> dict[int, float]:
    """rev/min for one m/s in each gear of a drive; gears that it never used are guessed from their neighbours."""
    speed, gear, engine = columns["speed"], columns["gear"], columns["engine_speed"]
    known = {}
    for number in range(1, 9):
        rows = (gear == number) & (speed > 8.0) & (columns["clutch"] < 0.05)
        if rows.sum() > 20:
            known[number] = float(np.median(engine[rows] / speed[rows]))
    for number in range(min(known) - 1, 0, -1):
        known[number] = known[number + 1] * 1.35
    return known


@dataclass(frozen=True)
class Prelude:
    """The columns from standing still to the end of the drive, and the steps in time of the stream's clock."""

    columns: Columns
    steps: list[Step]


def led_in(drive: Columns, seed: int, clutch: bool = True, gears: bool = True) -> Prelude:
    """`drive` behind the guided steps; without `clutch` or `gears` those steps are not done."""
    rng = random.Random(seed)
    noise = np.random.default_rng(seed)
    rate = 1.0 / float(np.median(np.diff(drive["t"])))
    first = {name: float(values[0]) for name, values in drive.items()}
    by_gear = ratios(drive)
    limit = float(drive["engine_speed_max"][0]) or float(drive["engine_speed"].max()) * 1.02
    idle = min(max(float(drive["engine_speed"].min()), 750.0), 1400.0)
    throttle, brake, pedal, wheel, lever = Hand(), Hand(), Hand(), Hand(), Hand()
    lock = max(2.0 * float(np.abs(drive["steer"]).max()), 2.0)

    spans: list[tuple[str, float, float]] = []
    now = rng.uniform(0.5, 2.0)

    def pause() -> float:
        return rng.uniform(0.4, 1.1)

    def twice(hand: Hand, at: float) -> float:
        for _ in range(2):
            at = hand.go(at, 1.0, rng.uniform(0.12, 0.5)) + rng.uniform(0.5, 1.4)
            at = hand.go(at, 0.0, rng.uniform(0.10, 0.4)) + rng.uniform(0.5, 1.2)
        return at

    def aside(way: float, at: float) -> float:
        at = wheel.go(at, way * lock, rng.uniform(0.5, 1.5)) + rng.uniform(0.2, 0.8)
        return wheel.go(at, 0.0, rng.uniform(0.5, 1.5)) + 0.2

    def span(name: str, begins: float, ends: float) -> float:
        spans.append((name, begins, ends))
        return ends + rng.uniform(0.3, 1.5)

    now = span("still", now, now + rng.uniform(3.0, 5.0))
    now = span("rev", now, twice(throttle, now + pause()) + rng.uniform(0.5, 1.5))
    now = span("brake", now, twice(brake, now + pause()))
    if clutch:
        now = span("clutch", now, twice(pedal, now + pause()))
    now = span("left", now, aside(1.0, now + pause()))
    now = span("right", now, aside(-1.0, now + pause()))
    if gears:
        held = pedal if clutch else brake
        at = held.go(now + pause(), 1.0, 0.3)
        top = max(by_gear)
        for number in (*range(1, top + 1), *range(top - 1, -1, -1)):
            at += rng.uniform(0.3, 0.9)
            lever.go(at, float(number), 1e-3)
        now = span("gears", now, held.go(at + 0.4, 0.0, 0.3) + 0.3)
    stood = now + 0.5

    speed0 = first["speed"]
    rolls = speed0 > 1.0
    until = stood + (speed0 / LAUNCH if rolls else 0.0)
    t = np.arange(0.0, until, 1.0 / rate)
    moving = np.clip(t - stood, 0.0, None)
    speed = LAUNCH * moving if rolls else np.zeros_like(t)
    way = LAUNCH * moving**2 / 2.0
    whole = LAUNCH * (until - stood) ** 2 / 2.0 if rolls else 0.0
    gear = np.round(lever.over(t))
    if rolls:
        ladder = sorted(by_gear)
        for i in np.flatnonzero(t >= stood - 0.3):
            gear[i] = next((g for g in ladder if speed[i] * by_gear[g] < 0.88 * limit), ladder[-1])
        throttle.go(stood, 0.75, 0.3)
    pressed = throttle.over(t)
    engine = np.empty_like(t)
    turns = idle
    for i in range(len(t)):
        aim = idle + pressed[i] * (1.04 * limit - idle)
        turns += (aim - turns) / rate / (0.22 if aim > turns else 0.5)
        if t[i] >= stood and rolls:
            turns = max(speed[i] * by_gear[int(gear[i])], min(3200.0, idle + 6000.0 * moving[i]))
        engine[i] = min(turns, limit * 1.004) + noise.normal(0.0, IDLE_JITTER)

    made = {name: np.full(len(t), value) for name, value in first.items()}
    made["t"] = first["t"] - until + t
    made["x"] = first["x"] + (way - whole) * math.cos(first["yaw"])
    made["y"] = first["y"] + (way - whole) * math.sin(first["yaw"])
    made["lap_distance"] = first["lap_distance"] + way - whole
    made |= {"speed": speed, "vx": speed.copy(), "vy": np.zeros_like(t), "yaw_rate": noise.normal(0.0, 2e-4, len(t))}
    made |= {name: speed + noise.normal(0.0, 1e-3, len(t)) * (speed > 0) for name in WHEELS}
    made["ax"] = np.where(speed > 0.0, LAUNCH, 0.0) + noise.normal(0.0, 0.02, len(t))
    made["ay"] = noise.normal(0.0, 0.02, len(t))
    made["throttle"], made["brake"] = pressed, brake.over(t)
    made["clutch"] = pedal.over(t)
    made["steer"] = wheel.over(t) + noise.normal(0.0, 1e-3, len(t))
    made |= {"gear": gear, "engine_speed": engine}
    made["lap_time"] = np.full(len(t), first["lap_time"])
    columns = {name: np.concatenate([made[name], values]) for name, values in drive.items()}
    spans.append(("drive", now, float(drive["t"][-1]) - first["t"] + until))
    steps = [Step(name, begins + made["t"][0], ends + made["t"][0]) for name, begins, ends in spans]
    return Prelude(columns, steps)
