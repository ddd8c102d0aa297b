"""What is odd about the values of a stream: units, signs and axes that do not agree with each other.

Pure: samples in, sentences out. Only what physics and everyday ranges say; a stream that is merely poor is not odd.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from coach.vocabulary.sample import Sample

ENOUGH = 40
"""samples in movement under which nothing is said of what needs movement: a second or less (choice)."""
MOVES = 5.0
"""m/s above which a car is under way: below, a turn of the wheel on the spot looks odd and is not (choice)."""
PACE = 0.1
"""share by which the source's clock may differ from time before it is odd (choice)."""
LONGEST_STEP = 0.5
"""s between two samples over which nothing is compared: it may have been set down elsewhere meanwhile (choice)."""
FASTEST = 140.0
"""m/s, 504 km/h, that no racing car passes on a circuit (common practice)."""
FIT = 0.06
"""share by which two measures of one thing may differ in the mean before it is odd (choice)."""
CLEAR = 0.5
"""Correlation over which two channels clearly go together, or against each other (choice)."""
STANDARD_GRAVITY = 9.80665
"""m/s^2 (ISO 80000-3)."""
KMH, MPH = 3.6, 3600.0 / 1609.344
"""of one m/s; the international mile is 1,609.344 m (NIST SP 811)."""
DEGREES = 180.0 / math.pi
HARDEST = 8.0
"""g: no car corners or brakes harder on a circuit (common practice)."""
LOCK = 20.0
"""rad: more than three turns of a steering wheel to one side is no car's (common practice)."""
CHANGES = 2.0
"""m/s^2 over which a car clearly gains speed, or loses it (choice)."""
TURNS = 0.05
"""rad/s of yaw that count as a turn (choice)."""
CHORD = 6
"""samples between two places that give a path's direction: between neighbours the digits of x and y show (choice)."""
SLOWEST_ENGINE, FASTEST_ENGINE = 300.0, 25_000.0
"""rev/min between which an engine runs (common practice)."""
HOTTEST_TYRE = 180.0
"""degC, beyond what a tyre's tread bears (common practice)."""
SOFTEST_TYRE = 50.0
"""kPa, under which no tyre is driven: 0.5 bar or 7 psi (common practice)."""

Column = NDArray[np.float64]


def oddities(samples: Sequence[Sample]) -> list[str]:
    """A sentence for each thing that does not fit, the weightiest first; empty where all agrees."""
    columns = _Columns(samples)
    return [sentence for look in _LOOKS for sentence in look(columns)]


def clock(received: Sequence[float], t: Sequence[float]) -> str | None:
    """What is odd about the source's clock: it stands, or does not run with time. Both in s, one a sample."""
    if len(t) < ENOUGH:
        return None
    took = np.diff(np.array(received, float))
    ran = np.diff(np.array(t, float))
    if not ran.any():
        return "the clock t stands still: the source is paused, or t is another field"
    good = (ran > 0.0) & (took < LONGEST_STEP)  # not over pauses and restarts
    if good.sum() < ENOUGH or not took[good].sum() > 0.0:
        return None
    pace = float(ran[good].sum() / took[good].sum())
    if abs(pace - 1.0) < PACE:
        return None
    unit = ": it seems to be in ms" if _is_about(pace, 1000.0) else ": it is meant in s"
    return f"the clock t runs {pace:.4g} times as fast as time{unit}"


