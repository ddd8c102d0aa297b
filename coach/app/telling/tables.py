"""The tables of a session: its laps, where the seconds are, what was found, what was said."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from textwrap import shorten

from coach.app.console import signed, words
from coach.app.telling.lines import WIDTH, Block, laps_of, wrapped
from coach.app.telling.numbers import counted
from coach.review.results import CornerLoss
from coach.review.words import place_of
from coach.vocabulary.events import PHASES, Cue, Fault
from coach.vocabulary.laptime import lap_time

PLACES = 10
"""rows of the table of seconds; the rest are added up in one"""
COSTS = "Costs as told at the corner; NEXT TIME has what the whole laps lost by them."
"""A forecast at the corner's exit, and what the lap's ledger has of it in the end, are two numbers."""


@dataclass(frozen=True, slots=True)
class LapRow:
    """One lap that ended: its number, time and delta (s), and why it was not clean."""

    number: int
    time: float | None
    delta: float | None
    clean: bool
    why_not: tuple[str, ...] = ()


def lap_table(laps: Iterable[LapRow], timed: bool = True) -> Block:
    """LAPS, with what each was to the reference that it had; without any time where not `timed`."""
    rows = []
    for lap in laps:
        if timed:
            state = "" if lap.clean else "not clean: " + ", ".join(map(words, lap.why_not))
            start = f"{lap.number:5d}  {lap_time(lap.time):>10}   {signed(lap.delta):>8}            "
        else:
            state = "clean" if lap.clean else "not clean: " + ", ".join(map(words, lap.why_not))
            start = f"{lap.number:5d}  "
        rows.append(start + shorten(state, WIDTH - len(start), placeholder=" ..."))
    return ["LAPS", "  lap        time   to the reference" if timed else "  lap", *rows] if rows else []


def seconds_table(places: Sequence[CornerLoss], laps: int) -> Block:
    """WHERE THE SECONDS ARE over so many whole laps, the costliest place first."""
    if not laps:
        return []
    lines = [
        "WHERE THE SECONDS ARE",
        *wrapped(
            f"Seconds against the reference over {counted(laps, 'whole lap')}, + is lost: the median of "
            "each column, and in all their sum. The costliest place comes first. Of the straight, (by exit) is "
            "what the speed at the corner's exit explains."
        ),
        "  place      braking    entry     exit  straight  (by exit)    a lap   in all",
    ]
    ordered = sorted(places, key=lambda place: -place.total)
    for place in ordered[:PLACES]:
        columns = [f"{signed(place.phases.get(phase)):>{9 if phase != 'straight' else 10}}" for phase in PHASES]
        columns.append(f"{signed(place.by_exit):>11}")
        columns.append(f"{signed(place.a_lap):>9}{signed(place.total):>9}")
        lines.append(f"  {place_of(place.corner):<9}{''.join(columns)}")
    rest = ordered[PLACES:]
    if rest:
        total = signed(sum(place.total for place in rest))
        lines.append(f"  {counted(len(rest), 'other place') + ' together':<60}{total:>17}")
    return lines


def fault_table(found: Sequence[Fault], timed: bool = True) -> Block:
    """FAULTS FOUND, the dearest first; without any seconds where not `timed`, the most frequent first."""
    if not found:
        return ["FAULTS FOUND", "  none"]
    groups: dict[tuple[int | None, str], list[Fault]] = defaultdict(list)
    for fault in found:
        groups[fault.corner, fault.fault].append(fault)
    costs = "   cost s" if timed else ""
    lines = [
        "FAULTS FOUND",
        *([COSTS] if timed else []),
        f"  place      fault              times{costs}   median size        laps",
    ]

    def weight(item: tuple[tuple[int | None, str], list[Fault]]) -> float:
        return -_cost(item[1]) if timed else -float(len(item[1]))

    for (corner, name), faults in sorted(groups.items(), key=weight):
        priced = [fault.cost for fault in faults if fault.cost is not None]
        cost = f"{f'{sum(priced):.3f}' if priced else '-':>9}" if timed else ""
        digits = 0 if faults[0].unit == "rev/min" else 2
        size = f"{median(fault.size for fault in faults):.{digits}f} {faults[0].unit}"
        size = "-" if faults[0].unit == "s" and not timed else size
        start = f"  {place_of(corner, 'straight'):<9}  {words(name):<17}{len(faults):>7}{cost}   {size:<17}  "
        lines.append(start + laps_of((fault.lap for fault in faults), WIDTH - len(start)))
    return lines


def said_table(cues: Iterable[Cue]) -> Block:
    """SAID, the most frequent first."""
    groups: dict[tuple[int | None, str], list[Cue]] = defaultdict(list)
    for cue in cues:
        if cue.spoken:
            groups[cue.corner, cue.text].append(cue)
    if not groups:
        return ["SAID", "  nothing"]
    lines = ["SAID", "  about      words                              times   on laps"]
    for (corner, text), said in sorted(groups.items(), key=lambda item: -len(item[1])):
        quoted = f'"{text}"'
        start = f"  {place_of(corner, '-'):<9}  {quoted:<33}{len(said):>7}   "
        lines.append(start + laps_of((cue.lap for cue in said), WIDTH - len(start)))
    return lines


def _cost(faults: list[Fault]) -> float:
    return sum(fault.cost for fault in faults if fault.cost is not None)
