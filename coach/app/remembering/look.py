"""`memory sessions` and `memory laps`: what is kept, in lists that fit a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from textwrap import shorten

from coach.app.config import LapsOptions, SessionsOptions
from coach.app.console import Console, plain, words
from coach.app.remembering.opening import opened
from coach.app.remembering.which import LABEL, labels_of, lap_labels, session_of
from coach.app.stop import Stop
from coach.app.telling.lines import WIDTH, Block, text_of, wrapped
from coach.app.telling.numbers import date_of
from coach.store.memory import Memory
from coach.store.rows import LapRow, SessionRow
from coach.vocabulary.laptime import lap_time

LABELS = 5
"""labels that are named where none matches; the rest are counted"""
NOTE = 2000
"""characters of a note that are shown: all that may be written"""
_HANG = " " * 9


def sessions(options: SessionsOptions, console: Console, stop: Stop) -> str:
    """The kept sessions, the newest first, under what was driven; InputError where there is no memory."""
    with opened(options.memory, console) as memory:
        rows = memory.sessions(options.driver, options.car, options.track)
        if not rows:
            return _none(memory.sessions(), {"driver": options.driver, "car": options.car, "track": options.track})
    blocks: list[Block] = []
    for labels, group in groupby(rows, key=lambda row: (row.track, row.car, row.driver)):
        lines = [labels_of(*labels), "  number  when              laps  clean        best  stage     setup"]
        for row in group:
            lines += _session(row)
        blocks.append(lines)
    return text_of(blocks)


def laps(options: LapsOptions, console: Console, stop: Stop) -> str:
    """The laps of a session (None: the one kept last, and behind it those with a name and those handed on)."""
    with opened(options.memory, console) as memory:
        if options.session is not None:
            return text_of([_laps_of(memory, session_of(memory, options.session))])
        last = memory.latest()
        blocks = [] if last is None else [_laps_of(memory, last)]
        others = [lap for lap in memory.laps() if last is None or lap.session != last.id]
    if others:
        blocks.append(["Laps with a name, and laps that were handed on", *_elsewhere(others)])
    return text_of(blocks) if blocks else "Nothing is kept yet: a drive keeps its sessions with their laps.\n"


def _session(row: SessionRow) -> list[str]:
    start = (
        f"{row.id:8d}  {date_of(row.begun) or '-':<16}{row.laps:6d}{row.clean:7d}{lap_time(row.best):>12}  "
        f"{plain(row.stage, 8):<8}  "
    )
    lines = [start + _short(row.setup or "", WIDTH - len(start))]
    if not row.whole:
        lines.append(_HANG + (" still driven, or cut short" if row.ended is None else " cut short"))
    if row.note:
        lines += wrapped(plain(row.note, NOTE), _HANG + " ")
    return lines


def _none(kept: Sequence[SessionRow], wanted: dict[str, str | None]) -> str:
    """One line where no session is kept, or none that was asked for, with what there is."""
    if not kept:
        return "Nothing is kept yet: a drive keeps its sessions.\n"
    for what, label in wanted.items():
        there = list(dict.fromkeys(found for row in kept if (found := getattr(row, what)) is not None))
        if label is not None and label not in there:
            named = [plain(found, LABEL) for found in there[:LABELS]]
            rest = f" and {len(there) - LABELS} more" if len(there) > LABELS else ""
            has = f"the memory has {', '.join(named)}{rest}" if named else "no session in it has one"
            return f"No kept session is of the {what} {plain(label, LABEL)}: {has}.\n"
    asked = ", ".join(plain(label, LABEL) for label in wanted.values() if label is not None)
    return f"No kept session is of {asked} together: `cornerword memory sessions` lists the {len(kept)} there are.\n"


def _laps_of(memory: Memory, session: SessionRow) -> list[str]:
    when = date_of(session.begun)
    title = f"Session {session.id}" + ("" if when is None else f", {when}")
    lines = [title, labels_of(session.track, session.car, session.driver)]
    rows = memory.laps(session.id)
    if not rows:
        return [*lines, "  no lap ended"]
    lines.append("  number   lap        time  name and state")
    return [*lines, *(_lap(row) for row in rows), *_begins_with(memory, session)]


def _begins_with(memory: Memory, session: SessionRow) -> list[str]:
    """With which lap the next drive of these three begins."""
    known = memory.recall(session.driver, session.car, session.track).known
    if known is None or known.reference is None:
        return []
    return wrapped(f"The next drive begins with {plain(known.origin, LABEL)}, {lap_time(known.reference.total)}.")


def _lap(row: LapRow) -> str:
    start = f"{row.id:8d}{row.number:6d}{lap_time(row.time):>12}  "
    return start + _short(_said(row), WIDTH - len(start))


def _elsewhere(rows: Sequence[LapRow]) -> list[str]:
    """Laps of several sessions and of none, under what was driven."""
    lines: list[str] = []
    ordered = sorted(rows, key=lambda row: (*((label or "") for label in lap_labels(row)), row.id))
    for labels, group in groupby(ordered, key=lap_labels):
        lines += [f"  {labels_of(*labels)}", "  number   lap        time  name and state", *map(_lap, group)]
    return lines


def _said(row: LapRow) -> str:
    """The name, then what there is to know of the lap."""
    parts = [] if row.name is None else [f'"{plain(row.name, LABEL)}"']
    parts.append(
        "clean" if row.clean else "not clean: " + ", ".join(map(words, row.why_not)) if row.why_not else "not clean"
    )
    if row.session is None:
        parts.append("handed on")
    if row.chosen:
        parts.append("the chosen reference")
    if not row.whole:
        parts.append("no channels")
    return ", ".join(parts)


def _short(text: str, room: int) -> str:
    return shorten(plain(text, NOTE), max(room, 10), placeholder=" ...")
