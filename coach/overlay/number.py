"""The one number: once a straight, for as long as a look takes, and never while something is said."""

from __future__ import annotations

from coach.overlay.room import ReadingRoom
from coach.overlay.scales import number_of
from coach.vocabulary.events import Cue

AFTER_SPEECH = 1.6
"""s on a straight before a number shows, where a cue may still come: the planner starts one up to 1.5 s after full
throttle, and a number that speech takes away again would only have drawn the eye."""
AFTER = 0.4
"""s on a straight before a number shows, where nothing is spoken (choice)."""
_STAY = 2.5
"""s that it stays: one look at ease. Looks off the road of 2.0 s are the limit (NHTSA Visual-Manual Guidelines, 78 FR
24817), a fixation needs up to 2 s at most (ISO 15007-1:2014)."""
_LOOK = 1.5
"""s that it must be able to stay: a look of 1.5 s takes in what an occlusion test allows (ISO 16673:2017)."""
_MARGIN = 0.5
"""s before the reference is busy again, by which it is gone (choice: as for speech)."""
_BREATH = 0.3
"""s after a cue's end before a number shows (choice)."""


class Number:
    """Fed what is on each sample. `text` None: nothing to read, at once; `alpha` 0.0 with a text: it fades by itself.

    The text is what the delta was when it appeared and does not change: it is read once, and a counting number would
    hold the eye.
    """

    def __init__(self, after: float) -> None:
        self._after = after
        self.reset()

    def reset(self) -> None:
        """A new run: what sounded and what was shown belongs to the old one."""
        self.text: str | None = None
        self.alpha = 0.0
        self._until = 0.0
        self._straight: float | None = None
        self._cues: list[tuple[float, float]] = []

    def hear(self, cue: Cue) -> None:
        """A cue; while it sounds there is no number."""
        if cue.spoken and cue.starts is not None and cue.ends is not None:
            self._cues = [(starts, ends) for starts, ends in self._cues if ends + _BREATH >= cue.t]
            self._cues.append((cue.starts, cue.ends))
            if self._sounds(cue.t):
                self.hide()

    def hide(self) -> None:
        """Take it away at once."""
        self.text, self.alpha = None, 0.0

    def update(self, t: float, room: ReadingRoom, delta: float | None) -> None:
        """One sample at `t` (s of the source), with the delta (s) as it stands, None where there is none."""
        since = room.since
        if since is None or delta is None or self._sounds(t):
            self.hide()
        elif self.alpha > 0.0:
            if t >= self._until:
                self.alpha = 0.0
        elif since != self._straight and self._may_begin(t, since, room.left):
            self._straight = since
            self._until = t + min(_STAY, room.left - _MARGIN)
            self.text, self.alpha = number_of(delta), 1.0

    def _sounds(self, t: float) -> bool:
        return any(starts <= t <= ends for starts, ends in self._cues)

    def _may_begin(self, t: float, since: float, left: float) -> bool:
        if t - since < self._after or left < _LOOK + _MARGIN:
            return False
        return all(t > ends + _BREATH or t + _LOOK < starts for starts, ends in self._cues)
