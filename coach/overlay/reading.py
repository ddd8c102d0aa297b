"""The one thing to read, for as long as a look takes: a number once a straight, or the words of a cue not heard."""

from __future__ import annotations

from coach.overlay.glance import BUDGET, fits
from coach.overlay.look import Look
from coach.overlay.room import ReadingRoom
from coach.overlay.scales import number_of
from coach.vocabulary.events import Cue

AFTER_CUES = 1.6
"""s of full throttle on a straight before a number shows, where a cue may still come: the planner starts one up to
1.5 s after it, and a number that speech or words take away again would only have drawn the eye."""
AFTER = 0.4
"""s of the same where neither can come (choice)."""
MOST_WORDS = 3
"""words: what a look takes in (choice, as for the shortest wordings)."""
_NOTICE = 1.0
"""s that it stays beyond the one look it must be able to stay for, where there is room, until the eye comes to it at
ease (choice)."""
_MARGIN = 0.5
"""s before the reference is busy again, by which it is gone (choice: as for speech)."""
_BREATH = 0.3
"""s after a cue's end before a number shows (choice)."""
_KEEP = 3.0
"""s for which words wait for the straight after their cue has begun; later they would be of another corner (choice)."""
_ACROSS = 0.3
"""Offset of the float on the text's own side from which the text goes: the number is wrong by then (choice)."""
_ORDERS = ("correction", "reminder", "summary")
"""Kinds of cue that tell what to do; of a praise, the same words would tell the wrong thing."""
_PRAISE, _ANSWER = "praise", "status"


class Reading:
    """Fed each cue and what is on each sample. `text` None: nothing to read, at once; `alpha` 0.0 with a text: it fades
    by itself. `above`: it stands above the line.

    A number is what the delta was when it appeared and does not change: it is read once, and a counting number would
    hold the eye. Words go before a number, which is left out of their straight.
    """

    def __init__(self, look: Look) -> None:
        self._look = look
        self._after = AFTER_CUES if look.spoken or look.words else AFTER
        self.reset()

    def reset(self) -> None:
        """A new run: what sounded and what was shown belongs to the old one."""
        self.text: str | None = None
        self.alpha = 0.0
        self.above = False
        self._until = 0.0
        self._straight: float | None = None
        self._cues: list[tuple[float, float]] = []
        self._words: tuple[str, float] | None = None
        """what a cue would have said, and when (s) it begins"""
        self._order: str | None = None
        """what the last cue told to do"""

    def hear(self, cue: Cue) -> None:
        """A cue: where it sounds there is nothing to read; where it does not, its words are."""
        if not (self._look.text and cue.spoken) or cue.starts is None or cue.ends is None:
            return
        if self._look.spoken:
            self._cues = [(starts, ends) for starts, ends in self._cues if ends + _BREATH >= cue.t]
            self._cues.append((cue.starts, cue.ends))
            if self._sounds(cue.t):
                self.hide()
            return
        words = self._words_of(cue)
        if words is not None:
            self._words = words, cue.starts

    def hide(self) -> None:
        """Take it away at once."""
        self.text, self.alpha = None, 0.0

    def update(self, t: float, room: ReadingRoom, delta: float | None, offset: float) -> None:
        """One sample at `t` (s of the source), with the delta (s) as it stands, None where none is shown, and where
        the float rides."""
        since = room.since
        if since is None or not self._look.text or self._sounds(t):
            self.hide()
            return
        words = self._due(t)
        if words is not None and words == self.text and self.alpha > 0.0:
            words = self._words = None  # they stand already, and will not stay longer for it
        if words is not None and room.left >= BUDGET + _MARGIN:
            self._words, self._straight = None, since
            self._begin(words, t, room.left, offset)
        elif self.alpha > 0.0:
            if t >= self._until or (offset if self.above else -offset) > _ACROSS:
                self.alpha = 0.0
        elif delta is not None and since != self._straight and self._may_begin(t, room):
            self._straight = since
            self._begin(number_of(delta), t, room.left, offset)

    def _begin(self, text: str, t: float, left: float, offset: float) -> None:
        self.text, self.alpha, self.above = text, 1.0, offset < 0.0
        self._until = t + min(_NOTICE + BUDGET, left - _MARGIN)

    def _words_of(self, cue: Cue) -> str | None:
        if cue.kind in _ORDERS:
            self._order = cue.about
        elif cue.kind == _PRAISE:
            self._order = None
        is_order = cue.about is not None and (cue.kind in _ORDERS or (cue.kind == _ANSWER and cue.about == self._order))
        words = self._look.words.get(cue.about) if is_order and cue.about is not None else None
        return words if words and 1 <= len(words.split()) <= MOST_WORDS and fits(words) else None

    def _due(self, t: float) -> str | None:
        if self._words is None:
            return None
        words, begins = self._words
        if t > begins + _KEEP:
            self._words = None
        return words if begins <= t <= begins + _KEEP else None

    def _sounds(self, t: float) -> bool:
        return any(starts <= t <= ends for starts, ends in self._cues)

    def _may_begin(self, t: float, room: ReadingRoom) -> bool:
        since, full = room.since, room.full
        if since is None or full is None or t - max(since, full) < self._after or room.left < BUDGET + _MARGIN:
            return False
        if self._words is not None and self._words[1] > t:
            return False  # words are to come
        return all(t > ends + _BREATH or t + BUDGET < starts for starts, ends in self._cues)
