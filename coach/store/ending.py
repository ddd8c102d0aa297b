"""Ends a session: its running lap's pieces become one, the three things are told; in good order or after a kill."""

from __future__ import annotations

import sqlite3
from contextlib import ExitStack
from pathlib import Path

from coach.review.results import Thing
from coach.review.things import things
from coach.store.opening import transaction
from coach.store.packing import pack
from coach.store.pieces import joined
from coach.store.plain import thing_body
from coach.store.reading import kept_session
from coach.store.slots import hold_one
from coach.vocabulary.errors import CornerwordError, FormatError

Row = tuple[int, float, float, int, bytes]
"""Of a piece: its number, from and to (s), how many samples, and these."""
LARGE = 20_000
"""samples that make a piece large enough: five minutes of a quick source."""


def end_session(memory: sqlite3.Connection, session: int, whole: bool) -> None:
    """Inside a transaction. `whole`: in good order."""
    join_pieces(memory, session, None)
    told = _told(memory, session)
    memory.execute("DELETE FROM thing WHERE session = ?", (session,))
    memory.executemany(
        "INSERT INTO thing VALUES (?, ?, ?)",
        [(session, place, thing_body(thing)) for place, thing in enumerate(told)],
    )
    memory.execute("UPDATE session SET whole = ?, slot = NULL WHERE id = ?", (int(whole), session))


def _told(memory: sqlite3.Connection, session: int) -> list[Thing]:
    """The three things; none where they cannot be made out, for the session is to be kept whatever comes."""
    try:
        return things(kept_session(memory, session))
    except (ArithmeticError, CornerwordError, LookupError, TypeError, ValueError):
        return []


def join_pieces(memory: sqlite3.Connection, session: int, place: int | None) -> None:
    """The running lap's pieces become few, of the lap `place`; None: of the running lap still."""
    group: list[Row] = []
    for row in memory.execute(
        "SELECT id, begins, ends, samples, columns FROM piece WHERE session = ? AND place IS NULL ORDER BY id",
        (session,),
    ).fetchall():
        group.append(row)
        if sum(samples for _, _, _, samples, _ in group) >= LARGE:
            _join(memory, session, place, group)
            group = []
    if group:
        _join(memory, session, place, group)


def _join(memory: sqlite3.Connection, session: int, place: int | None, pieces: list[Row]) -> None:
    try:
        columns = None if len(pieces) == 1 and pieces[0][3] >= LARGE else pack(joined([row[4] for row in pieces]))
    except FormatError:  # one is damaged: they stay as they are
        columns = None
    if columns is None:
        memory.executemany("UPDATE piece SET place = ? WHERE id = ?", [(place, row[0]) for row in pieces])
        return
    begins, ends, samples = min(r[1] for r in pieces), max(r[2] for r in pieces), sum(r[3] for r in pieces)
    memory.executemany("DELETE FROM piece WHERE id = ?", [(row[0],) for row in pieces[1:]])
    memory.execute(
        "UPDATE piece SET place = ?, begins = ?, ends = ?, samples = ?, columns = ? WHERE id = ?",
        (place, begins, ends, samples, columns, pieces[0][0]),
    )


def end_left_ones(memory: sqlite3.Connection, path: Path, mine: int) -> list[int]:
    """Close what a kill left open; returns the sessions' numbers. `mine`: the lock that this program holds, which
    nobody else can be writing under."""
    left = memory.execute("SELECT id, coalesce(slot, 0) FROM session WHERE whole IS NULL").fetchall()
    ended = []
    with ExitStack() as held:
        free = {0, mine}
        for number in sorted({slot for _, slot in left} - free):
            slot = hold_one(path, number)
            if slot is not None:
                held.callback(slot.free)
                free.add(number)
        for session, slot in left:
            if slot in free:
                with transaction(memory):
                    end_session(memory, session, whole=False)
                ended.append(session)
    return ended
