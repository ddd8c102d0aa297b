"""What a driver does again and again at one corner, over several sessions: the story of each habit. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.review.chance import fisher
from coach.review.model import KeptSession
from coach.review.results import Habit
from coach.review.tally import Pair, Share, Tally
from coach.review.things import LEAST, worth_of
from coach.review.words import passes_words
from coach.vocabulary.faults import FAULTS, NET_SPOKEN

NEW, THERE, UNSURE, MENDED, BACK, GONE, NOT_YET = "new", "there", "unsure", "mended", "back", "gone", ""
PRESENT = frozenset({NEW, THERE, UNSURE, BACK})
TWICE = 2
"""times in one session that make a habit: once is chance (choice)."""
OFTEN, SELDOM = 0.25, 0.1
"""shares of the passes from which it is there, and up to which it is not; between them it is as it was (choice: two
rates with room between, so that one pass more or less turns no story)."""
LUCK = 0.1
"""of the chance that it is luck that a habit is new, or mended, over which it is not told (choice: of habits that never
change, in six sessions of five laps, one story in five at most then tells of a mend; without it, every second one)."""


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
                why=_why(corner, shares, told),
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

    It is mended where that is hardly luck: all passes since it came against those since it was last there; until that
    is sure it is unsure. It is new
    where sessions before it say, as surely, that it was not there.
    """
    told: list[str] = []
    state = NOT_YET
    own = turned = Share(0, 0)
    """the passes that made the state what it is, and those since that say otherwise"""
    for share in shares:
        present, there, absent = state in PRESENT, is_there(share), is_not_there(share)
        if (present and absent) or (not present and there):
            turned = _both(turned, share)
            if not present or _is_sure(own, turned):
                state = MENDED if present else BACK if state != NOT_YET else NEW if _is_sure(own, turned) else THERE
                own, turned = turned, Share(0, 0)
            else:
                state = UNSURE
        else:
            if there or absent:
                turned = Share(0, 0)
            own = _both(own, share)
            state = THERE if present else GONE if state == MENDED else state
        told.append(state)
    return tuple(told)


def _both(first: Share, second: Share) -> Share:
    return Share(first.hits + second.hits, first.passes + second.passes)


def _is_sure(before: Share, now: Share) -> bool:
    """Whether two shares differ by more than luck."""
    return before.passes >= LEAST and fisher(before.hits, before.passes, now.hits, now.passes) <= LUCK


def _why(corner: int | None, shares: Sequence[Share], told: tuple[str, ...]) -> str:
    """Each turn of the story with its figures; it stands where the habit is named already."""
    turns: list[str] = []
    before = None
    for number, (share, state) in enumerate(zip(shares, told, strict=True), 1):
        if state in (NOT_YET, GONE) or (state in (THERE, UNSURE) and before in PRESENT):
            continue
        turns.append(f"{state} in session {number} ({passes_words(share.hits, share.passes, corner)})")
        before = state
    last = shares[-1]
    if (
        told[-1] in PRESENT
        and last.passes >= LEAST
        and not turns[-1].startswith(f"{told[-1]} in session {len(shares)} ")
    ):
        of = f"in session {len(shares)} ({passes_words(last.hits, last.passes, corner)})"
        turns.append(f"not seen {of}, which may be luck" if not last.hits else f"still there {of}")
    sentence = ", ".join(turns)
    return f"{sentence[0].upper()}{sentence[1:]}."
