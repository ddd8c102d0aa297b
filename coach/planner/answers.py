"""What the driver asks for: silence, words again, the last thing once more, what is left."""

from __future__ import annotations

from coach.planner.phrases import Phrases
from coach.planner.stores import Tank
from coach.planner.waiting import Dropped, Waiting
from coach.planner.wish import STATUS, Rank, Wish
from coach.vocabulary.actions import MARK, QUIET, QUIET_OR_SPEAK, REPEAT, SPEAK, USE_LAP
from coach.vocabulary.actions import STATUS as ASKED_STATUS
from coach.vocabulary.events import Action, Answer, Event

PATIENCE = 60.0
"""s after which an answer that found no room is out of date (choice)."""


class Answers:
    """Fed the actions and what is said."""

    def __init__(self) -> None:
        self.muted = False
        self.asked_to_speak = False
        self._last: tuple[Wish, str] | None = None

    def said(self, wish: Wish, text: str) -> None:
        """Something was said: this is what is repeated if asked for."""
        if not wish.receipt:
            self._last = (wish, text)

    def act(self, action: Action, waiting: Waiting, tank: Tank, phrases: Phrases, silent_race: bool = False) -> Dropped:
        """Do what was asked for: answers go into `waiting`; what drops out of it comes back.

        `silent_race`: it is a race, in which nothing is said unless asked for.
        """
        name, said = action.action, phrases.sentences
        if name == QUIET_OR_SPEAK:
            is_silent = self.muted or (silent_race and not self.asked_to_speak)
            name = SPEAK if is_silent else QUIET
        if name == QUIET:
            self.muted, self.asked_to_speak = True, False
            return waiting.clear("silent: asked for") + _confirm(waiting, action, said.silent)
        if name == SPEAK:
            self.muted, self.asked_to_speak = False, True
            return _withdraw(waiting, said.silent) + _confirm(waiting, action, said.speaking)
        if name == MARK:
            return _confirm(waiting, action, said.marked)
        if name == REPEAT:
            if self._last is None:
                return [(_answer(action, ()), "nothing was said yet")]
            wish, text = self._last
            again = _answer(action, (text,), wish.about)
            if text not in wish.wide:
                again.corner, again.named = wish.corner, wish.named  # another corner may have been driven since
            return waiting.add(again)
        if name == ASKED_STATUS:
            return self._status(action, waiting, tank, phrases)
        return []

    def answered(self, answer: Answer, waiting: Waiting, phrases: Phrases) -> Dropped:
        """The engine has done what was asked of it, or could not."""
        said = phrases.sentences
        text = said.lap_used if answer.done else said.lap_unfit
        return _confirm(waiting, answer, text) if answer.action == USE_LAP else []

    def _status(self, action: Action, waiting: Waiting, tank: Tank, phrases: Phrases) -> Dropped:
        """One number a sentence: three at once are not kept in mind (1.26 to 1.28)."""
        counts = (
            (phrases.fuel, tank.fuel_laps),
            (phrases.laps, tank.laps_left),
            (phrases.minutes, tank.minutes_left),
        )
        known = [say(count) for say, count in counts if count is not None]
        if not known:
            unknown = "it is not known yet how much fuel a lap takes"
            nothing = "the source sends neither fuel nor laps nor time left"
            return [(_answer(action, ()), unknown if tank.has_fuel else nothing)]
        return [dropped for text in known for dropped in waiting.add(_answer(action, (text,)))]


def _confirm(waiting: Waiting, event: Event, text: str) -> Dropped:
    """Have it said that a press was heard, where there are words for it."""
    if not text:
        return []
    receipt = _answer(event, (text,))
    receipt.receipt = True
    return waiting.add(receipt)


def _withdraw(waiting: Waiting, text: str) -> Dropped:
    """A receipt that has not been said, and is not so any more."""
    stale = [wish for wish in waiting if wish.receipt and wish.texts == (text,)]
    for wish in stale:
        waiting.remove(wish)
    return [(wish, "it is not so any more") for wish in stale]


def _answer(action: Event, texts: tuple[str, ...], about: str | None = None) -> Wish:
    return Wish(STATUS, Rank.ASKED, action.t, texts, about=about, lap=action.lap, until=action.t + PATIENCE)
