"""The tables that only a review has: the marks, what helped, cued laps against the others."""

from __future__ import annotations

from collections.abc import Sequence

from coach.app.console import plain
from coach.app.telling.lines import Block, wrapped
from coach.review.results import CuedAgainstUncued, MarkRow, Said, Steadiness
from coach.review.words import SPREAD, place_of
from coach.vocabulary.laptime import lap_time

WORDS = 33
"""characters of a cue's words that are shown"""
MARKS = ("brake", "apex", "exit")
"""a corner's marks, as `events.Mark` names them"""
MARKS_SHOW = f"How many of the passes hit each, and the spread: {SPREAD}."
CUES_FOLLOW = "a cue follows a mistake: what it brings, only drives with --alternate tell"
"""Laps with a cue are the worse ones to begin with, unless chance, not the driving, says which lap has cues."""


def share(value: float | None) -> str:
    """`80 %`, `-` where it is not known."""
    return "-" if value is None else f"{value * 100:.0f} %"


def seconds(value: float | None) -> str:
    """`0.17 s`, `-` where it is not known."""
    return "-" if value is None else f"{value:.2f} s"


def marks_table(marks: Sequence[MarkRow]) -> Block:
    """MARKS, in the order of the corners: of each mark the share that was hit, and the spread."""
    if not marks:
        return []
    by_corner: dict[int, dict[str, MarkRow]] = {}
    for row in marks:
        by_corner.setdefault(row.corner, {})[row.name] = row
    lines = ["MARKS", *wrapped(MARKS_SHOW)]
    lines.append("  place    passes  " + "".join(f"{name:>17}" for name in MARKS))
    for corner, of in by_corner.items():
        passes = max(row.passes for row in of.values())
        lines.append(f"  {place_of(corner):<9}{passes:>6}  " + "".join(_mark(of.get(name)) for name in MARKS))
    return lines


def _mark(row: MarkRow | None) -> str:
    spread = "-" if row is None or row.spread is None else f"{row.spread:.1f} m"
    return f"{share(None if row is None else row.hit):>9}{spread:>8}"


def said_and_helped(said: Sequence[Said]) -> Block:
    """SAID, AND WHETHER IT HELPED: how many of the judged passes showed it before it was first said, and after."""
    if not said:
        return ["SAID", "  nothing"]
    lines = [
        "SAID, AND WHETHER IT HELPED",
        *wrapped("Before and after: in how many of the judged passes it was wrong until it was first said, and then."),
        "  about      words                              times  before   after  it became",
    ]
    for row in said:
        quoted = f'"{plain(row.text, WORDS)}"'
        lines.append(
            f"  {place_of(row.corner, '-'):<9}  {quoted:<35}{row.times:>5}{share(row.before):>8}{share(row.after):>8}"
            f"  {row.verdict}"
        )
    return lines


def cued_table(cued: CuedAgainstUncued | None) -> Block:
    """CUED LAPS AND OTHERS, where there are both."""
    if cued is None or cued.cued_median is None or cued.uncued_median is None:
        return []
    lines = [
        "CUED LAPS AND OTHERS",
        f"  clean laps with a cue that tells what to do {cued.cued:>5}, median {lap_time(cued.cued_median):>9}",
        f"  clean laps without one                      {cued.uncued:>5}, median {lap_time(cued.uncued_median):>9}",
    ]
    if cued.chance is not None:
        lines.append(f"  by luck alone so clear a difference comes {cued.chance * 100:.0f} times in 100")
    return lines + wrapped(CUES_FOLLOW, "  ")


def steady_line(steadiness: Steadiness | None, timed: bool = True) -> str:
    """`12 laps, 9 clean, 5 of them in a row; best 1:29.100, median 1:29.767, spread 0.41 s`."""
    if steadiness is None or not steadiness.laps:
        return "no lap ended"
    laps = f"{steadiness.laps} lap{'' if steadiness.laps == 1 else 's'} ended, {steadiness.clean} clean"
    if steadiness.row > 1:
        laps += f", {steadiness.row} of them in a row"
    if not timed or steadiness.best is None:
        return laps
    spread = "" if steadiness.spread is None else f", spread {seconds(steadiness.spread)}"
    return f"{laps}; best {lap_time(steadiness.best)}, median {lap_time(steadiness.median)}{spread}"
