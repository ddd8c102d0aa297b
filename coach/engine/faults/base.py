"""What every fault family is given and what it gives back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, ClassVar, Protocol

from coach.engine.gearing import Gearing
from coach.engine.ledger import Bounds
from coach.engine.scatter import Scatter
from coach.engine.stretch import Stretch


@dataclass(slots=True)
class CornerPass:
    """One corner as it was just driven, beside the reference's.

    `own` and `reference` have distances that count alike, so that a place in one is the same place in the other;
    `reference` is None on a new circuit, `by_gears` is False where it was driven in another car, `by_marks` False
    where only the physical tests may speak (the first lap of a run, out-laps), although there is a reference.
    """

    lap: int
    bounds: Bounds
    linked: bool
    own: Stretch
    reference: Stretch | None
    by_marks: bool
    by_gears: bool
    gearing: Gearing
    scatter: Scatter
    usual: dict[tuple[int, str], float]
    """what the reference's driver usually did, by corner and feature"""

    @property
    def corner(self) -> int:
        """The corner's number on the map."""
        return self.bounds.mark.corner

    def spread(self, feature: str, prior: float) -> float:
        """The driver's scatter of `feature` in this corner."""
        return self.scatter.spread(self.corner, feature, prior)

    def at_least_usual(self, feature: str, there: float) -> float:
        """The reference's value or what its driver usually did, whichever is greater: one lucky pass is no mark."""
        return max(there, self.usual.get((self.corner, feature), there))


@dataclass(slots=True)
class Finding:
    """A fault found in a pass. `distance` m, `begins` s: where and when it began; `size` in `unit`, positive = worse.

    `phases`: those of the ledger whose loss it touches.
    """

    fault: str
    distance: float
    begins: float
    size: float
    unit: str
    phases: tuple[str, ...]
    evidence: dict[str, Any] = field(default_factory=dict)


class Family(Protocol):
    """Judges a pass for one family of faults. Without state: all it knows is in the pass."""

    name: ClassVar[str]
    faults: ClassVar[tuple[str, ...]]
    needs: ClassVar[tuple[str, ...]]
    """Channels without which it is off."""
    off_with: ClassVar[str | None]
    """The assist that switches it off, since the driver does not do then what it judges."""

    def settled(self, p: CornerPass) -> bool:
        """At the corner's exit: whether all is known that the judgement needs. A pass waits a little for it."""
        ...

    def judge(self, p: CornerPass) -> list[Finding]:
        """The findings of this pass."""
        ...

    def measure(self, p: CornerPass) -> Iterable[tuple[str, float]]:
        """Features of this pass whose scatter the family judges by: (name, value)."""
        ...
