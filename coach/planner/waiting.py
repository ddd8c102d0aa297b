"""What waits for room: at most one correction a corner pass, and one of each other kind."""

from __future__ import annotations

from collections.abc import Iterator

from coach.planner.wish import CORRECTION, STATUS, Wish

Dropped = list[tuple[Wish, str]]
"""What is not said, each with the reason."""

ANOTHER = "another cue for this corner"


class Waiting:
    """Holds the wishes; each method gives back those that drop out."""

    def __init__(self) -> None:
        self._wishes: list[Wish] = []

    def __bool__(self) -> bool:
        return bool(self._wishes)

    def __iter__(self) -> Iterator[Wish]:
        """The first to be said first; of equals the one that came up first."""
        return iter(self._wishes)

    def add(self, new: Wish) -> Dropped:
        """Take one in. It or others may drop out: one a corner pass stays, and the newest of one kind."""
        out: Dropped = []
        for old in list(self._wishes):
            if _same_pass(old, new):
                loser = new if new.order >= old.order else old
                out.append((loser, ANOTHER))
                if loser is new:
                    return out
                self._wishes.remove(old)
            elif _replaces(old, new):
                self._wishes.remove(old)
                out.append((old, "a newer one of the same"))
        self._wishes.append(new)
        self._wishes.sort(key=lambda wish: wish.order)
        return out

    def remove(self, wish: Wish) -> None:
        """Take one out: it is spoken, or has waited too long."""
        self._wishes.remove(wish)

    def clear(self, reason: str) -> Dropped:
        """Take all out."""
        out = [(wish, reason) for wish in self._wishes]
        self._wishes = []
        return out


def _same_pass(one: Wish, other: Wish) -> bool:
    both = one.kind == other.kind == CORRECTION
    return both and one.corner is not None and (one.lap, one.corner) == (other.lap, other.corner)


def _replaces(old: Wish, new: Wish) -> bool:
    if old.kind != new.kind:
        return False
    if old.kind == CORRECTION:
        return (old.corner, old.about) == (new.corner, new.about)
    return old.kind != STATUS or old.texts == new.texts