class _Columns:
    """Channels of all samples; nan where a sample has none."""

    def __init__(self, samples: Sequence[Sample]) -> None:
        self._samples = samples
        self._made: dict[str, Column] = {}
        self.t = np.array([sample.t for sample in samples], float)

    def of(self, name: str) -> Column:
        if name not in self._made:
            self._made[name] = np.array([_number(getattr(sample, name)) for sample in self._samples], float)
        return self._made[name]

    def wheels(self, name: str) -> Column:
        values = [getattr(sample, name) for sample in self._samples]
        return np.array([np.nan if value is None else float(np.median(value)) for value in values], float)

    def slope(self, values: Column) -> Column:
        """Change of the values a second, from each sample to the next; nan where that is too far."""
        step = np.diff(self.t)
        good = (step > 0.0) & (step < LONGEST_STEP)
        slope: Column = np.divide(np.diff(values), step, out=np.full(step.size, np.nan), where=good)
        return slope

    def turning(self) -> Column:
        """rad/s by which the path of x and y turns to the left, at each sample; nan where that cannot be told."""
        turning, took = np.full(self.t.size, np.nan), self.t[2 * CHORD :] - self.t[: -2 * CHORD]
        if took.size:
            place = self.of("x") + 1j * self.of("y")
            way = place[CHORD:] - place[:-CHORD]
            turned = np.angle(way[CHORD:] * way[:-CHORD].conj())
            good = (took > 0.0) & (took < 4.0 * LONGEST_STEP) & np.isfinite(turned)
            turning[CHORD:-CHORD] = np.divide(2.0 * turned, took, out=np.full(took.size, np.nan), where=good)
        return turning


def _number(value: float | None) -> float:
    return math.nan if value is None else float(value)


def _between(values: Column) -> Column:
    """At the middle of each step, as a slope is."""
    return (values[1:] + values[:-1]) / 2.0


def _known(*columns: Column) -> tuple[Column, ...]:
    """The rows that all of them have."""
    good = np.logical_and.reduce([np.isfinite(column) for column in columns])
    return tuple(column[good] for column in columns)


def _ratio(one: Column, other: Column) -> float | None:
    """How many times `other` `one` is, over all; None where there is too little to say."""
    one, other = _known(one, other)
    if one.size < ENOUGH or not np.abs(other).sum() > 0.0:
        return None
    return float(np.dot(one, other) / np.dot(other, other))


def _together(one: Column, other: Column) -> float | None:
    """The correlation; None where there is too little, or one of them stands."""
    one, other = _known(one, other)
    if one.size < ENOUGH or one.std() < 1e-9 or other.std() < 1e-9:
        return None
    return float(np.corrcoef(one, other)[0, 1])


def _is_about(value: float, wanted: float) -> bool:
    return abs(value / wanted - 1.0) < FIT


def _speed(columns: _Columns) -> Iterator[str]:
    speed = columns.of("speed")
    known = speed[np.isfinite(speed)]
    if known.size and known.max() > FASTEST:
        yield f"speed reaches {known.max():.0f} m/s, {known.max() * KMH:.0f} km/h: is it sent in another unit?"
    if known.size and known.min() < -1.0:
        yield "speed is negative: it is meant without a direction"
    if known.size >= ENOUGH and known.max() > MOVES:
        yield from _against_position(columns, speed)
        yield from _against_distance(columns, speed)
        yield from _wheels(columns, speed)


def _against_position(columns: _Columns, speed: Column) -> Iterator[str]:
    x, y, z = (columns.slope(columns.of(name)) for name in ("x", "y", "z"))
    middle = _between(speed)
    middle = np.where(middle > MOVES, middle, np.nan)
    ratio = _ratio(middle, np.hypot(x, y))
    if ratio is None:
        known, _, _ = _known(middle, x, y)
        if known.size >= ENOUGH:
            yield "x and y stand still while speed says that the car moves"
        return
    if _is_about(ratio, 1.0):
        return
    solid = _ratio(middle, np.sqrt(x**2 + y**2 + z**2))
    if solid is not None and _is_about(solid, 1.0):
        yield "x and y alone do not move as fast as speed says, x, y and z do: is the height one of x and y?"
    else:
        yield f"speed is {ratio:.2f} times what x and y say in m/s{_unit(ratio)}"


