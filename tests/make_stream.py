"""An invented circuit, a car and a driver of known faults: generic datagrams whose truth is known exactly.

    loop = test_loop()
    drive = make_drive(loop, laps=3, mistakes=[Mistake("late_throttle", lap=2, corner=1, size=0.5)])
    drive.rows     # one dict a datagram, the contract's keys, rounded as a source rounds
    drive.laps     # exact lap times, by the moment the line is crossed

The circuit is straights and arcs with linear ramps of curvature between them. The driver goes outside, inside,
outside on it, as fast as a friction circle, a torque curve and a gearbox allow. Speed is exact for constant
acceleration within each step of about 0.5 m, so position, speed and time agree to the rounding. Equal arguments
give equal rows. `python tests/make_stream.py --help` writes a stream to a file.
"""

from __future__ import annotations

import argparse
import bisect
import gzip
import json
import math
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import numpy as np
import scipy.interpolate
import scipy.optimize
from numpy.typing import NDArray

Array = NDArray[np.float64]
Row = dict[str, Any]

GRAVITY = 9.81
LIMIT = 8000.0
"""rev/min, the engine's limit, sent as engine_speed_max"""
RATIOS = (0.0, 430.0, 290.0, 215.0, 170.0, 140.0, 120.0)
"""rev/min for each m/s, by gear; index 0 unused"""
IDLE = 1000.0
SHIFT_UP, SHIFT_DOWN = 0.97 * LIMIT, 0.84 * LIMIT
CUT, BLIP = 0.08, 0.12
"""s: throttle cut of a shift up; throttle blip of a shift down, the next shift waits for its end"""
PULL, PEAK_REVS, REV_RANGE = 0.0445, 5800.0, 6500.0
DRAG, ROLLING = 0.00075, 0.12
LATERAL, BRAKING, TRACTION = 12.0, 10.5, 8.0
"""m/s^2 the tyres hold sideways, under brakes and under power"""
BRAKE_FULL = 13.0
"""m/s^2 at full brake pedal"""
CAR_WIDTH = 1.9


@dataclass(frozen=True, slots=True)
class Straight:
    """`fit` lets the circuit's closing change the length."""

    length: float
    fit: bool = False


@dataclass(frozen=True, slots=True)
class Arc:
    """A bend of `angle` rad (positive to the left) at `radius` m, its curvature ramping in and out over `ramp` m."""

    radius: float
    angle: float
    ramp: float = 20.0

    @property
    def length(self) -> float:
        return self.radius * abs(self.angle) + self.ramp


@dataclass(frozen=True, slots=True)
class Corner:
    """Where arc number `number` (from 1) begins, is half done and ends, m from the line; `side` +1 is left."""

    number: int
    begins: float
    middle: float
    ends: float
    side: int


class Circuit:
    """A closed centre line. `segments` in driving order from the start line; exactly two straights have `fit`."""

    def __init__(self, segments: Sequence[Straight | Arc], width: float = 11.0, name: str = "loop-a") -> None:
        self.name, self.width = name, width
        self.segments = _closed(segments)
        self.length = sum(segment.length for segment in self.segments)
        count = math.ceil(self.length / 0.5)
        self.step = self.length / count
        self.station = np.arange(count + 1) * self.step
        self.curvature, self.ramp_rate, self.heading = _bend(self.segments, self.station)
        self.x, self.y = _integrate(self.segments, self.station)
        self.corners = tuple(self._corners())

    @cached_property
    def racing_line(self) -> tuple[Array, Array, Array]:
        """The offset to the left (m) that bends least, and its first two derivatives by station."""
        count = max(int(self.length / 8.0), 50)
        step = self.length / count
        places = np.arange(count + 1) * step
        bend = np.interp(places[:-1], self.station, self.curvature)
        second = (np.roll(np.eye(count), 1, 0) - 2 * np.eye(count) + np.roll(np.eye(count), -1, 0)) / step**2
        jerk = 25.0 * (np.roll(second, -1, 0) - second) / step  # a hand turns the wheel smoothly
        system = np.vstack((second, jerk))
        wanted = np.concatenate((-bend, -25.0 * (np.roll(bend, -1) - bend) / step))
        room = self.width / 2 - CAR_WIDTH / 2 - 0.4
        least = scipy.optimize.lsq_linear(system, wanted, bounds=(-room, room), tol=1e-9).x
        line = scipy.interpolate.CubicSpline(places, np.append(least, least[0]), bc_type="periodic")
        return line(self.station), line(self.station, 1), line(self.station, 2)

    @cached_property
    def nearby(self) -> list[Corner | None]:
        """By station: the corner whose braking, bend or exit this is."""
        found: list[Corner | None] = [None] * len(self.station)
        for i in range(len(found)):
            for corner in self.corners:
                if corner.begins - 160.0 <= i * self.step <= corner.ends + 200.0:
                    before = found[i]
                    if before is None or i * self.step > before.ends:
                        found[i] = corner
        return found

    @cached_property
    def commits(self) -> dict[int, float]:
        """Where a plain flying lap passes half throttle after each corner's middle, m."""
        paths = [_path(self, random.Random(0), 0.0, 0.0) for _ in range(3)]
        _ceilings(paths)
        steps = len(self.station) - 1
        throttle = _Driver(self, (), {}).run(paths, 0, False, 0.0, 2 * steps).throttle[steps : 2 * steps]
        found = {}
        for corner in self.corners:
            index = math.ceil(corner.middle / self.step)
            while index < steps - 1 and throttle[index] <= 0.5:
                index += 1
            found[corner.number] = index * self.step
        return found

    def _corners(self) -> Iterable[Corner]:
        begins, number = 0.0, 0
        for segment in self.segments:
            if isinstance(segment, Arc):
                number += 1
                middle = begins + segment.length / 2
                yield Corner(number, begins, middle, begins + segment.length, 1 if segment.angle > 0 else -1)
            begins += segment.length


