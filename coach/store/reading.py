"""Reads sessions and laps of the open memory."""

from __future__ import annotations

import sqlite3
from math import isfinite
from typing import Any

from coach.engine.circuit import Circuit
from coach.engine.lap import GridLap
from coach.review.collector import Collector
from coach.review.model import KeptSession
from coach.store.packing import unpack_grid
from coach.store.plain import events, value_of
from coach.store.rows import LapRow, SessionRow
from coach.vocabulary.errors import FormatError, InputError
from coach.vocabulary.events import Reference
from coach.vocabulary.stages import PACE, STAGES

CLOCKS = 946_684_800.0
"""s since 1970 of the year 2000: a receive time before it is no date, but a source's own clock (choice)."""

_SESSIONS = """
SELECT session.id, begun, ended, whole, session.track, session.car, session.driver, setup, stage, note, count(lap.id),
    coalesce(sum(clean), 0), min(CASE WHEN clean THEN time END)
FROM session LEFT JOIN lap ON lap.session = session.id
"""
_LAPS = """
SELECT lap.id, lap.session, number, time, clean, why_not, coalesce(lap.track, session.track),
    coalesce(lap.car, session.car), coalesce(lap.driver, session.driver), name,
    EXISTS (SELECT 1 FROM chosen WHERE chosen.lap = lap.id), EXISTS (SELECT 1 FROM channels WHERE channels.lap = lap.id)
FROM lap LEFT JOIN session ON session.id = lap.session
"""


def clock_time(received: float) -> float | None:
    """A receive time where it is one of the computer's clock; None where it is a source's own, from a file of lines."""
    return received if received >= CLOCKS else None


def session_rows(memory: sqlite3.Connection, where: str = "", values: tuple[Any, ...] = ()) -> list[SessionRow]:
    """The newest first. `where`: a condition."""
    found = memory.execute(
        f"{_SESSIONS} {where and 'WHERE ' + where} GROUP BY session.id ORDER BY begun DESC, session.id DESC", values
    )
    return [
        SessionRow(
            id=int(number),
            begun=_time(begun) or 0.0,
            ended=None if whole is None else _time(ended),
            track=_text(track),
            car=_text(car),
            driver=_text(driver),
            setup=_text(setup),
            stage=_stage(stage),
            note=_text(note) or "",
            laps=int(laps),
            clean=int(clean),
            best=_time(best),
            whole=bool(whole),
        )
        for number, begun, ended, whole, track, car, driver, setup, stage, note, laps, clean, best in found
    ]


def lap_rows(memory: sqlite3.Connection, where: str, values: tuple[Any, ...] = ()) -> list[LapRow]:
    """In the order driven. `where`: a condition."""
    found = memory.execute(f"{_LAPS} WHERE {where} ORDER BY lap.session IS NULL, lap.session, place, lap.id", values)
    return [
        LapRow(
            id=int(number),
            session=session,
            number=int(counted),
            time=_time(time),
            clean=bool(clean),
            why_not=_texts(why_not),
            track=_text(track),
            car=_text(car),
            driver=_text(driver),
            name=_text(name),
            chosen=bool(chosen),
            whole=bool(whole),
        )
        for number, session, counted, time, clean, why_not, track, car, driver, name, chosen, whole in found
    ]


def kept_session(memory: sqlite3.Connection, number: int, grids: bool = False) -> KeptSession:
    """One session with all that happened in it. Raises InputError where there is none, FormatError for damage."""
    row = memory.execute(
        "SELECT begun, ended, whole, track, car, driver, setup, kind, source, version, stage, note, conditions "
        "FROM session WHERE id = ?",
        (number,),
    ).fetchone()
    if row is None:
        raise InputError(f"there is no session {number} in the memory: `cornerword memory sessions` lists them")
    begun, ended, whole, track, car, driver, setup, kind, source, version, stage, note, conditions = row
    collector, measured = Collector(), -1
    for n, body in memory.execute("SELECT n, body FROM event WHERE session = ? ORDER BY n", (number,)).fetchall():
        for event in events([body]):
            collector.take(event)
            if isinstance(event, Reference):
                measured = n
    session = collector.sessions[0] if collector.sessions else KeptSession(source=_text(source) or "")
    session.id, session.begun = number, clock_time(begun)
    session.ended = None if whole is None else clock_time(ended)
    session.track, session.car, session.driver = _text(track), _text(car), _text(driver)
    session.setup, session.kind, session.version = _text(setup), _text(kind), _text(version) or ""
    session.stage, session.note = _stage(stage), _text(note) or ""
    session.conditions = _numbers(value_of(conditions))
    _name_laps(memory, session, number)
    if grids:
        _give_grids(memory, session, number)
        if session.reference_time is not None:
            session.reference = _reference(memory, session, number, measured)
    if session.length is None:
        session.length = _length(memory, session)
    return session


def _name_laps(memory: sqlite3.Connection, session: KeptSession, number: int) -> None:
    for place, lap, name in memory.execute("SELECT place, id, name FROM lap WHERE session = ?", (number,)):
        if place < len(session.laps):
            session.laps[place].id, session.laps[place].name = lap, _text(name)


def _give_grids(memory: sqlite3.Connection, session: KeptSession, number: int) -> None:
    found = memory.execute(
        "SELECT place, grid FROM lap JOIN channels ON channels.lap = lap.id WHERE session = ?", (number,)
    )
    for place, grid in found:
        if place < len(session.laps):
            session.laps[place].grid = unpack_grid(grid)
            if session.length is None:
                session.length = session.laps[place].grid.length


def _length(memory: sqlite3.Connection, session: KeptSession) -> float | None:
    """m, of the circuit's map that the session had; None where it is not kept, or damaged."""
    row = memory.execute(
        "SELECT body FROM circuit WHERE track = ? AND map = ?", (session.track or "", session.map)
    ).fetchone()
    try:
        return None if row is None else Circuit.from_json(value_of(row[0])).length
    except FormatError:
        return None


def _reference(memory: sqlite3.Connection, session: KeptSession, number: int, n: int) -> GridLap | None:
    """The channels of the reference that the event `n` told of; None where they are not kept, or damaged: the laps have
    theirs all the same."""
    row = memory.execute("SELECT lap, grid FROM reference WHERE session = ? AND n = ?", (number, n)).fetchone()
    if row is None:
        return None
    lap, grid = row
    if lap is not None:
        return next((kept.grid for kept in session.laps if kept.id == lap), None)
    try:
        return unpack_grid(grid)
    except FormatError:
        return None


def _text(value: Any) -> str | None:
    return value if isinstance(value, str) and value else None


def _texts(value: Any) -> tuple[str, ...]:
    plain = value_of(value)
    if not isinstance(plain, list):
        raise FormatError("a kept lap's reasons cannot be read: the memory is damaged")
    return tuple(map(str, plain))


def _time(value: Any) -> float | None:
    return float(value) if isinstance(value, (int, float)) and isfinite(value) else None


def _stage(value: Any) -> str:
    return value if value in STAGES else PACE


def _numbers(plain: Any) -> dict[str, float]:
    if not isinstance(plain, dict):
        return {}
    return {str(name): float(value) for name, value in plain.items() if _time(value) is not None}
