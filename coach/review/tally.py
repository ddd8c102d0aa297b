"""The passes of each corner over a session, and what came up in each: what every share is counted from. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field

from coach.review.costs import Costs
from coach.review.model import KeptSession
from coach.vocabulary.events import Fault

Pair = tuple[str, int | None]
"""A fault and its corner; None: it belongs to none."""


@dataclass(slots=True)
class Pass:
    """One pass of a corner (of a whole lap, where the corner is None). `order` rises over the session; `lap` is its
    place among the session's laps, None in one that never ended; `judged`: no finding means there was no fault."""

    order: tuple[int, float]
    number: int
    lap: int | None
    t: float
    judged: bool
    net: float | None = None
    faults: list[Fault] = field(default_factory=list)
    slight: list[Fault] = field(default_factory=list)
    """what came up but cost nothing"""

    def shows(self, fault: str) -> bool | None:
        """Whether this fault came up; None where it came up so little that it counts neither way, or nobody looked."""
        if any(found.fault == fault for found in self.faults):
            return True
        unclear = any(found.fault == fault for found in self.slight)
        return None if unclear or not self.judged else False


@dataclass(frozen=True, slots=True)
class Share:
    """`hits` of `passes` that tell."""

    hits: int
    passes: int

    @property
    def share(self) -> float | None:
        """0..1; None where no pass tells."""
        return self.hits / self.passes if self.passes else None


class Tally:
    """The passes of one session by corner, in the order driven, with the faults of each."""

    def __init__(self, session: KeptSession) -> None:
        self.costs = Costs(session)
        self._passes: dict[int | None, list[Pass]] = defaultdict(list)
        self._by_time: dict[tuple[int | None, float], Pass] = {}
        self.pairs: dict[Pair, None] = {}
        """every fault that came up, with its corner"""
        for lap in session.laps:
            whole = Pass((lap.index, -1.0), lap.number, lap.index, lap.t, any(p.judged for p in lap.passes))
            self._passes[None].append(whole)
            for passed in lap.passes:
                self._add(passed.corner, passed.t, passed.lap, lap.index, passed.judged, passed.net)
        for passed in session.loose_passes:
            self._add(passed.corner, passed.t, passed.lap, None, passed.judged, passed.net)
        for lap in session.laps:
            for fault in lap.faults:
                self._find(fault, lap.index)
        for fault in session.loose_faults:
            self._find(fault, None)
        for passes in self._passes.values():
            passes.sort(key=lambda p: p.order)

    def passes(self, corner: int | None) -> list[Pass]:
        """The passes of this corner; of None, the laps."""
        return self._passes.get(corner, [])

    @property
    def laps(self) -> int:
        """How many laps were judged, somewhere at least."""
        return sum(p.judged for p in self.passes(None))

    def corners(self) -> list[int]:
        """Those that were passed."""
        return sorted(corner for corner in self._passes if corner is not None)

    def share(self, fault: str, corner: int | None) -> Share:
        """In how many of the passes that tell the fault came up."""
        told = [shown for p in self.passes(corner) if (shown := p.shows(fault)) is not None]
        return Share(sum(told), len(told))

    def found(self, fault: str, corner: int | None) -> Iterator[tuple[Pass, Fault]]:
        """Each pass in which it came up, with the dearest finding of it there."""
        for p in self.passes(corner):
            mine = [found for found in p.faults if found.fault == fault]
            if mine:
                yield p, max(mine, key=lambda found: found.cost if found.cost is not None else 0.0)

    def _add(self, corner: int, t: float, number: int, lap: int | None, judged: bool, net: float | None) -> None:
        made = Pass((_order(lap), t), number, lap, t, judged, net)
        self._passes[corner].append(made)
        self._by_time[corner, t] = made

    def _find(self, fault: Fault, lap: int | None) -> None:
        """Puts the fault to its pass: told at the same time; else that of its lap; else a pass that nobody judged."""
        self.pairs.setdefault((fault.fault, fault.corner))
        own = self._by_time.get((fault.corner, fault.t))
        if own is None:
            same = [p for p in self._passes[fault.corner] if p.lap == lap and p.number == fault.lap]
            own = same[-1] if same else None
        if own is None:
            own = Pass((_order(lap), fault.t), fault.lap, lap, fault.t, False)
            self._passes[fault.corner].append(own)
        (own.slight if self.costs.is_slight(fault) else own.faults).append(fault)


def _order(lap: int | None) -> int:
    return 1_000_000_000 if lap is None else lap
