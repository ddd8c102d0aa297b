"""What was really wrong on a drive: each planted mistake as it can be measured, and what else is off the reference.

All is held against the median of the reference run's laps.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from .drives import Kept, rows
from .measure import Bend, Pass, Run, bends, usual

SWALLOWED = 0.6
"""of the planted size: a mistake that comes out smaller was swallowed by the physics, and is no truth (choice)."""
OVER_LIMIT = 0.02
"""of the limiter by which a shift down must pass it at least (choice)."""
OFF_BY = 0.1
"""m that the whole car is beyond the edge at least (choice)."""
SLIDES = 0.2
"""rad, 11 degrees: more is an incident (choice)."""

MOST = {
    "early_braking": 8.0,
    "late_braking": 6.5,
    "late_throttle": 0.3,
    "coasting": 0.25,
    "throttle_lift": 0.12,
    "narrow_entry": 1.6,
    "narrow_exit": 1.6,
    "missed_apex": 1.6,
    "early_downshift": 0.0,
    "off_track": 0.0,
    "lock_up": 0.15,
    "wheelspin": 0.15,
    "early_upshift": 400.0,
    "late_upshift": 400.0,
}
"""How much worse than usual a pass may be and count as clean, in each fault's unit. Brake point, throttle, line: beyond
this lies what recorded runs with known faults list as naturally off the reference; the last four are choices."""
ALSO = ("early_braking", "late_throttle", "coasting", "throttle_lift", "narrow_exit", "off_track")
"""What a planted mistake may show besides, and be named by; and early_downshift. Who really was
off the road may be told so."""
ROLLED = 0.3
"""s of coasting beyond the usual that a planted mistake shows."""
RAISED = 0.1
"""of the limiter: so much more engine speed than usual behind a shift down shows as an early one."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A planted mistake that shows. `size` is measured, `lost` s against the usual pass, `shows` other kinds that it is
    right to name; `start`, `exit` in m."""

    kind: str
    lap: int
    corner: int
    start: float
    exit: float
    planted: float
    size: float
    lost: float
    left_at: float
    shows: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Truth:
    """One drive. `odd`: (lap, corner) naturally off the reference, and why, or planted and swallowed. `incidents`:
    (lap, m, m)."""

    name: str
    scatter: str
    length: float
    lap_times: dict[int, float]
    bends: tuple[tuple[int, float, float], ...]
    """(corner, start, exit)"""
    faults: tuple[Fault, ...]
    odd: dict[tuple[int, int], tuple[str, ...]]
    incidents: tuple[tuple[int, float, float], ...]
    swallowed: tuple[tuple[str, int, int, float, float], ...]
    """(kind, lap, corner, planted, measured)"""

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        out = asdict(self)
        out["odd"] = [{"lap": lap, "corner": corner, "kinds": kinds} for (lap, corner), kinds in self.odd.items()]
        return out


@dataclass(frozen=True, slots=True)
class Usual:
    """What the reference run's driver usually does at one corner."""

    bend: Bend
    start: float
    done: Pass


def studied(reference: Kept) -> list[Usual]:
    """The usual pass of each corner, from the second lap of a reference run on."""
    run = Run(rows(reference.stream), reference.track_length, reference.width)
    out = []
    for bend in bends(reference.corners, reference.track_length):
        laps = run.laps[1:]
        start = usual(run.measure(lap, bend, bend.brake) for lap in laps).brake
        start = min(start, bend.turn_in) if start == start else bend.turn_in
        out.append(Usual(bend, start, usual(run.measure(lap, bend, start) for lap in laps)))
    return out


def truth_of(name: str, scatter: str, drive: Kept, reference: list[Usual]) -> Truth:
    """The truth of one drive."""
    run = Run(rows(drive.stream), drive.track_length, drive.width)
    faults: list[Fault] = []
    swallowed: list[tuple[str, int, int, float, float]] = []
    odd: dict[tuple[int, int], tuple[str, ...]] = {}
    planted = {(p["lap"], p["corner"]): p for p in drive.planted}
    for own in reference:
        bend = own.bend
        for lap in run.laps:
            here = (lap, bend.corner)
            done = run.measure(lap, bend, own.start)
            off = differences(run, lap, own, done, drive.limit)
            mistake = planted.get(here)
            if mistake is None:
                if kinds := natural(off):
                    odd[here] = kinds
                continue
            kind, size = mistake["kind"], mistake["size"]
            if kind == "coasting":
                off[kind] = max(off[kind], done.rolled_all - own.done.rolled_all)
            if not _shows(kind, size, off[kind], bend, done, drive.limit):
                swallowed.append((kind, lap, bend.corner, size, off[kind]))
                odd[here] = ("swallowed",)
                continue
            shows = [other for other in natural(off) if other in ALSO and other != kind]
            if off["coasting"] < ROLLED and "coasting" in shows:
                shows.remove("coasting")
            if done.downshift - own.done.downshift > RAISED * drive.limit and kind != "early_downshift":
                shows.append("early_downshift")
            lost = done.seconds - own.done.seconds
            left_at = run.time(lap * run.length + bend.exit)
            faults.append(
                Fault(kind, lap, bend.corner, own.start, bend.exit, size, off[kind], lost, left_at, tuple(shows))
            )
    return Truth(
        name,
        scatter,
        drive.track_length,
        drive.lap_times,
        tuple((own.bend.corner, own.start, own.bend.exit) for own in reference),
        tuple(sorted(faults, key=lambda f: (f.lap, f.start))),
        odd,
        tuple(run.incidents(SLIDES)),
        tuple(swallowed),
    )


def differences(run: Run, lap: int, own: Usual, done: Pass, limit: float) -> dict[str, float]:
    """How much worse than usual a pass was, by the fault that would name it, in that fault's unit; NaN is unknown."""
    was, zero = own.done, lap * run.length
    late = run.time(zero + done.committed) - run.time(zero + was.committed)
    return {
        "early_braking": was.brake - done.brake,
        "late_braking": done.brake - was.brake,
        "late_throttle": late,
        "coasting": done.rolled - was.rolled,
        "throttle_lift": done.lifted - was.lifted,
        "early_downshift": done.downshift - limit,
        "narrow_entry": done.entry_gap - was.entry_gap,
        "narrow_exit": done.exit_gap - was.exit_gap,
        "missed_apex": done.apex_gap - was.apex_gap,
        "off_track": done.off - run.half,
        "over_slowed": was.slowest - done.slowest,
        "soft_braking": was.braking - done.braking,
        "lock_up": done.lock - was.lock,
        "wheelspin": done.spin - was.spin,
        "early_upshift": was.upshift - done.upshift,
        "late_upshift": done.upshift - was.upshift,
    }


def natural(differences: Mapping[str, float]) -> tuple[str, ...]:
    """The kinds by which a pass is further off than is natural."""
    return tuple(kind for kind, much in differences.items() if much > MOST.get(kind, math.inf))


def _shows(kind: str, planted: float, measured: float, bend: Bend, done: Pass, limit: float) -> bool:
    """Whether a planted mistake came out as one."""
    if kind == "early_downshift":
        return measured >= OVER_LIMIT * limit
    if kind == "off_track":
        return measured >= OFF_BY
    if kind == "throttle_lift" and not done.lift_at <= bend.exit:
        return False
    return measured >= SWALLOWED * planted