@cache
def test_loop() -> Circuit:
    """About 2.4 km, clockwise: a fast right, a left-right pair, a hairpin, an esse, two rights and a flat-out kink."""
    turn = math.radians
    return Circuit(
        [
            Straight(260.0, fit=True),
            Arc(55.0, turn(-95)),
            Straight(230.0, fit=True),
            Arc(38.0, turn(70)),
            Straight(12.0),
            Arc(38.0, turn(-70)),
            Straight(260.0),
            Arc(18.0, turn(-150), 14.0),
            Straight(170.0),
            Arc(400.0, turn(20), 30.0),
            Straight(140.0),
            Arc(70.0, turn(60)),
            Straight(120.0),
            Arc(60.0, turn(-80)),
            Straight(200.0),
            Arc(45.0, turn(-115)),
            Straight(240.0),
        ]
    )


test_loop.__test__ = False  # type: ignore[attr-defined]


def _bend(segments: Sequence[Straight | Arc], station: Array) -> tuple[Array, Array, Array]:
    """Curvature (1/m), its slope (1/m^2) and heading (rad) of the centre line at each station."""
    curvature, slope, heading = np.zeros_like(station), np.zeros_like(station), np.zeros_like(station)
    begins, turned = 0.0, 0.0
    for segment in segments:
        inside = (station >= begins - 1e-9) & (station <= begins + segment.length + 1e-9)
        along = np.clip(station[inside] - begins, 0.0, segment.length)
        heading[inside] = turned
        if isinstance(segment, Arc):
            peak = math.copysign(1 / segment.radius, segment.angle)
            left = segment.length - along
            rise = peak / segment.ramp
            entering, leaving = along < segment.ramp, left < segment.ramp
            curvature[inside] = np.where(entering, rise * along, np.where(leaving, rise * left, peak))
            slope[inside] = np.where(entering, rise, np.where(leaving, -rise, 0.0))
            heading[inside] += np.where(
                entering,
                rise * along**2 / 2,
                np.where(leaving, segment.angle - rise * left**2 / 2, peak * (along - segment.ramp / 2)),
            )
            turned += segment.angle
        begins += segment.length
    return curvature, slope, heading


def _integrate(segments: Sequence[Straight | Arc], station: Array) -> tuple[Array, Array]:
    """Centre-line position by Simpson's rule on the exact heading."""
    middle = (station[:-1] + station[1:]) / 2
    ends, halves = _bend(segments, station)[2], _bend(segments, middle)[2]
    width = np.diff(station) / 6
    x, y = (
        np.concatenate(([0.0], np.cumsum(width * (wave(ends[:-1]) + 4 * wave(halves) + wave(ends[1:])))))
        for wave in (np.cos, np.sin)
    )
    return x, y


