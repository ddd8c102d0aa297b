"""The coach's end of the process that hears the controllers: keeps one running, and never waits for it."""

from __future__ import annotations

import contextlib
import subprocess
import threading
from collections.abc import Callable
from queue import Empty, SimpleQueue
from typing import IO

from coach.controls.button import Failed, Lost, Message, message_of

LONGEST_LINE = 4096
"""bytes of a line; a longer one is none."""
STARTING = 60.0
"""s for the process to say its first word: drivers are asked, and a slow disk reads the library (choice)."""
STILL = 20.0
"""s without a word after which it stands still: ten signs of life (choice)."""
RESTARTS = 3
"""Times a session that the process is started again; then the buttons are left alone (choice)."""
PAUSE = 1.0
"""s before it is started again."""
_ENDING = 1.0
"""s for this object's thread to end after the process has."""

Process = subprocess.Popen[bytes]


class Controls:
    """Keeps one such process. `hear` gets what it says from a thread of this object's.

    `start` starts one with pipes for standard input and output; OSError where it cannot be. `kill` ends one at once.
    """

    def __init__(
        self, hear: Callable[[Message], None], start: Callable[[], Process], kill: Callable[[Process], None]
    ) -> None:
        self._hear, self._start, self._kill = hear, start, kill
        self._lock = threading.Lock()
        self._process: Process | None = None
        self._closed = threading.Event()
        self._thread = threading.Thread(target=self._run, name="buttons", daemon=True)
        self._thread.start()

    @property
    def process_id(self) -> int | None:
        """The number in the system of the process that runs now, if one does."""
        process = self._process
        return None if process is None else process.pid

    def close(self) -> None:
        """End it, at once: it has nothing to put in order. Nothing is heard of it afterwards."""
        with self._lock:
            self._closed.set()
            process = self._process
        if process is not None:
            self._kill(process)
        self._thread.join(_ENDING)

    def _run(self) -> None:
        for left in range(RESTARTS, -1, -1):
            process = self._started()
            if process is None:
                return
            has_failed = self._listen(process)
            self._kill(process)
            with contextlib.suppress(OSError):
                _pipe(process.stdin).close()
            if has_failed:
                return
            self._say(Lost(again=left > 0))
            self._closed.wait(PAUSE)

    def _started(self) -> Process | None:
        with self._lock:
            if self._closed.is_set():
                return None
            try:
                self._process = self._start()
            except OSError as error:
                self._say(Failed(f"its process cannot be started ({error.strerror or error}): close other programs"))
                return None
            return self._process

    def _listen(self, process: Process) -> bool:
        """Until it ends, stands still or talks nonsense; returns whether it said why nothing can be heard."""
        lines: SimpleQueue[bytes] = SimpleQueue()
        reader = threading.Thread(target=_read, args=(process, lines), name="buttons-lines", daemon=True)
        reader.start()
        patience = STARTING
        while True:
            try:
                message = message_of(lines.get(timeout=patience))
            except (Empty, ValueError):
                return False
            self._say(message)
            if isinstance(message, Failed):
                return True
            patience = STILL

    def _say(self, message: Message) -> None:
        if not self._closed.is_set():
            self._hear(message)


def _read(process: Process, lines: SimpleQueue[bytes]) -> None:
    with _pipe(process.stdout) as pipe:
        while line := pipe.readline(LONGEST_LINE):
            lines.put(line)
    lines.put(b"")


def _pipe(pipe: IO[bytes] | None) -> IO[bytes]:
    assert pipe is not None, "it was started with both"
    return pipe
