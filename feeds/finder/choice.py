"""Picks one of several readings of a channel, or none: look-alikes that cannot be told apart are left out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol, TypeVar

import numpy as np

from feeds.finder.columns import Column
from feeds.finder.evidence import Candidate
from feeds.finder.fields import Floats
from feeds.finder.signals import exact, leads, same

CLEARLY = 0.35
"""How far one reading must lead another to be its cause (choice): a copy one packet late has about 1."""
IDENTICAL = 0.9995
"""Share of the rows in which two readings are near from which it does not matter which comes first."""
ROUGHER = 1.15
"""A number may be so much rougher than its own upper byte: small steps are steps too (choice)."""
BYTE_FULL = 255.0
RESTLESS = 0.25
OFTEN = 0.05
"""of a byte, and of the rows in which the byte before is 0: so far and so often a neighbour moves (choice: a pedal that
is pressed passes through its first 256th in hardly a row, and brakes are used in a tenth of all)."""
WRITE_IN = ": write in the one that you know to be it"


def overlap(a: Column, b: Column) -> bool:
    """Whether two readings use a byte both."""
    f, g = a.field, b.field
    return f.kind == g.kind and f.offset < g.offset + g.width and g.offset < f.offset + f.width


def thinned(candidates: list[Candidate]) -> list[Candidate]:
    """Of readings that share bytes, the smoothest: bytes of a neighbour, or too few of one's own, make it rough."""
    kept: list[Candidate] = []
    own = [one for one in candidates if not any(_takes_in(one.column, other.column) for other in candidates)]
    for one in sorted(own, key=lambda c: (c.column.rough, c.column.field.width)):
        rivals = [c for c in kept if overlap(c.column, one.column)]
        if not rivals:
            kept.append(one)
        elif all(_whole_of(one.column, rival.column) for rival in rivals):
            kept = [c for c in kept if not any(c is rival for rival in rivals)] + [one]
        elif len(rivals) == 1 and one.column.field.width < rivals[0].column.field.width:
            rival = rivals[0]
            if one.column.distinct >= rival.column.distinct and exact(rival.values, one.values) > IDENTICAL:
                kept = [c for c in kept if c is not rival] + [one]
    return kept


def _takes_in(one: Column, byte: Column) -> bool:
    """Whether `one` is a byte that is a number of its own, with a neighbour's behind it: that moves while the byte
    rests at 0, and where the byte is full not all of `one` is."""
    f, g = one.field, byte.field
    if g.type != "u8" or f.width == 1 or f.type[0] != "u" or not overlap(one, byte) or byte.high < BYTE_FULL:
        return False
    at_rest, at_full = (np.abs(one.values[byte.values == value]) for value in (0.0, BYTE_FULL))
    moves = float(np.mean(at_rest >= RESTLESS * 256.0 ** (f.width - 1))) if len(at_rest) else 0.0
    return moves >= OFTEN and float(np.median(at_full)) < 256.0**f.width - 1.0


def _whole_of(one: Column, part: Column) -> bool:
    """Whether `part` is but some bytes of `one`: less fine, and hardly smoother."""
    f, g = one.field, part.field
    within = f.offset <= g.offset and g.offset + g.width <= f.offset + f.width
    return within and one.distinct > part.distinct and one.rough <= ROUGHER * part.rough


class Odd(Protocol):
    """A reading of several places at once."""

    @property
    def odd(self) -> float:
        """How unusual its units are."""
        ...


Reading = TypeVar("Reading", bound=Odd)


def plainest(found: list[Reading], same: Callable[[Reading, Reading], bool]) -> list[Reading]:
    """Without readings in odd units of bytes that another reads in a plain one; `same`: they read the same bytes."""
    return [one for one in found if not any(other.odd < one.odd and same(other, one) for other in found)]


def pick(candidates: list[Candidate], margin: float = 2.0, floor: float = 0.0) -> tuple[Candidate | None, str]:
    """The best reading, or None and why not.

    Another reading with a score up to `margin` times the best (or up to `floor`) that holds other values must follow
    the best one in time, or precede it and take its place: what comes first is the cause.
    """
    if not candidates:
        return None, "nothing in the packet moves like it"
    ranked = sorted(thinned(candidates), key=lambda c: (c.score, c.column.field.width))
    best = ranked[0]
    rivals = [c for c in ranked if c.score <= max(margin * best.score, floor)]
    best, rival = first_of(rivals, [c.values for c in rivals])
    if rival is not None:
        return None, f"bytes {at(best)} and {at(rival)} both look like it and differ{WRITE_IN}"
    return best, ""


def first_of(ranked: list[Candidate], shapes: list[Floats]) -> tuple[Candidate, Candidate | None]:
    """The candidate that comes first in time, and one that neither is the same nor follows it."""
    best = 0
    for i in range(1, len(ranked)):
        if exact(shapes[best], shapes[i]) < IDENTICAL and leads(shapes[i], shapes[best]) > CLEARLY:
            best = i
    for i, rival in enumerate(ranked):
        if i != best and not same(shapes[best], shapes[i]) and leads(shapes[best], shapes[i]) <= CLEARLY:
            return ranked[best], rival
    return ranked[best], None


def at(candidate: Candidate) -> str:
    """Where it stands, in words."""
    return f"{candidate.column.field.offset} ({candidate.column.field.type})"
