"""What mistakes cost, measured once: `python -m tests.bench.policy.losses` drives them and writes `losses.json`.

The built-in car drives each kind at each corner of the demo's circuit in up to three sizes, and the engine says what it
found and what that cost. The driver has no scatter, so that a loss is the mistake's and nothing else's; every other lap
is clean, and no two neighbouring corners of one lap have a mistake.
"""

from __future__ import annotations

import json
import multiprocessing
import random
import subprocess
import sys
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from coach import __version__
from coach.engine.engine import Engine
from coach.engine.start import EngineStart
from coach.engine.study import study
from coach.vocabulary.errors import InputError
from coach.vocabulary.events import CornerMark, Corners, Fault, Loss, Reference
from coach.vocabulary.sample import Sample
from coach.vocabulary.trace import LapTrace
from feeds import registry
from feeds.car.circuit import brack_mere
from feeds.car.drive import Drive, DriveSpec
from feeds.car.envelope import Envelope
from feeds.car.leeway import Leeway
from feeds.car.mind import Mind
from feeds.car.mistakes import Mistake
from feeds.car.plan import Table
from feeds.car.send import encode
from feeds.car.spec import CARS

from ..judgement.cast import STEADY
from ..judgement.planting import TO_LIFT
from .table import FILE

RATE = 30
"""datagrams a second"""
REFERENCE_LAPS, LAPS = 3, 8
A_LAP = 4
"""mistakes on each even lap, at most"""
STEP = 5.0
"""m between two points of the kept trace: a tenth of a second at 50 m/s, as the pupils' moments"""
PROCESSES = 2

PERSON = replace(
    STEADY, speed_spread=0.0, brake_spread=0.0, line_spread=0.0, pickup_spread=0.0, shift_spread=0.0, rolls_in=True
)
"""The judgement's steady driver, without scatter. Coasts between the pedals: before the brakes that costs nothing here,
as the driver then brakes with the grip that it kept in hand."""

SIZES: Mapping[str, tuple[float, ...]] = {
    "late_throttle": (0.2, 0.45, 0.8),
    "early_braking": (6.0, 12.0, 22.0),
    "coasting": (0.3, 0.45, 0.6),
    "throttle_lift": (0.3, 0.45, 0.6),
    "over_slowed": (1.0, 2.0, 3.0),
    "soft_braking": (2.0, 3.0, 4.0),
    "narrow_entry": (1.5, 2.3, 3.2),
    "narrow_exit": (1.5, 2.3, 3.2),
    "missed_apex": (1.5, 2.5, 3.5),
    "early_downshift": (400.0, 700.0, 1000.0),
    "lock_up": (0.35, 0.55, 0.8),
}
"""Planted sizes in the fault's unit, about those of the judgement's bench, which a driver can feel `(choice)`."""


@dataclass(frozen=True, slots=True)
class _Told:
    """What the engine said of a planted mistake: of its own kind (None: nothing), of others, and the lap's ledger."""

    mistake: Mistake
    own: Fault | None
    others: tuple[str, ...]
    corner: int
    lost: float | None


