"""The findings that wait for room, at most one a corner pass."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from coach.planner.worth import worth
from coach.vocabulary.events import Fault


@dataclass(slots=True)
class Finding:
    """A fault that may still be spoken. `since`: s, when it was decided. `away`: its corner has been out of sight
    since. `obstacle`: what kept it back when there was room otherwise.
    """

    fault: Fault
    since: float
    away: bool = False
    obstacle: str = ""


class Waiting:
    """Holds the findings; each method gives back those that drop out, with the reason."""

    def __init__(self) -> None:
        self._findings: list[Finding] = []

    def __bool__(self) -> bool:
        return bool(self._findings)

    def __iter__(self) -> Iterator[Finding]:
        """The costliest first; of equals the one that was found first."""
        return iter(self._findings)

    def add(self, new: Finding) -> list[tuple[Finding, str]]:
        """Take a finding in. It or others may drop out: one a corner pass stays, and the newest of one kind."""
        out: list[tuple[Finding, str]] = []
        for old in list(self._findings):
            if _same_pass(old.fault, new.fault):
                loser = new if worth(new.fault) <= worth(old.fault) else old
                out.append((loser, "another cue for this corner"))
                if loser is new:
                    return out
                self._findings.remove(old)
            elif (old.fault.corner, old.fault.fault) == (new.fault.corner, new.fault.fault):
                self._findings.remove(old)
                out.append((old, "a newer finding of the same"))
        self._findings.append(new)
        self._findings.sort(key=lambda finding: -worth(finding.fault))
        return out

    def remove(self, finding: Finding) -> None:
        """Take one out: it is spoken, or has waited too long."""
        self._findings.remove(finding)

    def clear(self, reason: str) -> list[tuple[Finding, str]]:
        """Take all out."""
        out = [(finding, reason) for finding in self._findings]
        self._findings = []
        return out


def _same_pass(one: Fault, other: Fault) -> bool:
    return one.corner is not None and (one.lap, one.corner) == (other.lap, other.corner)
