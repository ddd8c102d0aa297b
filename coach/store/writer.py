"""A thread of its own writes what the drive puts before it. The drive never waits for it."""

from __future__ import annotations

import sqlite3
import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from time import monotonic

from coach.store.ending import end_left_ones
from coach.store.naming import shown
from coach.store.opening import explained, transaction
from coach.store.slots import Slot
from coach.store.writing import Came, Item, SessionWriter
from coach.vocabulary.errors import WorkError

EVERY = 0.25
"""s between two commits: a kill loses no more than that, and what one commit takes."""
WAITING = 50_000
"""samples that may wait to be written, some 2 minutes of the fastest stream and 30 MB; then new ones are dropped. The
lap's own channels come whole from the engine all the same."""
AT_ONCE = 5_000
"""items in one transaction, so that others have their turn."""
PATIENCE = 300.0
"""s that another program may keep the file to itself before the drive goes on unkept (choice): a copy of the whole disk
may take minutes, and what is driven meanwhile finds room among what waits."""
LAST = 15.0
"""s that the end of a drive waits for its last commit: a disk may be slow, and a person waits (choice)."""


class Writer:
    """`put` from one thread, as often as wanted. `failure`: one line, once nothing is written any more."""

    def __init__(self, path: Path, memory: sqlite3.Connection, slot: Slot, say: Callable[[str], None]) -> None:
        """Owns the connection and the lock from now on; `say` is told what a person should know."""
        self.failure: str | None = None
        self.dropped = 0
        self._path = path
        self._memory = memory
        self._slot = slot
        self._say = say
        self._waiting: deque[Item] = deque()
        self._ending = threading.Event()
        self._ended = threading.Event()
        self._sessions = SessionWriter(memory, slot.number)
        self._thread = threading.Thread(target=self._run, name="memory", daemon=True)
        self._thread.start()

    @property
    def sessions(self) -> list[int]:
        """The numbers of the sessions that were begun, in their order."""
        return self._sessions.state.begun

    def put(self, item: Item) -> None:
        """Take in what is to be written. Never waits."""
        if self.failure is not None:
            return
        if isinstance(item, Came) and len(self._waiting) >= WAITING:
            if not self.dropped:
                self._say("the memory cannot be written as fast as samples come: a lap cut short may have gaps")
            self.dropped += 1
            return
        self._waiting.append(item)

    def close(self) -> None:
        """Write the rest, end the session in good order, and close the file."""
        self._ending.set()
        if not self._ended.wait(LAST):
            self.failure = self.failure or (
                f"the memory {shown(self._path)} takes too long to write: the end of this drive may not be kept"
            )
            self._say(self.failure)
            return
        self._thread.join()

    def _run(self) -> None:
        try:
            self._write_until_the_end()
        except sqlite3.Error as error:
            self._give_up(str(explained(self._path, error)))
        except WorkError as error:
            self._give_up(str(error))
        except Exception as error:  # a bug here must not cost the drive, nor end in silence
            self._give_up(f"the memory failed ({error!r})")
        finally:
            try:
                self._memory.close()
            except sqlite3.Error as error:
                self._give_up(str(explained(self._path, error)))
            self._slot.free()
            self._ended.set()

    def _write_until_the_end(self) -> None:
        left = end_left_ones(self._memory, self._path, self._slot.number)
        if left:
            what = "a session was" if len(left) == 1 else f"{len(left)} sessions were"
            self._say(f"{what} cut short before: what was driven by then is kept")
        while not self._ending.wait(EVERY):
            self._write_all()
        self._write_all()
        self._patiently(self._sessions.end)

    def _write_all(self) -> None:
        while self._waiting:
            self._check_there()
            items = [self._waiting.popleft() for _ in range(min(AT_ONCE, len(self._waiting)))]
            self._patiently(partial(self._sessions.write, items))

    def _check_there(self) -> None:
        """SQLite goes on writing to a file that has no name any more, and all of it is gone with the last one who has
        it open. Raises WorkError."""
        with suppress(OSError):  # a network that is away for a moment
            if not self._path.exists():
                raise WorkError(f"the memory {shown(self._path)} was moved or deleted: what was driven may be lost")

    def _patiently(self, work: Callable[[], None]) -> None:
        """In one transaction; again where another program keeps the file to itself."""
        until, waits = monotonic() + PATIENCE, False
        while True:
            before = self._sessions.saved()
            try:
                with transaction(self._memory):
                    work()
                return
            except sqlite3.OperationalError as error:
                self._sessions.state = before
                if "locked" not in str(error) or monotonic() > until:
                    raise
                if not waits:
                    self._say(f"the memory {shown(self._path)} is in use by another program: this drive waits for it")
                waits = True

    def _give_up(self, why: str) -> None:
        if self.failure is None:
            self.failure = f"{why}; the drive goes on unkept"
            self._waiting.clear()
            self._say(self.failure)