def main() -> int:
    """Drive them all and write the file; some minutes."""
    drives = list(_drives())
    told: list[_Told] = []
    with multiprocessing.get_context("spawn").Pool(PROCESSES) as pool:
        for number, part in enumerate(pool.imap(_measured, drives), 1):
            told += part
            print(f"\r{number}/{len(drives)} drives", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    table, left_out = _table(told)
    marks, reference = _map()
    held = {
        "made": {"by": "python -m tests.bench.policy.losses", **_made_of(), "left_out": left_out},
        "reference_time": round(reference.time, 4),
        "corners": [_mark(mark) for mark in marks],
        "trace": _thinned(reference.trace),
        "losses": table,
    }
    FILE.write_text(_written(held), encoding="utf-8")
    steps = sum(len(steps) for places in table.values() for steps in places.values())
    print(f"{steps} steps of {len(table)} kinds; {left_out}")
    return 0


def _drives() -> Iterator[list[Mistake]]:
    """Mistakes packed into drives: even laps, some a lap, never at neighbouring corners."""
    mind, leeway = _mind()
    waiting = [
        (kind, corner, size)
        for kind, sizes in SIZES.items()
        for corner in mind.marks
        for size in sizes
        if _possible(mind, leeway, kind, corner, size)
    ]
    random.Random("losses").shuffle(waiting)  # many of one kind in one drive would be taken for this driver's scatter
    corners = list(mind.marks)
    while waiting:
        drive: list[Mistake] = []
        for lap in range(2, LAPS + 1, 2):
            taken: list[int] = []
            for one in list(waiting):
                kind, corner, size = one
                place = corners.index(corner)
                apart = all((place - other) % len(corners) not in (0, 1, len(corners) - 1) for other in taken)
                if len(taken) < A_LAP and apart:
                    drive.append(Mistake(kind, lap, corner, size))
                    taken.append(place)
                    waiting.remove(one)
        yield drive


def _possible(mind: Mind, leeway: Leeway, kind: str, corner: int, size: float) -> bool:
    marks = mind.marks[corner]
    powered = marks.committed + (PERSON.sure + TO_LIFT) * mind.plan.at(marks.committed) < marks.corner.ends
    if kind == "throttle_lift" and not powered:
        return False
    try:
        leeway.check(Mistake(kind, 1, corner, size))
    except InputError:
        return False
    return True


def _measured(mistakes: list[Mistake]) -> list[_Told]:
    engine = Engine(_start())
    events = [event for sample in _samples(mistakes, LAPS) for event in engine.push(sample)] + engine.finish()
    faults = [event for event in events if isinstance(event, Fault)]
    losses = {event.lap: event for event in events if isinstance(event, Loss)}
    mind, _ = _mind()
    marks, _ = _map()
    out = []
    for mistake in mistakes:
        corner = _engine_corner(marks, mind.marks[mistake.corner].slow)
        here = [f for f in faults if f.lap == mistake.lap and f.corner == corner]
        own = next((fault for fault in here if fault.fault == mistake.kind), None)
        others = tuple(fault.fault for fault in here if fault.fault != mistake.kind)
        loss = losses.get(mistake.lap)
        lost = None if loss is None else sum(part.seconds for part in loss.parts if part.corner == corner)
        out.append(_Told(mistake, own, others, corner, lost))
    return out


def _table(told: Iterable[_Told]) -> tuple[dict[str, dict[str, list[list[float]]]], str]:
    """Steps by kind and corner, and in words what is left out.

    Left out are what was told as another kind or has no price, corners where no size was found or where it costs
    nothing, and a step that measured no larger than the one before or was missed though a smaller one was found.
    """
    rows: dict[tuple[str, int], list[list[float]]] = {}
    other = broken = 0
    for one in sorted(told, key=lambda t: (t.mistake.kind, t.corner, t.mistake.size)):
        if one.own is None and one.others:
            other += 1
        elif one.lost is None or (one.own is not None and one.own.net is None):
            broken += 1
        elif one.own is None:
            lost = max(one.lost, 0.0)
            rows.setdefault((one.mistake.kind, one.corner), []).append([one.mistake.size, lost, lost, 0])
        else:
            net, cost = one.own.net or 0.0, one.own.cost or 0.0
            rows.setdefault((one.mistake.kind, one.corner), []).append([one.own.size, net, cost, 1])
    table: dict[str, dict[str, list[list[float]]]] = {}
    missed = free = 0
    for (kind, corner), steps in rows.items():
        kept: list[list[float]] = []
        for step in steps:
            if not kept or (step[0] > kept[-1][0] and step[3] >= kept[-1][3]):
                kept.append(step)
        if not any(found for _, _, _, found in kept):
            missed += 1
        elif max(net for _, net, _, _ in kept) <= 0.0:
            free += 1
        else:
            table.setdefault(kind, {})[str(corner)] = [[round(value, 4) for value in step] for step in kept]
    left_out = (
        f"{other} told as another kind, {broken} without a price; never found at {missed} corners, free at {free}"
    )
    return table, left_out


@lru_cache(maxsize=1)
def _mind() -> tuple[Mind, Leeway]:
    car = next(iter(CARS.values()))
    mind = Mind(brack_mere(), Table(Envelope(car, car.mass_with(DriveSpec.fuel))), PERSON, [], 0)
    return mind, Leeway(car, mind)


def _samples(mistakes: list[Mistake], laps: int) -> Iterator[Sample]:
    feed = registry.create("generic")
    spec = DriveSpec(brack_mere(), next(iter(CARS.values())), PERSON, laps, RATE, mistakes=mistakes, run_out=20.0)
    return (feed.decode(encode(row)) for row in Drive(spec))


@lru_cache(maxsize=1)
def _start() -> EngineStart:
    studied = study(_samples([], REFERENCE_LAPS), "reference")
    return EngineStart(
        __version__,
        "generic",
        "",
        reference=studied.reference,
        origin="reference",
        circuit=studied.circuit,
        scatter=studied.scatter,
        usual=studied.usual,
        driver=studied.driver,
        warm=studied.warm,
    )


@lru_cache(maxsize=1)
def _map() -> tuple[tuple[CornerMark, ...], Reference]:
    """The engine's map and reference, as its first sample brings them."""
    events = Engine(_start()).push(next(_samples([], 1)))
    corners = next(event for event in events if isinstance(event, Corners))
    return corners.corners, next(event for event in events if isinstance(event, Reference))


def _engine_corner(marks: Iterable[CornerMark], place: float) -> int:
    """The corner of the map whose apex is nearest to the slowest place of a bend (m)."""
    return min(marks, key=lambda mark: min(abs(apex - place) for apex in mark.apexes)).corner


def _made_of() -> dict[str, str]:
    done = subprocess.run(["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=False)
    car = next(iter(CARS.values()))
    return {"commit": done.stdout.strip() or "unknown", "car": car.name, "circuit": brack_mere().name}


def _mark(mark: CornerMark) -> dict[str, Any]:
    places = {name: round(getattr(mark, name), 2) for name in ("brake", "entry", "apex", "exit")}
    rest = {"linked": mark.linked, "coached": mark.coached, "apexes": [round(apex, 2) for apex in mark.apexes]}
    return {"corner": mark.corner, "direction": mark.direction, **places, **rest}


def _thinned(trace: LapTrace) -> dict[str, Any]:
    count = round(trace.length / STEP)
    step = trace.length / count
    places = [i * step for i in range(count)]
    thin: dict[str, Any] = {"length": trace.length, "step": step}
    for name, digits in (("time", 3), ("speed", 2), ("throttle", 2), ("brake", 2), ("lateral", 2)):
        channel = getattr(trace, name)
        thin[name] = [round(trace.at(channel, place), digits) for place in places] + [round(channel[-1], digits)]
    return thin


def _written(held: dict[str, Any]) -> str:
    """JSON with one short line for each corner, channel and kind's corner."""
    lines = [f'"made": {json.dumps(held["made"])}', f'"reference_time": {held["reference_time"]}']
    lines.append('"corners": [\n' + ",\n".join(json.dumps(mark) for mark in held["corners"]) + "\n]")
    channels = ",\n".join(f"{json.dumps(name)}: {json.dumps(value)}" for name, value in held["trace"].items())
    lines.append('"trace": {\n' + channels + "\n}")
    kinds = [
        f"{json.dumps(kind)}: {{\n"
        + ",\n".join(f"{json.dumps(corner)}: {json.dumps(steps)}" for corner, steps in places.items())
        + "\n}"
        for kind, places in held["losses"].items()
    ]
    lines.append('"losses": {\n' + ",\n".join(kinds) + "\n}")
    return "{\n" + ",\n".join(lines) + "\n}\n"


if __name__ == "__main__":
    sys.exit(main())
