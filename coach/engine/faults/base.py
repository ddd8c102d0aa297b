"""What every fault family is given and what it gives back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, ClassVar, Protocol

from coach.engine.faults.pedals import Throttle, lateral_at_slowest, slowest, way_to_power
from coach.engine.gearing import Gearing
from coach.engine.ledger import Bounds
from coach.engine.losses import Losses
from coach.engine.scatter import Scatter
from coach.engine.shown import Shown
from coach.engine.stretch import Stretch
from coach.vocabulary.sample import Sample

BAND = 2.2
"""standard deviations of the driver's own scatter that are no fault, where a family has no reason for another number
(choice: 1 in 70 of one's own passes)."""
AS_HARD = 0.95
"""of the target's lateral acceleration: a car that turns as hard as that is not slow for its driver's caution."""


@dataclass(slots=True)
class CornerPass:
    """One corner as it was just driven, beside the reference's.

    `own` and `reference` have distances that count alike, so that a place in one is the same place in the other;
    `reference` is None on a new circuit. `by_gears` is False where it was driven in another car, `by_line` where it
    says nothing of the line (it follows the driver's own), `by_marks` where only the physical tests may speak (the
    first lap of a run, out-laps), although there is a reference. `opens` and `closes`: the first and the last corner
    of a linked run; a corner on its own is both. `losses` are measured against the target's pace and None without one.
    """

    lap: int
    bounds: Bounds
    own: Stretch
    reference: Stretch | None
    by_marks: bool
    by_gears: bool
    shown: Shown
    scatter: Scatter
    usual: dict[tuple[int, str], float]
    """what the reference's driver usually did, by corner and feature"""
    by_line: bool = True
    opens: bool = True
    closes: bool = True
    target: Stretch | None = None
    """whose speeds and times are to be reached: the reference's, or another lap's nearer to this driver's pace"""
    losses: Losses | None = None
    pace: float = 0.0
    """s lost for each second wherever one looks today: see `pace.py`"""

    @property
    def corner(self) -> int:
        """The corner's number on the map."""
        return self.bounds.mark.corner

    @property
    def linked(self) -> bool:
        """Whether the next corner follows without full throttle in between."""
        return self.bounds.mark.linked

    @property
    def gearing(self) -> Gearing:
        """What the car has shown of its gears."""
        return self.shown.gearing

    def beyond(self, phases: tuple[str, ...]) -> float:
        """s lost in these phases over what is lost everywhere today; 0 where nothing can be compared."""
        return 0.0 if self.losses is None else self.losses.of(phases) - self.pace * self.losses.target_of(phases)

    def spread(self, feature: str, prior: float) -> float:
        """The driver's scatter of `feature` in this corner, a standard deviation."""
        return self.scatter.spread(self.corner, feature, prior)

    def common(self, feature: str) -> float:
        """How much `feature` lies above the usual in every corner alike today: no fault of this one."""
        return self.scatter.common(feature)

    def at_least_usual(self, feature: str, there: float) -> float:
        """The reference's value or what its driver usually did, whichever is greater: one lucky pass is no mark."""
        return max(there, self.usual.get((self.corner, feature), there))

    def at_most_usual(self, feature: str, there: float) -> float:
        """The reference's value or what its driver usually did, whichever is smaller."""
        return min(there, self.usual.get((self.corner, feature), there))

    def slow_for_its_line(self) -> bool:
        """Whether a car that is slower than the target in the corner is so because it drives a tighter line.

        Round the same line it needs less lateral acceleration by the square of its share of the speed; one that needs
        more than by that share itself turns tighter. False where it is not known.
        """
        if self.target is None:
            return False
        entry, exit_ = self.bounds.entry, self.bounds.exit
        rows = [slowest(r, entry, exit_) for r in (self.own, self.target)]
        pulls = [lateral_at_slowest(r, entry, exit_) for r in (self.own, self.target)]
        if rows[0] is None or rows[1] is None or pulls[1] <= 0.0:
            return False
        return pulls[0] / pulls[1] >= min(AS_HARD, self.own["speed"][rows[0]] / self.target["speed"][rows[1]])

    def way(self, rows: Stretch) -> Throttle:
        """How throttle came back in `rows`, the own or the reference's."""
        return rows.once(way_to_power, self.bounds.braking, self.bounds.end)


@dataclass(slots=True)
class Finding:
    """A fault found. `distance` m, `begins` s: where and when it began; `size` in `unit`, positive = worse.

    `phases`: those of the ledger whose loss it touches. `strength`: how many times the size is what would still be
    allowed there. `cost`: s, where the family knows it itself; otherwise it is taken from the ledger. `since`: s, when
    what shows as this fault set in, if before `begins`: throttle is late from its place on, but the foot that waits
    for it has been idle since the brakes.
    """

    fault: str
    distance: float
    begins: float
    size: float
    unit: str
    phases: tuple[str, ...]
    evidence: dict[str, Any] = field(default_factory=dict)
    strength: float = 1.0
    cost: float | None = None
    also: tuple[str, ...] = ()
    since: float | None = None
    not_from: tuple[str, ...] = ()
    """faults that are seen not to be its cause, though they might have been"""

    @property
    def origin(self) -> float:
        """s: what comes after this may have come from it."""
        return self.begins if self.since is None else min(self.since, self.begins)


class Family(Protocol):
    """Judges a corner pass for one family of faults. Without state: all it knows is in the pass."""

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


class Watch(Protocol):
    """Follows the samples one by one for what may happen anywhere: a slide, an excursion, a gear change.

    One instance a session, so it may remember. What it finds in a corner that is not judged yet is kept for its
    judgement, anything else is told at once.
    """

    name: ClassVar[str]
    faults: ClassVar[tuple[str, ...]]
    needs: ClassVar[tuple[str, ...]]
    off_with: ClassVar[str | None]

    def watch(self, sample: Sample, progress: float, shown: Shown) -> list[Finding]:
        """Takes one sample in, `progress` m from the line; what is known now that was not before."""
        ...

    def reset(self) -> None:
        """The car is somewhere else, or samples are missing: forget what was going on."""
        ...