def _against_distance(columns: _Columns, speed: Column) -> Iterator[str]:
    slope, middle = columns.slope(columns.of("lap_distance")), _between(speed)
    forward = np.where((slope > 0.0) & (middle > MOVES), slope, np.nan)
    if _known(np.where(middle > MOVES, middle, np.nan), slope)[0].size >= ENOUGH and not np.isfinite(forward).any():
        yield "lap distance does not grow while the car moves"
        return
    ratio = _ratio(np.where(np.isfinite(forward), middle, np.nan), forward)
    if ratio is not None and not 0.8 < ratio < 1.25:  # a centre line is up to some per cent longer or shorter
        yield f"speed is {ratio:.4g} times what lap distance says in m/s{_unit(ratio)}"


def _wheels(columns: _Columns, speed: Column) -> Iterator[str]:
    ratio = _ratio(columns.wheels("wheel_speed"), np.where(speed > MOVES, speed, np.nan))
    if ratio is not None and not 0.85 < ratio < 1.15:
        yield f"the wheels' speed is {ratio:.2f} times the car's: it should be m/s, angular speed times rolling radius"


def _unit(ratio: float) -> str:
    for factor, name in ((KMH, "km/h"), (MPH, "mph")):
        if _is_about(ratio, factor):
            return f": speed seems to be in {name}"
    return ""


def _engine(columns: _Columns) -> Iterator[str]:
    turns = columns.of("engine_speed")
    turns = turns[np.isfinite(turns)]
    if not turns.size:
        return
    most = float(turns.max())
    if 0.0 < most < SLOWEST_ENGINE:
        yield f"engine speed is {most:.0f} at most: it is meant in rev/min, is it rad/s or rev/s?"
    if most > FASTEST_ENGINE:
        yield f"engine speed reaches {most:.0f}: no engine turns so fast in rev/min"
    limit = columns.of("engine_speed_max")
    limit = limit[np.isfinite(limit)]
    if limit.size and limit.max() < 0.8 * most:
        yield f"engine speed reaches {most:.0f}, far over the limit that is sent, {limit.max():.0f}"


def _controls(columns: _Columns) -> Iterator[str]:
    moving = columns.of("speed") > MOVES
    if moving.sum() < ENOUGH:
        return
    throttle, brake, gear = (columns.of(name)[moving] for name in ("throttle", "brake", "gear"))
    gain = np.append(columns.slope(columns.of("speed")), np.nan)[moving]
    for name, pedal, other_way in (("throttle", throttle, gain < -CHANGES), ("brake", brake, gain > CHANGES)):
        known = pedal[np.isfinite(pedal)]
        if known.size >= ENOUGH and known.min() > 0.9 and other_way.sum() >= ENOUGH // 2:
            yield f"the {name} is pressed all the time, whatever the speed does: does it rest at 1 and not at 0?"
    known, other = _known(throttle, brake)
    if known.size >= ENOUGH and ((known > 0.5) & (other > 0.5)).mean() > 0.5:
        yield "throttle and brake are pressed together most of the time: one may be the wrong way round"
    known = gear[np.isfinite(gear)]
    if known.size >= ENOUGH and np.median(known) <= 0:
        yield "the gear is neutral or reverse while the car drives: 0 is neutral, 1 the first"
    steer = np.abs(columns.of("steer"))
    steer = steer[np.isfinite(steer)]
    if steer.size and steer.max() > LOCK:
        yield f"steering reaches {steer.max():.0f} rad: is it in degrees?"


def _turning(columns: _Columns) -> Iterator[str]:
    speed, yaw_rate, steer, ay = (columns.of(name) for name in ("speed", "yaw_rate", "steer", "ay"))
    moving = speed > MOVES
    yaw_rate, steer, ay, speed = (np.where(moving, column, np.nan) for column in (yaw_rate, steer, ay, speed))
    if not np.nanmax(np.abs(np.append(yaw_rate, 0.0))) > TURNS:
        yaw_rate = np.full(yaw_rate.size, np.nan)  # no turn yet, so there is no sign to compare
    yield from _agree("steering", steer, "yaw rate", yaw_rate)
    yield from _agree("lateral acceleration", ay, "yaw rate", yaw_rate)
    if np.isnan(yaw_rate).all():
        yield from _agree("steering", steer, "lateral acceleration", ay)
    yield from _turned(columns, yaw_rate)
    path = np.where(moving, columns.turning(), np.nan)
    for name, side in (("yaw rate", yaw_rate), ("lateral acceleration", ay), ("steering", steer)):
        going = _together(path, side)
        if going is not None:
            if going < -CLEAR:
                yield f"{name} and the path of x and y turn to opposite sides: the sign of one, or an axis, is wrong"
            break
    ratio = _ratio(ay, yaw_rate * speed)
    if ratio is not None and _is_about(ratio * STANDARD_GRAVITY, 1.0):
        yield "lateral acceleration seems to be in g: it is meant in m/s2"