def _closed(segments: Sequence[Straight | Arc]) -> list[Straight | Arc]:
    """The segments with the two `fit` straights stretched so that the line ends where it began."""
    turned = sum(segment.angle for segment in segments if isinstance(segment, Arc))
    free = [index for index, segment in enumerate(segments) if isinstance(segment, Straight) and segment.fit]
    if abs(abs(turned) - math.tau) > 1e-9 or len(free) != 2:
        raise ValueError(f"a circuit turns 360 degrees and has two straights to fit, not {math.degrees(turned):.1f}")
    heading = [sum(s.angle for s in segments[:index] if isinstance(s, Arc)) for index in free]
    ways = np.array([[math.cos(angle) for angle in heading], [math.sin(angle) for angle in heading]])
    closed = list(segments)
    for _ in range(4):
        length = sum(segment.length for segment in closed)
        x, y = _integrate(closed, np.linspace(0.0, length, 40001))
        for index, more in zip(free, np.linalg.solve(ways, [-x[-1], -y[-1]]), strict=True):
            closed[index] = Straight(closed[index].length + float(more), fit=True)
    if min(segment.length for segment in closed) <= 0:
        raise ValueError("the circuit closes only with a straight of negative length")
    return closed


@dataclass(frozen=True, slots=True)
class Mistake:
    """One fault to drive: `size` s of delay for `late_throttle`, rev/min over the limit for `early_downshift`."""

    kind: str
    lap: int
    corner: int
    size: float


@dataclass(frozen=True, slots=True)
class LapTruth:
    """`crossing` s: when this lap began; `time` s: exact, None for a lap that was not finished."""

    lap: int
    crossing: float
    time: float


@dataclass(frozen=True, slots=True)
class MistakeTruth:
    """What was driven: `begins` s and `station` m, where the throttle was due or the gear taken; `size` as driven."""

    mistake: Mistake
    begins: float
    station: float
    size: float


@dataclass(slots=True)
class Drive:
    """`rows`: the datagrams in order. `commits` m: where the plain lap passes half throttle, by corner."""

    rows: list[Row]
    laps: list[LapTruth]
    mistakes: list[MistakeTruth]
    commits: dict[int, float]

    def datagrams(self) -> list[bytes]:
        """The rows as they go over the wire."""
        return [json.dumps(row, separators=(",", ":")).encode() for row in self.rows]


def without(rows: Iterable[Row], *channels: str) -> list[Row]:
    """The rows without some channels: a poorer source."""
    return [{key: value for key, value in row.items() if key not in channels} for row in rows]


@dataclass(slots=True)
class _Path:
    """One lap's way round: arrays at the circuit's stations."""

    offset: Array
    heading: Array
    curvature: Array
    step: Array
    """m of path between a station and the next"""
    x: Array
    y: Array
    grip: Array
    bend: Array
    """1/m, how sharp the driver takes the way to be: the curvature without its sign and its ripple"""
    ceiling: list[float] = field(default_factory=list)
    """m/s that braking and cornering still allow"""


def _path(circuit: Circuit, chance: random.Random, scatter: float, wander: float) -> _Path:
    grip = np.ones_like(circuit.station)
    for corner in circuit.corners:
        near = (circuit.station >= corner.begins - 130.0) & (circuit.station <= corner.ends)
        grip[near] = 1.0 + scatter * max(-2.0, min(2.0, chance.gauss(0.0, 1.0)))
    offset, slope, bend = circuit.racing_line
    phase = circuit.station * math.tau / circuit.length
    for wave in (5, 8, 13):  # whole waves that are nought at the line, so that one lap joins the next
        size = wander * chance.uniform(-0.5, 0.5)
        offset = offset + size * (1 - np.cos(wave * phase)) / 2
        slope = slope + size * wave * math.tau / circuit.length * np.sin(wave * phase) / 2
        bend = bend + size * (wave * math.tau / circuit.length) ** 2 * np.cos(wave * phase) / 2
    along = 1 - offset * circuit.curvature
    square = along**2 + slope**2
    length = np.sqrt(square)
    swing = bend * along + slope * (slope * circuit.curvature + offset * circuit.ramp_rate)
    curvature = (circuit.curvature + swing / square) / length
    return _Path(
        offset=offset,
        heading=circuit.heading + np.arctan2(slope, along),
        curvature=curvature,
        step=(length[:-1] + length[1:]) / 2 * circuit.step,
        x=circuit.x - offset * np.sin(circuit.heading),
        y=circuit.y + offset * np.cos(circuit.heading),
        grip=grip,
        bend=np.abs(_smooth(curvature, round(12.0 / circuit.step))),
    )


