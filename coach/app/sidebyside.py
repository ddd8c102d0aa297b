"""What two playbooks would say, in two columns of text: lap by lap in the order of time, and counted below."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from math import isfinite
from textwrap import wrap

from coach.app.console import plain
from coach.vocabulary.events import Cue, Lap
from coach.vocabulary.laptime import lap_time

WIDTH = 80
CELL = 38
GUTTER = 3
WORDS = CELL - 15
"""characters of a cell for what is said: its number, time and corner take 15"""
LONGEST = 200
"""characters of what is said that are shown"""
ROW = 1.0
"""s: what both say within this stands on one line"""
ALIKE = 0.05
"""s: the same words at one moment are alike; a playbook that was silent before starts no sooner for it"""
REASONS = 6
"""reasons for holding back that are listed; the rest are added up"""


@dataclass(slots=True)
class Stint:
    """A lap or a part of one: its number, its first row, and when (s) it began with a line crossing; None: it was
    joined on the way. `ended`: how it ended, where it did."""

    lap: int
    row: int
    begins: float | None
    ended: Lap | None = None


@dataclass(frozen=True, slots=True)
class Heard:
    """A cue, said or held back, with the row and stint of the drive in which it was decided, and the place (m)."""

    cue: Cue
    row: int
    stint: int
    place: float


@dataclass(frozen=True, slots=True)
class Column:
    """What one playbook says."""

    name: str
    heard: Sequence[Heard]

    def said(self) -> list[tuple[int, Heard]]:
        """What is spoken, numbered from 1 in the order of time."""
        return list(enumerate((heard for heard in self.heard if heard.cue.spoken), start=1))


def side_by_side(label: str, stints: Sequence[Stint], columns: tuple[Column, Column]) -> str:
    """The whole text, lines of at most `WIDTH` characters without trailing spaces."""
    blocks = [[label, *_names(columns)], *_laps(stints, columns), list(_counted(stints, columns))]
    return "\n\n".join("\n".join(line.rstrip() for line in block) for block in blocks if block) + "\n"


def _names(columns: tuple[Column, Column]) -> list[str]:
    return [
        _row(columns[0].name[:CELL], " ", columns[1].name[:CELL]),
        "Number, time on the lap, corner, words; = both alike, ~ alike a moment apart.",
    ]


def _laps(stints: Sequence[Stint], columns: tuple[Column, Column]) -> Iterator[list[str]]:
    left, right = ([*column.said()] for column in columns)
    for number, stint in enumerate(stints):
        mine = [[entry for entry in said if entry[1].stint == number] for said in (left, right)]
        rows = [line for row in _paired(mine[0], mine[1]) for line in _rows(stint, *row)]
        ended = stint.ended
        state = "" if ended is None else f"  {lap_time(ended.time)}" + ("" if ended.clean else "  not clean")
        yield [f"LAP {stint.lap}{state}", *(rows or ["  nothing said"])]


Entry = tuple[int, Heard]


def _paired(left: list[Entry], right: list[Entry]) -> Iterator[tuple[Entry | None, Entry | None]]:
    """What stands on one line: near each other in time, else one alone."""
    i = j = 0
    while i < len(left) or j < len(right):
        if i == len(left) or (j < len(right) and _starts(right[j]) < _starts(left[i]) - ROW):
            yield None, right[j]
            j += 1
        elif j == len(right) or _starts(left[i]) < _starts(right[j]) - ROW:
            yield left[i], None
            i += 1
        else:
            yield left[i], right[j]
            i, j = i + 1, j + 1


def _starts(entry: Entry) -> float:
    starts = entry[1].cue.starts
    return entry[1].cue.t if starts is None else starts


def _rows(stint: Stint, left: Entry | None, right: Entry | None) -> Iterator[str]:
    sign = "|"
    if left is not None and right is not None and left[1].cue.text == right[1].cue.text:
        sign = "=" if abs(_starts(left) - _starts(right)) <= ALIKE else "~"
    for first, second in zip_longest(_cell(stint, left), _cell(stint, right), fillvalue=""):
        yield _row(first, sign, second)
        sign = "|"


def _cell(stint: Stint, entry: Entry | None) -> list[str]:
    if entry is None:
        return []
    number, heard = entry
    corner = "-" if heard.cue.corner is None else f"T{heard.cue.corner}"
    words = wrap(plain(heard.cue.text, LONGEST), WORDS) or [""]
    return [f"{number:>3} {_when(stint, heard):>6} {corner:<3} {words[0]}", *(" " * 15 + more for more in words[1:])]


def _when(stint: Stint, heard: Heard) -> str:
    """Time on the lap, `1:02.3`; where the lap was joined on the way, the distance from the line."""
    starts = heard.cue.starts
    if stint.begins is not None and starts is not None:
        tenths = round((starts - stint.begins) * 10)
        return f"{tenths // 600}:{tenths % 600 / 10:04.1f}"
    return f"{heard.place:.0f}m" if isfinite(heard.place) else "-"


def _row(left: str, sign: str, right: str) -> str:
    return f"{left:<{CELL}} {sign} {right}"


def _counted(stints: Sequence[Stint], columns: tuple[Column, Column]) -> Iterator[str]:
    spoken = [[heard.cue for _, heard in column.said()] for column in columns]
    yield f"{'COUNTED':<54}{'A':>12}{'B':>12}"
    yield _count("said", *(str(len(cues)) for cues in spoken))
    kinds = [Counter(cue.kind for cue in cues) for cues in spoken]
    for kind in sorted(kinds[0] | kinds[1]):
        yield _count(f"  {kind}", *(str(kind_count[kind]) for kind_count in kinds))
    whole = {number for number, stint in enumerate(stints) if stint.ended is not None and stint.ended.time is not None}
    if whole:
        a_lap = [sum(heard.stint in whole for _, heard in column.said()) / len(whole) for column in columns]
        yield _count(f"said a lap, over {len(whole)} whole", *(f"{number:.1f}" for number in a_lap))
    yield _count("seconds of speech", *(f"{sum(map(_seconds, cues)):.1f}" for cues in spoken))
    reasons = [Counter(_reason(heard.cue) for heard in column.heard if not heard.cue.spoken) for column in columns]
    yield _count("held back", *(str(sum(of_one.values())) for of_one in reasons))
    together = reasons[0] + reasons[1]
    ordered = sorted(together, key=lambda reason: (-together[reason], reason))
    for reason in ordered[:REASONS]:
        yield _count(f"  {reason}", *(str(of_one[reason]) for of_one in reasons))
    if ordered[REASONS:]:
        rest = [sum(of_one[reason] for reason in ordered[REASONS:]) for of_one in reasons]
        yield _count("  for other reasons", *map(str, rest))


def _count(what: str, left: str, right: str) -> str:
    shown = what if len(what) <= 54 else f"{what[:51]}..."
    return f"{shown:<54}{left:>12}{right:>12}"


def _seconds(cue: Cue) -> float:
    return 0.0 if cue.starts is None or cue.ends is None else cue.ends - cue.starts


def _reason(cue: Cue) -> str:
    return cue.why_not or "no reason given"
