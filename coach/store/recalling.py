"""What a drive begins with, of all that is kept."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from coach.engine.circuit import Circuit
from coach.engine.known import Known
from coach.engine.lap import GridLap
from coach.engine.scatter import Scatter
from coach.engine.start import PATH_LENGTH
from coach.store.handed import came_with, with_numbers_of
from coach.store.naming import label
from coach.store.packing import unpack_grid
from coach.store.plain import value_of
from coach.store.reading import CLOCKS
from coach.store.recalled import Recalled
from coach.vocabulary.errors import FormatError
from coach.vocabulary.stages import STAGES

_LAP = """
SELECT lap.id, number, name, coalesce(lap.driver, session.driver), begun
FROM lap LEFT JOIN session ON session.id = lap.session
"""
_BEST = f"""{_LAP} WHERE clean AND time IS NOT NULL AND lap.session IS NOT NULL AND coalesce(session.track, '') = ?
AND coalesce(session.car, '') = ? AND (? = '' OR session.driver = ?) ORDER BY time, lap.id
"""


def recall(memory: sqlite3.Connection, driver: str | None, car: str | None, track: str | None) -> Recalled:
    """All that is kept of them; what is damaged is left out. Where no circuit is named, the stage alone: corners and
    laps could be of any. May raise sqlite3.Error."""
    who, what, where = (label(name) or "" for name in (driver, car, track))
    mine = _known(memory, who, what, where)
    stage = mine.get("stage") if mine.get("stage") in STAGES else None
    if not where:
        return Recalled(stage=stage)
    circuit = _circuit(memory, where)
    found = _reference(memory, who, what, where, None if circuit is None else circuit.length)
    known = Known(circuit=circuit, scatter=_scatter(mine.get("scatter")), driver=who or None)
    if found is not None:
        known.reference, known.origin, theirs, came = found
        known.driver = theirs
        if came is not None:
            came = came if circuit is None else with_numbers_of(circuit, came)
            known.circuit, known.usual, known.warm = came.circuit, came.usual, came.warm
        else:
            habits = mine if (theirs or "") == who else _known(memory, theirs or "", what, where)
            known.usual, known.warm = _usual(habits.get("usual")), habits.get("warm")
    planner = _plain(mine.get("planner"))
    empty = found is None and circuit is None and not mine
    recalled = Recalled(None if empty else known, planner if isinstance(planner, dict) else None, stage)
    try:
        return recalled.checked()
    except FormatError:
        return replace(recalled, planner=None)


def _best(
    memory: sqlite3.Connection, driver: str, car: str, track: str, length: float | None
) -> tuple[tuple[Any, ...], GridLap] | None:
    """The row of the best clean lap that has channels and is of this circuit's length, and the lap itself."""
    for row in memory.execute(_BEST, (track, car, driver, driver)):
        lap = _grid(memory, row[0])
        if lap is not None and (length is None or abs(lap.length - length) <= PATH_LENGTH * length):
            return row, lap
    return None


def _reference(
    memory: sqlite3.Connection, driver: str, car: str, track: str, length: float | None
) -> tuple[GridLap, str, str | None, Known | None] | None:
    """The lap, its origin in words, who drove it, and what came with it."""
    row = memory.execute(
        f"{_LAP} WHERE lap.id = (SELECT lap FROM chosen WHERE car = ? AND track = ?)", (car, track)
    ).fetchone()
    lap = None if row is None else _grid(memory, row[0])
    if lap is None:
        found = _best(memory, driver, car, track, length)
        if found is None:
            return None
        row, lap = found
    place, number, name, theirs, begun = row
    return lap, origin_of(number, name, theirs, begun), theirs, came_with(memory, place)


def origin_of(number: int, name: str | None, driver: str | None, begun: float | None) -> str:
    """A lap in few words: its name, else its day (UTC, so that a replay elsewhere says the same), else whose it is."""
    if name:
        return name
    if begun is not None and begun >= CLOCKS:
        try:
            return f"lap {number} of {datetime.fromtimestamp(begun, UTC):%Y-%m-%d}"
        except (OverflowError, ValueError, OSError):
            return f"lap {number} of a day beyond the calendar"
    return f"lap {number} of {driver}" if driver else f"lap {number} of an earlier day"


def _known(memory: sqlite3.Connection, driver: str, car: str, track: str) -> dict[str, Any]:
    columns = ("scatter", "usual", "warm", "planner", "stage")
    row = memory.execute(
        f"SELECT {', '.join(columns)} FROM known WHERE driver = ? AND car = ? AND track = ?", (driver, car, track)
    ).fetchone()
    return {} if row is None else dict(zip(columns, row, strict=True))


def _circuit(memory: sqlite3.Connection, track: str) -> Circuit | None:
    """The map that was driven on last, whoever drove."""
    for (body,) in memory.execute("SELECT body FROM circuit WHERE track = ? ORDER BY changed DESC", (track,)):
        try:
            return Circuit.from_json(value_of(body))
        except FormatError:
            continue  # damaged: an older one is better than none
    return None


def _grid(memory: sqlite3.Connection, lap: int) -> GridLap | None:
    row = memory.execute("SELECT grid FROM channels WHERE lap = ?", (lap,)).fetchone()
    try:
        return None if row is None else unpack_grid(row[0])
    except FormatError:
        return None


def _plain(text: Any) -> Any:
    try:
        return value_of(text)
    except FormatError:
        return None


def _scatter(text: Any) -> Scatter:
    try:
        return Scatter.from_json(_plain(text) or [])
    except FormatError:
        return Scatter()


def _usual(text: Any) -> dict[tuple[int, str], float]:
    try:
        return {(int(corner), str(feature)): float(value) for corner, feature, value in _plain(text) or []}
    except (TypeError, ValueError, OverflowError):
        return {}