def _smooth(values: Array, reach: int) -> Array:
    """A bell-weighted running mean over a closed lap, `reach` stations to either side."""
    bell = np.hanning(2 * reach + 3)[1:-1]
    lap = values[:-1]
    round_again = np.concatenate((lap[-reach:], lap, lap[: reach + 1]))
    return np.convolve(round_again, bell / bell.sum(), "valid")


def _ceilings(paths: list[_Path]) -> None:
    """Fill each path's speed ceiling, backwards over the whole drive: the next corner limits this straight."""
    ahead = 70.0
    for path in reversed(paths):
        corner = np.minimum(np.sqrt(LATERAL * path.grip / np.maximum(path.bend, 1e-6)), 90.0).tolist()
        grip, bends, steps = path.grip.tolist(), path.bend.tolist(), path.step.tolist()
        ceiling = [0.0] * len(corner)
        ceiling[-1] = min(corner[-1], ahead)
        for i in range(len(steps) - 1, -1, -1):
            speed = ceiling[i + 1]
            spare = 1 - min(1.0, speed * speed * bends[i + 1] / (LATERAL * grip[i])) ** 2
            slowing = BRAKING * grip[i] * math.sqrt(max(spare, 0.0)) + DRAG * speed * speed
            ceiling[i] = min(corner[i], math.sqrt(speed * speed + 2 * slowing * steps[i]))
        path.ceiling = ceiling
        ahead = ceiling[0]


def _pull(speed: float, gear: int) -> float:
    """m/s^2 at full throttle."""
    revs = max(speed * RATIOS[gear], 2500.0)
    return PULL * RATIOS[gear] * max(0.0, 1 - ((revs - PEAK_REVS) / REV_RANGE) ** 2)


@dataclass(slots=True)
class _Track:
    """What the car did at each step of the drive."""

    time: list[float] = field(default_factory=list)
    speed: list[float] = field(default_factory=list)
    pull: list[float] = field(default_factory=list)
    throttle: list[float] = field(default_factory=list)
    brake: list[float] = field(default_factory=list)
    gear: list[int] = field(default_factory=list)


class _Driver:
    """Goes as fast as the ceilings allow, except where told to err."""

    def __init__(self, circuit: Circuit, mistakes: Iterable[Mistake], commits: dict[int, float]) -> None:
        self.circuit = circuit
        self.commits = commits
        self.planned = {(m.lap, m.corner, m.kind): m for m in mistakes}
        self.truths: list[MistakeTruth] = []

    def run(self, paths: list[_Path], first: int, standing: bool, begins: float, most: int) -> _Track:
        """Drive: `most` steps from index `first` of the first path on, or to the end of the last."""
        track = _Track()
        time, speed = begins, 0.0 if standing else min(paths[0].ceiling[first], 45.0)
        gear = 1 if standing else next((g for g in range(2, 6) if speed * RATIOS[g] < SHIFT_UP), 6)
        cut_until = blip_until = held_until = -math.inf
        nearby = self.circuit.nearby
        for lap, path in enumerate(paths):
            bends, grip, steps = path.bend.tolist(), path.grip.tolist(), path.step.tolist()
            for i in range(first if lap == 0 else 0, len(steps)):
                if len(track.gear) == most:
                    break
                station = i * self.circuit.step
                corner = nearby[i]
                wanted = (path.ceiling[i + 1] ** 2 - speed**2) / (2 * steps[i])
                coasting = -(DRAG * speed**2 + ROLLING)
                share = min(1.0, speed**2 * bends[i] / (LATERAL * grip[i]))
                hold = TRACTION * math.sqrt(max(1 - share**2, 0.0))
                pull = _pull(speed, gear)
                full = min(pull, hold)
                if time < cut_until:
                    full = 0.0
                late = self._late(lap, corner, station, time) if corner is not None else None
                if late is not None:
                    held_until = late
                if time < held_until:
                    full = min(full, 0.12 * pull)
                gain = max(min(wanted, full + coasting), -14.0)
                throttle = max(0.0, min(1.0, (gain - coasting) / max(pull, 1e-9)))
                brake = max(0.0, min(1.0, (coasting - gain) / BRAKE_FULL))
                if brake > 0.02 and gear > 1 and time > blip_until:
                    asked = self._shift_down(lap, corner, station, time, speed, gear)
                    if asked:
                        gear, blip_until = gear - 1, time + BLIP
                elif brake == 0 and gear < 6 and speed * RATIOS[gear] > SHIFT_UP:
                    gear, cut_until = gear + 1, time + CUT
                shown = 0.45 if time < blip_until and brake > 0.02 else throttle
                track.time.append(time)
                track.speed.append(speed)
                track.pull.append(gain)
                track.throttle.append(shown)
                track.brake.append(brake)
                track.gear.append(gear)
                after = math.sqrt(max(speed**2 + 2 * gain * steps[i], 0.01))
                time += 2 * steps[i] / (speed + after)
                speed = after
        track.time.append(time)
        track.speed.append(speed)
        return track

    def _late(self, lap: int, corner: Corner, station: float, time: float) -> float | None:
        """Until when the throttle is held back, or None where it is not."""
        mistake = self.planned.get((lap, corner.number, "late_throttle"))
        if mistake is None or station < corner.middle:
            return None
        due = self.commits[corner.number]
        if station < due:
            return math.inf
        del self.planned[lap, corner.number, "late_throttle"]
        self.truths.append(MistakeTruth(mistake, time, due, mistake.size))
        return time + mistake.size

    def _shift_down(self, lap: int, corner: Corner | None, place: float, time: float, speed: float, gear: int) -> bool:
        revs = speed * RATIOS[gear - 1]
        if corner is not None:
            mistake = self.planned.get((lap, corner.number, "early_downshift"))
            if mistake is not None and revs < LIMIT + mistake.size:
                del self.planned[lap, corner.number, "early_downshift"]
                if revs <= LIMIT:
                    raise ValueError(f"corner {corner.number} is braked for at too low revs for an early downshift")
                self.truths.append(MistakeTruth(mistake, time, place, revs - LIMIT))
                return True
        return revs < SHIFT_DOWN


