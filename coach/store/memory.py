"""The memory as it is read and edited: one SQLite file."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from time import time
from typing import Self

from coach.engine.known import Known
from coach.engine.lap import GridLap
from coach.review.model import KeptSession
from coach.review.results import Thing
from coach.store.ending import end_left_ones
from coach.store.handed import came_with, text_with
from coach.store.naming import clean_text, label, shown
from coach.store.opening import copy_whole, open_to_read, told, transaction
from coach.store.packing import pack_grid, unpack_grid
from coach.store.plain import thing_of
from coach.store.reading import kept_session, lap_rows, session_rows
from coach.store.recalled import Recalled
from coach.store.recalling import recall
from coach.store.rows import LapRow, SessionRow
from coach.store.slots import hold_one
from coach.vocabulary.errors import InputError, WorkError


class Memory:
    """Reads, and makes small changes, each a transaction of its own. Raises InputError for what is asked for and not
    there, FormatError for a file that is no memory or of a later version, WorkError where the disk refuses.

    A context manager. Other programs may write meanwhile.
    """

    def __init__(self, path: Path) -> None:
        """Open the file, which must exist; a memory of an earlier version is moved on, with a copy kept, and sessions
        that a kill left open are closed."""
        self._path = path
        opened = open_to_read(path)
        self._memory = opened.memory
        self.notices = opened.notices
        """lines that a person should know of"""
        try:
            with told(path):
                self._end_left_ones()
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """Leave the file as one whole file where nobody else has it open."""
        self._memory.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def sessions(self, driver: str | None = None, car: str | None = None, track: str | None = None) -> list[SessionRow]:
        """The newest first; None is any."""
        asked = {"driver": driver, "car": car, "track": track}
        named = {name: value for name, value in asked.items() if value is not None}
        where = " AND ".join(f"session.{name} = ?" for name in named)
        with told(self._path):
            return session_rows(self._memory, where, tuple(map(clean_text, named.values())))

    def latest(self) -> SessionRow | None:
        """The one kept last that has a lap, for a game's menus leave sessions without one; only where none has, of
        these. By its number: a clock may have been wrong. None where nothing is kept."""
        return max(self.sessions(), key=lambda row: (row.laps > 0, row.id), default=None)

    def session(self, number: int, grids: bool = False) -> KeptSession:
        """One session; with `grids` its laps have their channels."""
        with told(self._path):
            return kept_session(self._memory, number, grids)

    def laps(self, session: int | None = None) -> list[LapRow]:
        """A session's laps in order; None: the laps that were handed on, and all that have a name."""
        with told(self._path):
            if session is None:
                return lap_rows(self._memory, "lap.session IS NULL OR lap.name IS NOT NULL")
            self._there(session)
            return lap_rows(self._memory, "lap.session = ?", (session,))

    def lap(self, which: str) -> LapRow:
        """The lap of that number or name."""
        with told(self._path):
            found = lap_rows(self._memory, "lap.name = ?", (clean_text(which),))
            if not found and which.isascii() and which.isdigit() and len(which) < 19:
                found = lap_rows(self._memory, "lap.id = ?", (int(which),))
        if not found:
            raise InputError(
                f"there is no lap {clean_text(which)!r:.80} in the memory: `cornerword memory laps` lists them"
            )
        return found[0]

    def grid(self, lap: int) -> GridLap:
        """A lap's channels, as exactly as the engine needs them for a reference."""
        with told(self._path):
            row = self._memory.execute("SELECT grid FROM channels WHERE lap = ?", (lap,)).fetchone()
            if row is None:
                found = self.lap(str(lap))
                raise InputError(f"lap {found.id} has no channels: it was not whole, or was forgotten; choose another")
        return unpack_grid(row[0])

    def came_with(self, lap: int) -> Known | None:
        """The map and the habits that came with a lap that was handed on; None where none did."""
        with told(self._path):
            return came_with(self._memory, lap)

    def things(self, session: int) -> list[Thing]:
        """The three things that were told after the session."""
        with told(self._path):
            found = self._memory.execute("SELECT body FROM thing WHERE session = ? ORDER BY place", (session,))
            return [thing_of(body) for (body,) in found]

    def before(self, session: int) -> int | None:
        """The session before this one, of the same driver, car and circuit, that has a lap."""
        with told(self._path):
            row = self._memory.execute(
                "SELECT before.id FROM session AS this JOIN session AS before ON before.driver IS this.driver "
                "AND before.car IS this.car AND before.track IS this.track AND "
                "(before.begun, before.id) < (this.begun, this.id) "
                "WHERE this.id = ? AND EXISTS (SELECT 1 FROM lap WHERE lap.session = before.id) "
                "ORDER BY before.begun DESC, before.id DESC LIMIT 1",
                (session,),
            ).fetchone()
        return None if row is None else int(row[0])

    def recall(self, driver: str | None, car: str | None, track: str | None) -> Recalled:
        """What a drive begins with: the chosen lap, or the best clean one of this driver in this car on this circuit;
        the circuit's map, whoever drove there; scatter, planner's state and stage of the three."""
        with told(self._path):
            return recall(self._memory, driver, car, track)

    def note(self, session: int, text: str) -> None:
        """Write a note to a session."""
        self._edit_session(session, "note", clean_text(text))

    def set_up(self, session: int, label: str) -> None:
        """Say with which setup it was driven."""
        self._edit_session(session, "setup", clean_text(label) or None)

    def name(self, lap: int, label: str | None) -> None:
        """Give a lap a name of its own; None takes it away."""
        with self._edit():
            self.lap(str(lap))
            name = clean_text(label) if label else None
            self._free(name, lap)
            self._memory.execute("UPDATE lap SET name = ? WHERE id = ?", (name, lap))

    def forget_session(self, session: int) -> None:
        """Delete a session with its laps."""
        with self._edit():
            row = self._there(session)
            if row.ended is None and self._is_driven(session):
                raise InputError(f"session {session} is being driven: forget it when it has ended")
            self._memory.execute("DELETE FROM session WHERE id = ?", (session,))

    def forget_lap(self, lap: int) -> None:
        """Delete a lap's channels and name, or all of one that was handed on."""
        with self._edit():
            if self.lap(str(lap)).session is None:
                self._memory.execute("DELETE FROM lap WHERE id = ?", (lap,))
                return
            self._memory.execute("DELETE FROM channels WHERE lap = ?", (lap,))
            self._memory.execute("DELETE FROM chosen WHERE lap = ?", (lap,))
            self._memory.execute("UPDATE lap SET name = NULL WHERE id = ?", (lap,))

    def choose(self, lap: int) -> None:
        """Make it the reference of its circuit and car."""
        with self._edit():
            row = self.lap(str(lap))
            if not row.whole:
                raise InputError(f"lap {lap} cannot be the reference: it has no channels; choose a whole one")
            self._memory.execute(
                "INSERT OR REPLACE INTO chosen VALUES (?, ?, ?)", (row.car or "", row.track or "", lap)
            )

    def choose_best(self, driver: str | None, car: str | None, track: str | None) -> None:
        """The best clean lap is the reference again, in that car on that circuit. It is the one of whoever drives."""
        with self._edit():
            self._memory.execute(
                "DELETE FROM chosen WHERE car = ? AND track = ?", (label(car) or "", label(track) or "")
            )

    def add_lap(
        self, grid: GridLap, driver: str | None, name: str | None, clean: bool, came: Known | None = None
    ) -> int:
        """Take in a lap that was handed on, with map and habits that `came` with it; returns its number here."""
        with self._edit():
            name = clean_text(name) if name else None
            self._free(name, None)
            added = self._memory.execute(
                "INSERT INTO lap (number, time, clean, name, track, car, driver, taken, came) "
                "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    *(grid.number, grid.total, int(clean), name),
                    *(label(grid.track), label(grid.car), label(driver), time()),
                    None if came is None else text_with(came),
                ),
            )
            number = int(added.lastrowid or 0)
            self._memory.execute("INSERT INTO channels VALUES (?, ?)", (number, pack_grid(grid)))
        return number

    def copy(self, to: Path) -> None:
        """The whole of it to a new file, whoever writes meanwhile; where it fails, nothing is left there."""
        name = shown(to)
        try:
            to.touch(exist_ok=False)  # ours from here on; a USB stick may know neither links nor locks
        except FileExistsError:
            raise InputError(f"{name} exists already: choose another name, or move it away") from None
        except OSError as error:
            raise _cannot_write(name, error) from error
        try:
            copy_whole(self._memory, to)  # a kill leaves an empty database: it is one transaction
        except BaseException as error:
            for left in (to, to.with_name(f"{to.name}-journal")):
                with suppress(OSError):
                    left.unlink()
            if isinstance(error, (OSError, sqlite3.Error)):
                raise _cannot_write(name, error) from error
            raise

    @contextmanager
    def _edit(self) -> Iterator[None]:
        with told(self._path), transaction(self._memory):
            yield

    def _edit_session(self, session: int, column: str, value: str | None) -> None:
        with self._edit():
            self._there(session)
            self._memory.execute(f"UPDATE session SET {column} = ? WHERE id = ?", (value, session))

    def _there(self, session: int) -> SessionRow:
        found = session_rows(self._memory, "session.id = ?", (session,))
        if not found:
            raise InputError(f"there is no session {session} in the memory: `cornerword memory sessions` lists them")
        return found[0]

    def _free(self, name: str | None, lap: int | None) -> None:
        """Raises InputError where another lap has the name."""
        others = lap_rows(self._memory, "lap.name = ? AND lap.id IS NOT ?", (name, lap))
        if others:
            raise InputError(f"lap {others[0].id} has that name already: choose another one, or take it away there")

    def _is_driven(self, session: int) -> bool:
        (slot,) = self._memory.execute("SELECT slot FROM session WHERE id = ?", (session,)).fetchone()
        held = None if slot is None else hold_one(self._path, int(slot))
        if held is not None:
            held.free()
        return slot is not None and held is None

    def _end_left_ones(self) -> None:
        may_write = os.access(self._path, os.W_OK) and os.access(self._path.parent, os.W_OK)
        if may_write and self._memory.execute("SELECT 1 FROM session WHERE whole IS NULL").fetchone() is not None:
            end_left_ones(self._memory, self._path, mine=0)


def _cannot_write(name: str, error: Exception) -> WorkError:
    why = error.strerror if isinstance(error, OSError) else error
    return WorkError(f"cannot write {name} ({why}): make room, or name another place")
