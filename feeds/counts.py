"""Count what went wrong by cause, and say so once in a while."""

from __future__ import annotations

EVERY = 30.0
"""s between two lines about the same cause."""


class Counts:
    """Things counted by cause, and the lines that tell a person of them.

    `subject` starts every line: "datagram dropped". Causes are short fixed phrases, so that their number stays small;
    what differs from time to time goes into `detail`, of which only the last is kept. Reads no clock.
    """

    def __init__(self, subject: str) -> None:
        self.subject = subject
        self._total: dict[str, int] = {}
        self._untold: dict[str, int] = {}
        self._detail: dict[str, str] = {}
        self._told: dict[str, float] = {}

    def add(self, cause: str, detail: str = "") -> None:
        """Count one more of `cause`; `detail` is shown behind it."""
        self._total[cause] = self._total.get(cause, 0) + 1
        self._untold[cause] = self._untold.get(cause, 0) + 1
        self._detail[cause] = detail

    def lines(self, now: float) -> list[str]:
        """What to say at `now` (s, any clock that does not go back): a new cause at once, then at most each 30 s."""
        due = [cause for cause in self._untold if cause not in self._told or now - self._told[cause] >= EVERY]
        lines = []
        for cause in due:
            number = self._untold.pop(cause)
            self._told[cause] = now
            times = "" if number == 1 else f" {number} times"
            detail = self._detail[cause]
            lines.append(f"{self.subject}{times}: {cause}" + (f" ({detail})" if detail else ""))
        return lines

    @property
    def total(self) -> int:
        """How many, of all causes."""
        return sum(self._total.values())

    def by_cause(self) -> dict[str, int]:
        """How many of each cause, in the order in which they first came."""
        return dict(self._total)
