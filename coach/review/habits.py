"""What a driver does again and again at one corner, over several sessions: the story of each habit. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.review.chance import fisher
from coach.review.model import KeptSession
from coach.review.results import Habit
from coach.review.tally import Pair, Share, Tally
from coach.review.things import LEAST, worth_of
from coach.review.words import passes_words, place_words, plain_fault
from coach.vocabulary.faults import FAULTS, NET_SPOKEN

NEW, THERE, MENDED, BACK, GONE, NOT_YET = "new", "there", "mended", "back", "gone", ""
PRESENT = frozenset({NEW, THERE, BACK})
TWICE = 2
"""times in one session that make a habit: once is chance (choice)."""
OFTEN, SELDOM = 0.25, 0.1
"""shares of the passes from which it is there, and up to which it is not; between them it is as it was (choice: two
rates with room between, so that one pass more or less turns no story)."""
LUCK = 0.1
"""of the chance that a turn of a story is luck, over which it is not told (choice: of a habit that never changes, in
six sessions of five laps, one story in ten at most then tells a turn)."""


@dataclass(slots=True)
class Followed:
    """One pair of fault and corner, by session: its share, and s a lap."""

    pair: Pair
    shares: list[Share]
    seconds: list[float]


def habits(sessions: Sequence[KeptSession]) -> list[Habit]:
    """The habits of these sessions, which are in order and of one map's numbers; the dearest first.

    What was no habit in any of them, or cost next to nothing in all, is left out.
    """
    tallies = [Tally(session) for session in sessions]
    found: list[Habit] = []
    for fault, corner in dict.fromkeys(pair for tally in tallies for pair in tally.pairs):
        shares = [tally.share(fault, corner) for tally in tallies]
        if not any(is_there(share) for share in shares):
            continue
        seconds = [worth_of(fault, corner, tally)[1] for tally in tallies]
        if max(seconds) < NET_SPOKEN and not (fault in FAULTS and FAULTS[fault].whatever):
            continue
        told = story(shares)
        found.append(
            Habit(
                fault=fault,
                corner=corner,
                shares=tuple(share.share if share.passes >= LEAST else None for share in shares),
                seconds=tuple(round(lost, 4) for lost in seconds),
                story=told,
                why=_why(fault, corner, shares, told),
            )
        )
    return sorted(found, key=lambda habit: (-max(habit.seconds), habit.fault, habit.corner or 0))


def is_there(share: Share) -> bool:
    """Whether it was a habit in a session with this share."""
    return share.passes >= LEAST and share.hits >= TWICE and share.hits >= OFTEN * share.passes


def is_not_there(share: Share) -> bool:
    """Whether enough passes say that it was none."""
    return share.passes >= LEAST and share.hits <= SELDOM * share.passes


def story(shares: Sequence[Share]) -> tuple[str, ...]:
    """What became of it, session by session. Where too few passes tell, or the share lies between, it is as it was.

    A turn is told where it is hardly luck: all passes since the last turn against those of the sessions that show it.
    It is new only where sessions before it say that it was not there.
    """
    told: list[str] = []
    state = NOT_YET
    own = turned = Share(0, 0)
    """the passes that made the state what it is, and those since that say otherwise"""
    for share in shares:
        present, there, absent = state in PRESENT, is_there(share), is_not_there(share)
        if (present and absent) or (not present and there):
            turned = _both(turned, share)
            if state == NOT_YET or fisher(own.hits, own.passes, turned.hits, turned.passes) <= LUCK:
                state = _turn(state, own, turned)
                own, turned = turned, Share(0, 0)
        else:
            if there or absent:
                turned = Share(0, 0)
            own = _both(own, share)
            state = THERE if present else GONE if state == MENDED else state
        told.append(state)
    return tuple(told)


def _both(first: Share, second: Share) -> Share:
    return Share(first.hits + second.hits, first.passes + second.passes)


def _turn(state: str, before: Share, now: Share) -> str:
    """What it is after a turn: new only where the passes before say that it is."""
    if state in PRESENT:
        return MENDED
    if state != NOT_YET:
        return BACK
    is_new = before.passes >= LEAST and fisher(before.hits, before.passes, now.hits, now.passes) <= LUCK
    return NEW if is_new else THERE


def _why(fault: str, corner: int | None, shares: Sequence[Share], told: tuple[str, ...]) -> str:
    """Each turn of the story with its figures."""
    turns: list[str] = []
    before = None
    for number, (share, state) in enumerate(zip(shares, told, strict=True), 1):
        if state in (NOT_YET, GONE) or (state == THERE and before in PRESENT):
            continue
        turns.append(f"{state} in session {number} ({passes_words(share.hits, share.passes, corner)})")
        before = state
    last = shares[-1]
    if (
        told[-1] in PRESENT
        and last.passes >= LEAST
        and not turns[-1].startswith(told[-1] + f" in session {len(shares)} ")
    ):
        turns.append(f"still there in session {len(shares)} ({passes_words(last.hits, last.passes, corner)})")
    name = plain_fault(fault)
    return f"{name[0].upper()}{name[1:]} {place_words(corner)}: {', '.join(turns)}."
