"""Reading pedals: the contract's pickup, committed and full throttle, apart from blips and the cut of a shift."""

from __future__ import annotations

from dataclasses import dataclass

from coach.engine.held import BRAKE_HELD, BRAKING, held
from coach.engine.stretch import Stretch

PICKUP, COMMITTED, FULL, CLOSED = 0.2, 0.5, 0.95, 0.05
"""Throttle: above is picked up / committed / full; under `CLOSED` is off (contract, section 5)."""
PICKUP_HOLD, FULL_HOLD = 0.5, 0.3
"""s: a pickup is not back under `CLOSED` within this; full throttle is held for this."""
SHIFT = 0.3
"""s around a gear change in which a blip or a cut is the gearbox's business."""
NEAR = 0.3
"""s to each side of the slowest place over which the lateral acceleration is read."""
SAME_BRAKING = 1.0
"""s without brakes after which they belong to something else (choice)."""
DECELERATION_OVER = 0.3
"""s over which a deceleration is read from the speed: a kerb or a single row is no braking."""


@dataclass(slots=True, frozen=True)
class Throttle:
    """The way back to power: s and m of the pickup, of committed and of full throttle; None where not reached.

    `off`: whether throttle was off at all, so that there was something to pick up.
    """

    picked_up: tuple[float, float] | None
    committed: tuple[float, float] | None
    full: tuple[float, float] | None
    off: bool = True


def shifts(rows: Stretch) -> list[tuple[int, int, int]]:
    """Gear changes as (row of the new gear, old gear, new gear); neutral between two gears is part of the change."""
    return rows.once(_shifts)


def _shifts(rows: Stretch) -> list[tuple[int, int, int]]:
    found = []
    before: int | None = None
    for i, value in enumerate(rows["gear"]):
        if value != value or value < 1:
            continue
        gear = int(value)
        if before is not None and gear != before:
            found.append((i, before, gear))
        before = gear
    return found


def near_upshift(rows: Stretch) -> list[bool]:
    """For each row, whether a shift up is within `SHIFT` s: throttle is cut there, whatever the driver wants."""
    return rows.once(_near_upshift)


def _near_upshift(rows: Stretch) -> list[bool]:
    near = [False] * len(rows)
    t = rows.t
    for i, before, gear in shifts(rows):
        if gear < before:
            continue
        for j in range(rows.index_at_time(t[i] - SHIFT), rows.index_at_time(t[i] + SHIFT)):
            near[j] = True
    return near


def way_to_power(rows: Stretch, since: float, until: float) -> Throttle:
    """How throttle came back between `since` and `until` m, after it had been off.

    Only throttle without brakes counts, so a blip under braking is none; the cut of a shift up is no lift. Committed
    is the first place beyond the pickup where throttle passes `COMMITTED` and stays there in the mean. A driver who
    never came under `PICKUP` has picked up from the first row on, and one who never came under `COMMITTED` is
    committed from there on.
    """
    t, d, throttle = rows.t, rows.d, rows["throttle"]
    first, last = rows.index(since), min(rows.index(until) + 1, len(rows))
    braked = braking_rows(rows)
    picked_up = committed = full = None
    full_since: int | None = None
    start = next((i for i in range(first, last) if throttle[i] < PICKUP or braked[i]), None)
    off = start is not None
    if start is None:
        if first >= last or not rows.has("throttle"):
            return Throttle(None, None, None)
        picked_up = t[first], d[first]
        start = next((i for i in range(first, last) if throttle[i] <= COMMITTED), first)
        committed = picked_up if throttle[start] > COMMITTED else None
    cut = near_upshift(rows)
    for i in range(start, last):
        value, braking = throttle[i], braked[i]
        if picked_up is None:
            if value > PICKUP and not braking and _stays(rows, i, cut, braked):
                picked_up = _crossed(rows, i, PICKUP)
            else:
                continue
        elif braking or (value < CLOSED and not cut[i] and committed is None):
            picked_up = committed = full = full_since = None
            continue
        if (
            committed is None
            and value > COMMITTED
            and _stays(rows, i, cut, braked)
            and _mean_after(rows, i, cut) >= COMMITTED
        ):
            committed = _crossed(rows, i, COMMITTED)
        if value < FULL:
            full_since = full_since if cut[i] else None
        elif full_since is None:
            full_since = i
        if full is None and full_since is not None and t[i] - t[full_since] >= FULL_HOLD:
            full = (t[full_since], d[full_since])
    return Throttle(picked_up, committed, full, off)


def braking_rows(rows: Stretch) -> list[bool]:
    """For each row, whether the brakes are on, a flicker of the pedal apart."""
    return rows.once(_braking_rows)


