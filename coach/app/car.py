"""The built-in car in a process of its own: it drives, sends, and ends with whoever started it."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from types import TracebackType

from coach.app.stop import Stop
from coach.vocabulary.errors import InputError, WorkError
from voice import process

LOOK = 0.05
"""s between two looks at whether it has ended."""
_SAYS = "feeds.car: "
"""What its own error lines begin with."""


class CarProcess:
    """`python -m feeds.car` with these arguments. Close it, or use it with `with`; it ends with a coach that is killed.

    Raises WorkError where no process can be started.
    """

    def __init__(self, arguments: Sequence[str]) -> None:
        command = [*process.module("feeds.car"), *arguments, "--leash"]
        pipe = subprocess.PIPE
        try:
            self._process = process.start(command, stdin=pipe, stdout=pipe, stderr=pipe)
        except OSError as error:
            raise WorkError(
                f"the built-in car cannot be started ({error.strerror or error}): close other programs, and try again"
            ) from error

    @property
    def pid(self) -> int:
        """The system's number of the process."""
        return self._process.pid

    @property
    def ended(self) -> bool:
        """Whether it drives no more."""
        return self._process.poll() is not None

    def wait(self, stop: Stop) -> str:
        """Wait for its end, or until `stop` asks for ours; returns what it said on standard output.

        Raises KeyboardInterrupt where `stop` asked first; InputError or WorkError with its own line where it failed.
        """
        while not self.ended:
            if stop.asked:
                raise KeyboardInterrupt
            stop.sleep(LOOK)
        return self.said()

    def said(self) -> str:
        """What an ended process said on standard output. Raises InputError or WorkError where it failed."""
        out, errors = self._process.communicate()
        code = self._process.returncode
        if code == 0:
            return out.decode(errors="replace")
        line = errors.decode(errors="replace").strip().rpartition("\n")[2]
        own = line.removeprefix(_SAYS) if line.startswith(_SAYS) else None
        if own is not None and code == InputError.exit_code:
            raise InputError(own)
        if own is not None:
            raise WorkError(f"the built-in car stopped: {own}")
        raise WorkError(f"the built-in car stopped ({line or f'exit code {code}'}): please report it")

    def close(self) -> None:
        """End it, at once: it has nothing to put in order."""
        process.kill(self._process)
        for pipe in (self._process.stdin, self._process.stdout, self._process.stderr):
            if pipe is not None:
                pipe.close()

    def __enter__(self) -> CarProcess:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