def make_drive(
    circuit: Circuit,
    laps: int,
    rate: float = 50.0,
    mistakes: Sequence[Mistake] = (),
    seed: int = 1,
    scatter: float = 0.0,
    wander: float = 0.0,
    standing: bool = True,
    run_up: float = 100.0,
    begins: float = 0.0,
    tail: float = 60.0,
) -> Drive:
    """Drive `laps` whole laps after a run-up of `run_up` m before the line and `tail` m more after the last.

    `rate` Hz; `scatter` is the spread (standard deviation) of grip used from corner to corner, 0.01 = 1 %;
    `wander` m moves the line; `begins` s is the clock at the first row. Lap 0 is the run-up.
    Raises ValueError where a mistake cannot be driven as asked.
    """
    chance = random.Random(seed)
    commits = dict(circuit.commits)
    paths = [_path(circuit, chance, scatter, wander) for _ in range(laps + 2)]
    _ceilings(paths)
    first = max(0, len(circuit.station) - 1 - round(run_up / circuit.step))
    driver = _Driver(circuit, mistakes, commits)
    steps = len(circuit.station) - 1
    last = steps - first + laps * steps + max(1, round(tail / circuit.step))
    track = driver.run(paths, first, standing, begins, last + 1)
    if driver.planned:
        raise ValueError(f"not driven: {', '.join(map(str, driver.planned))}")
    crossings = [track.time[steps - first + lap * steps] for lap in range(laps + 1)]
    truth = [LapTruth(lap + 1, crossings[lap], crossings[lap + 1] - crossings[lap]) for lap in range(laps)]
    ends = track.time[last]
    rows = _rows(circuit, paths, track, first, crossings, rate, ends)
    return Drive(rows, truth, driver.truths, commits)


