"""What an instructor types while following: read beside the work, a line at a time."""

from __future__ import annotations

from collections.abc import Callable

from coach.app.typed import read, standard_input
from coach.vocabulary.actions import INSTRUCTORS
from coach.vocabulary.errors import FormatError
from coach.vocabulary.faults import FAULTS
from feeds.sharing.lines import HELP, LONGEST_ASKED, SHORT_NAMES, read_asked


def help_lines() -> list[str]:
    """What may be typed, one line each."""
    short = {name: f"{word} or {name}" for word, name in SHORT_NAMES.items()}
    lines = [f"{short.get(name, name)}: {what}" for name, what in INSTRUCTORS.items()]
    return [*lines, f"the faults: {', '.join(FAULTS)}"]


class Typed:
    """Reads lines and gives the actions that they ask for to `ask`; answers anything else by `say`."""

    def __init__(self, ask: Callable[[str], None], say: Callable[[str], None]) -> None:
        self._ask, self._say = ask, say
        self._partial = b""

    def start(self, source: int | None = None) -> bool:
        """Read from this file descriptor, standard input if none is named; False where nobody can type."""
        source = standard_input() if source is None else source
        if source is None:
            return False
        read(source, self.take)
        return True

    def take(self, data: bytes) -> None:
        """Take what was typed, in any pieces."""
        *lines, self._partial = (self._partial + data).split(b"\n")
        for line in lines:
            self._line(line)
        if len(self._partial) > LONGEST_ASKED:
            self._partial = b""
            self._say("that line is too long")

    def _line(self, line: bytes) -> None:
        text = line.decode(errors="replace").strip()
        if text == HELP:
            for one in help_lines():
                self._say(one)
        elif text:
            try:
                self._ask(read_asked(text))
            except FormatError as error:
                self._say(str(error))