def _braking_rows(rows: Stretch) -> list[bool]:
    return held((value > BRAKING for value in rows["brake"]), rows.t, BRAKE_HELD)


def _stays(rows: Stretch, i: int, cut: list[bool], braked: list[bool]) -> bool:
    """Throttle is not back under `CLOSED`, but for a shift's cut, nor the brakes on, within `PICKUP_HOLD` s of `i`."""
    throttle = rows["throttle"]
    end = rows.index_at_time(rows.t[i] + PICKUP_HOLD)
    return all((throttle[j] >= CLOSED or cut[j]) and not braked[j] for j in range(i, end))


def _mean_after(rows: Stretch, i: int, cut: list[bool]) -> float:
    """Mean throttle over `PICKUP_HOLD` s from row `i`, but for a shift's cut: a foot that balances the car about half
    throttle is not committed each time it passes the half, one that feeds power in against wheelspin is from the first
    time on."""
    throttle, end = rows["throttle"], max(i + 1, rows.index_at_time(rows.t[i] + PICKUP_HOLD))
    held = [throttle[j] for j in range(i, end) if throttle[j] >= CLOSED or not cut[j]]
    return sum(held) / len(held)


def _crossed(rows: Stretch, i: int, level: float, channel: str = "throttle") -> tuple[float, float]:
    """s and m where the pedal rose through `level` just before row `i`."""
    if i == 0:
        return rows.t[0], rows.d[0]
    low, high = rows[channel][i - 1], rows[channel][i]
    part = (level - low) / (high - low) if low <= level < high else 1.0
    t, d = rows.t, rows.d
    return t[i - 1] + part * (t[i] - t[i - 1]), d[i - 1] + part * (d[i] - d[i - 1])


@dataclass(slots=True, frozen=True)
class Braking:
    """The braking for one corner. `begins`: s and m; `speed` m/s there; `seconds` that the brakes were on, from first
    to last; `hardest` m/s^2, the greatest mean deceleration over `DECELERATION_OVER` s.
    """

    begins: tuple[float, float]
    speed: float
    seconds: float
    hardest: float


def braking(rows: Stretch, since: float, until: float) -> Braking | None:
    """The braking between `since` and `until` m; None where there is none or its speed is not known.

    Brakes on at `since` are another corner's.

    A touch on the way that is not followed by a real braking for this corner within `SAME_BRAKING` s is not its
    beginning.
    """
    t, speed = rows.t, rows["speed"]
    braked = braking_rows(rows)
    first, last = rows.index(since), min(rows.index(until) + 1, len(rows))
    while first < last and braked[first]:
        first += 1
    on = [i for i in range(first, last) if braked[i]]
    if not on:
        return None
    start = on[-1]
    for i in reversed(on):
        if t[start] - t[i] > SAME_BRAKING:
            break
        start = i
    if speed[start] != speed[start]:
        return None
    hardest = 0.0
    for i in range(start, on[-1] + 1):
        end = rows.index_at_time(t[i] + DECELERATION_OVER)
        if end >= len(rows) or end <= i:
            break
        slowed = (speed[i] - speed[end]) / (t[end] - t[i])
        if slowed > hardest:
            hardest = slowed
    return Braking(_crossed(rows, start, BRAKING, "brake"), speed[start], t[on[-1]] - t[start], hardest)


def longest(rows: Stretch, states: list[bool], since: int, until: int) -> tuple[float, int]:
    """s of the longest run of True among rows `since` to `until`, and its first row."""
    best, where, start = 0.0, since, -1
    for i in range(since, until + 1):
        if i < until and states[i]:
            start = i if start < 0 else start
        elif start >= 0:
            lasted = rows.t[min(i, len(rows) - 1)] - rows.t[start]
            if lasted > best:
                best, where = lasted, start
            start = -1
    return best, where


def slowest(rows: Stretch, since: float, until: float) -> int | None:
    """The row of the least speed between two places; None where the car is not seen to move there."""
    speed = rows["speed"]
    span = [i for i in range(rows.index(since), min(rows.index(until), len(rows))) if speed[i] > 1.0]
    return min(span, key=lambda i: speed[i]) if span else None


def lateral_at_slowest(rows: Stretch, since: float, until: float) -> float:
    """m/s^2 of lateral acceleration about the slowest place: sent, else speed times yaw rate; 0 where not known."""
    row = slowest(rows, since, until)
    if row is None:
        return 0.0
    span = range(rows.index_at_time(rows.t[row] - NEAR), min(rows.index_at_time(rows.t[row] + NEAR) + 1, len(rows)))
    for pull in ([rows["ay"][i] for i in span], [rows["speed"][i] * rows["yaw_rate"][i] for i in span]):
        known = [abs(value) for value in pull if value == value]
        if known:
            return sum(known) / len(known)
    return 0.0