def _turned(columns: _Columns, yaw_rate: Column) -> Iterator[str]:
    """Yaw rate against the change of yaw, which is an angle that goes round."""
    yaw = columns.of("yaw")
    steps = columns.slope(yaw)
    steps = np.where(np.abs(np.diff(yaw)) < math.pi, steps, np.nan)  # not where it goes round
    middle = _between(yaw_rate)
    going = _together(middle, steps)
    if going is not None and going < -CLEAR:
        yield "yaw falls where yaw rate is positive: both must grow to the left"
    ratio = _ratio(middle, steps)
    if ratio is not None and _is_about(abs(ratio), DEGREES):
        yield "yaw rate seems to be in degrees a second: it is meant in rad/s"
    elif ratio is not None and _is_about(abs(ratio) * DEGREES, 1.0):
        yield "yaw seems to be in degrees: it is meant in rad"


def _agree(one: str, first: Column, other: str, second: Column) -> Iterator[str]:
    going = _together(first, second)
    if going is not None and going < -CLEAR:
        yield f"{one} and {other} have opposite signs: in a turn to the left both must be positive"


def _pull(columns: _Columns) -> Iterator[str]:
    ax, speed = columns.of("ax"), columns.of("speed")
    middle, gain = _between(ax), columns.slope(speed)
    gain = np.where(_between(speed) > MOVES, gain, np.nan)
    going = _together(middle, gain)
    if going is not None and going < -CLEAR:
        yield "forward acceleration is negative where the car gains speed: its sign is turned round"
    elif going is not None and going > CLEAR:
        ratio = _ratio(middle, gain)
        if ratio is not None and ratio * STANDARD_GRAVITY < 2.0:
            yield "forward acceleration seems to be in g: it is meant in m/s2"
    for name, words in (("ax", "forward"), ("ay", "lateral")):
        values = np.abs(columns.of(name))
        values = values[np.isfinite(values)]
        if values.size >= ENOUGH and np.median(values) > HARDEST * STANDARD_GRAVITY:
            yield f"{words} acceleration is {np.median(values):.0f} m/s2 most of the time: is it in another unit?"


def _tyres(columns: _Columns) -> Iterator[str]:
    heat, pressure = columns.wheels("tyre_temp"), columns.wheels("tyre_pressure")
    heat, pressure = heat[np.isfinite(heat)], pressure[np.isfinite(pressure)]
    if heat.size and np.median(heat) > HOTTEST_TYRE:
        yield f"tyres are at {np.median(heat):.0f}: it is meant in degrees Celsius"
    if pressure.size and 0.0 < np.median(pressure) < SOFTEST_TYRE:
        yield f"tyre pressure is {np.median(pressure):.1f}: it is meant in kPa, is it bar or psi?"


def _fuel(columns: _Columns) -> Iterator[str]:
    fuel, _ = _known(columns.of("fuel"), np.where(columns.of("speed") > MOVES, 0.0, np.nan))
    if fuel.size >= ENOUGH and fuel[-1] > fuel[0] and np.all(np.diff(fuel) >= 0.0):
        yield "fuel grows while the car drives: is it what was used?"


_LOOKS: tuple[Callable[[_Columns], Iterator[str]], ...] = (
    _speed,
    _engine,
    _controls,
    _turning,
    _pull,
    _tyres,
    _fuel,
)