def _rows(
    circuit: Circuit, paths: list[_Path], track: _Track, first: int, crossings: list[float], rate: float, ends: float
) -> list[Row]:
    steps = len(circuit.station) - 1
    rows: list[Row] = []
    ways = [_Way(path) for path in paths]
    begins = track.time[0]
    for count in range(int((ends - begins) * rate) + 1):
        t = round(begins + count / rate, 3)
        index = min(bisect.bisect_right(track.time, t) - 1, len(track.pull) - 1)
        index = max(index, 0)
        lap, node = divmod(first + index, steps)
        path = ways[lap]
        since = t - track.time[index]
        speed = track.speed[index] + track.pull[index] * since
        part = min(max((track.speed[index] * since + track.pull[index] * since**2 / 2) / path.step[node], 0.0), 1.0)
        offset = path.offset[node] + (path.offset[node + 1] - path.offset[node]) * part
        bend = path.curvature[node] + (path.curvature[node + 1] - path.curvature[node]) * part
        yaw = path.heading[node] + (path.heading[node + 1] - path.heading[node]) * part
        x, y = _between(path, node, part)
        gear, throttle = track.gear[index], track.throttle[index]
        speed = max(speed, 0.0)
        yaw_rate = speed * bend
        side = yaw_rate * CAR_WIDTH / 2 * 0.85
        wheels = [speed - side, speed + side, speed - side, speed + side]
        rows.append(
            {
                "t": t,
                "session": "practice",
                "track": circuit.name,
                "car": "car-a",
                "driver": "driver-a",
                "lap": lap,
                "lap_time": round(t - crossings[lap - 1], 3) if lap else 0.0,
                "last_lap_time": round(crossings[lap - 1] - crossings[lap - 2], 3) if lap > 1 else 0.0,
                "lap_distance": _to_mm((node + part) * circuit.step),
                "track_length": round(circuit.length, 3),
                "x": _to_mm(x),
                "y": _to_mm(y),
                "yaw": round(math.remainder(yaw, math.tau), 4),
                "yaw_rate": round(yaw_rate, 4),
                "speed": round(speed, 3),
                "vx": round(speed, 3),
                "vy": 0.0,
                "ax": round(track.pull[index], 2),
                "ay": round(speed * yaw_rate, 2),
                "throttle": round(throttle, 3),
                "brake": round(track.brake[index], 3),
                "clutch": 0.0,
                "steer": round(math.atan(2.6 * bend) * 12, 4),
                "gear": gear,
                "engine_speed": round(max(speed * RATIOS[gear], IDLE), 0),
                "engine_speed_max": LIMIT,
                "wheel_speed": [round(wheel, 2) for wheel in wheels],
                "edge_left": round(circuit.width / 2 - offset, 2),
                "edge_right": round(circuit.width / 2 + offset, 2),
                "car_width": CAR_WIDTH,
                "fuel": round(30.0 - 0.03 * (t - begins), 3),
            }
        )
    return rows


class _Way:
    """A path's arrays as lists of Python's own numbers: single ones of them are quicker to come by."""

    def __init__(self, path: _Path) -> None:
        self.offset, self.heading, self.curvature = path.offset.tolist(), path.heading.tolist(), path.curvature.tolist()
        self.step, self.x, self.y = path.step.tolist(), path.x.tolist(), path.y.tolist()


def _to_mm(value: float) -> float:
    """Rounded as NumPy rounds to three digits: the sign of a nought is kept."""
    return math.copysign(round(value * 1000.0) / 1000.0, value)


def _between(path: _Way, node: int, part: float) -> tuple[float, float]:
    """Cubic Hermite on the path's own headings."""
    step = path.step[node]
    square, cube = part * part, part**3
    weights = (2 * cube - 3 * square + 1, -2 * cube + 3 * square, cube - 2 * square + part, cube - square)
    begin, end = path.heading[node], path.heading[node + 1]
    x, y = (
        weights[0] * values[node]
        + weights[1] * values[node + 1]
        + step * (weights[2] * wave(begin) + weights[3] * wave(end))
        for values, wave in ((path.x, math.cos), (path.y, math.sin))
    )
    return x, y


def main() -> None:
    """Write one stream to a `.jsonl` or `.jsonl.gz` file."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("file", type=Path)
    parser.add_argument("--laps", type=int, default=4)
    parser.add_argument("--rate", type=float, default=50.0)
    parser.add_argument("--scatter", type=float, default=0.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--mistake", action="append", default=[], metavar="KIND:LAP:CORNER:SIZE")
    asked = parser.parse_args()
    mistakes = []
    for text in asked.mistake:
        kind, lap, corner, size = text.split(":")
        mistakes.append(Mistake(kind, int(lap), int(corner), float(size)))
    drive = make_drive(test_loop(), asked.laps, asked.rate, mistakes, asked.seed, asked.scatter)
    lines = b"".join(datagram + b"\n" for datagram in drive.datagrams())
    asked.file.write_bytes(gzip.compress(lines, mtime=0) if asked.file.suffix == ".gz" else lines)
    for lap in drive.laps:
        print(f"lap {lap.lap} {lap.time:.4f}")
    for truth in drive.mistakes:
        print(f"{truth.mistake.kind} lap {truth.mistake.lap} corner {truth.mistake.corner} size {truth.size:.1f}")


if __name__ == "__main__":
    main()
