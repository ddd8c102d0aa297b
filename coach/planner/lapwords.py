"""What is said at the line: of all that there is, one sentence."""

from __future__ import annotations

from collections import defaultdict
from statistics import median

from coach.planner.phrases import Phrases
from coach.planner.playbook import Talk
from coach.planner.practising import Practising
from coach.planner.stores import Tank
from coach.planner.wish import STATUS, SUMMARY, Rank, Wish
from coach.vocabulary.events import Lap, Loss

WORTH = 0.1
"""s a lap that a corner must lose, or a lap be quicker than the best before, to be worth the sentence (choice)."""
HALF = 0.5
"""Share of the lap after which a sentence that found no room at the line is out of date (choice)."""


class LapWords:
    """Fed what a lap came to; `sentence` is asked once after each line.

    A summary comes at most every `talk.summary_every` laps (2.4: Schmidt et al. 1989, summaries of several tries were
    kept better than one after each).
    """

    def __init__(self, talk: Talk, seconds: bool = True) -> None:
        """`seconds`: whether they are spoken of."""
        self.narrow(talk, seconds)
        self._best: float | None = None
        self._laps: list[Lap] = []
        self._losses: dict[int, list[float]] = defaultdict(list)
        self._found = 0
        self._within_said = False
        self._focus: tuple[str, str] | None = None

    @property
    def best(self) -> float | None:
        """s: the best clean lap that a summary knew."""
        times = [lap.time for lap in self._laps if lap.clean and lap.time is not None]
        return min(times if self._best is None else [*times, self._best], default=None)

    def recall(self, best: float | None) -> None:
        """The best clean lap of another day, s."""
        if best is not None:
            self._best = best if self._best is None else min(self._best, best)

    def narrow(self, talk: Talk, seconds: bool) -> None:
        """Another stage: so much is said from now on."""
        self._talk, self._seconds = talk, seconds

    def new_reference(self) -> None:
        """Losses are against another lap from now on."""
        self._losses.clear()

    def lap_over(self, lap: Lap) -> None:
        """A lap ended."""
        self._laps.append(lap)

    def loss(self, loss: Loss) -> None:
        """Where its seconds went: a corner's own, and what its exit speed cost on the straight."""
        lost: dict[int, float] = defaultdict(float)
        for part in loss.parts:
            if part.corner is not None:
                lost[part.corner] += part.seconds if part.from_exit is None else part.from_exit
        for corner, seconds in lost.items():
            self._losses[corner].append(seconds)

    def found(self) -> None:
        """Something came up that is worth saying, whether it is said or not."""
        self._found += 1

    def focus(self, fault: str, text: str) -> None:
        """The topic is another one, which is said at the next line, or at one after it."""
        self._focus = (fault, text)

    def left(self, fault: str) -> None:
        """That is no longer worked on."""
        if self._focus is not None and self._focus[0] == fault:
            self._focus = None

    def said(self, wish: Wish, text: str, phrases: Phrases) -> None:
        """Something was said: a cue of the topic tells what is worked on as well as the sentence does."""
        if wish.about is not None:
            self.left(wish.about)
        if text == phrases.within():
            self._within_said = True

    def sentence(
        self, t: float, lap: int, tank: Tank, phrases: Phrases, practising: Practising | None = None
    ) -> Wish | None:
        """What is to be said at this line, of the stage that is practised too; None for nothing."""
        warning = tank.warning()
        if warning is not None:
            return Wish(STATUS, Rank.FUEL, t, (phrases.fuel(warning),), lap=lap)
        if self._focus is not None:
            fault, text = self._focus
            return Wish(SUMMARY, Rank.LINE, t, (text,), about=fault, lap=lap)
        of_stage = None if practising is None else practising.sentence(t, lap, phrases)
        if of_stage is not None:
            return of_stage
        summary = self._summary(phrases)
        if summary is None:
            return None
        text, corner = summary
        return Wish(SUMMARY, Rank.LINE, t, (text,), corner=corner, lap=lap)

    def _summary(self, phrases: Phrases) -> tuple[str, int | None] | None:
        """Text and corner, when its lap has come; what it is made from is then begun anew."""
        every = self._talk.summary_every
        if every == 0 or len(self._laps) < every:
            return None
        clean = [lap.time for lap in self._laps if lap.clean and lap.time is not None]
        best, before = min(clean, default=None), self._best
        if best is not None and (before is None or best < before):
            self._best = best
        losses = {corner: median(lost) for corner, lost in self._losses.items() if len(lost) > 1}
        found, laps = self._found, len(clean)
        self._laps, self._found = [], 0
        self._losses.clear()
        if self._seconds and best is not None and before is not None and before - best >= WORTH:
            text = phrases.best(before - best)
            return None if text is None else (text, None)
        if self._seconds and losses:
            corner = max(losses, key=lambda place: losses[place])
            text = phrases.costs(corner, losses[corner]) if losses[corner] >= WORTH else None
            if text is not None:
                return text, corner
        if found == 0 and laps > 1 and not self._within_said:
            return phrases.within(), None
        return None
