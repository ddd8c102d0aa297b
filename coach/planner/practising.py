"""The stage that the practice is at: whether the next one is earned, which is told once, and what is said of it."""

from __future__ import annotations

from coach.planner.phrases import Phrases
from coach.planner.wish import SUMMARY, Rank, Wish
from coach.practice.clean import scatters
from coach.practice.evidence import Evidence, Verdict
from coach.practice.rehearse import steadiness
from coach.vocabulary.events import Advice, Event, Fault, Lap, Passed, Stage, Stores
from coach.vocabulary.stages import CLEAN, LEARN, REHEARSE, following

ROWS = (2, 3, 5)
"""Clean laps in a row that are told at the line, and beyond them each `EVERY`: often while a row is new (choice)."""
EVERY = 5
"""Laps between two sentences of the same about a stint or a row that goes on (choice; 2.4: a summary of several)."""
MARKS_EVERY = 3
"""Laps between two sentences about the mark that scatters most (choice; as for summaries, 2.4)."""


class Practising:
    """Fed what was driven; `sentence` is asked once after each line."""

    def __init__(self, stage: str, named: bool) -> None:
        """`named`: somebody chose the stage; otherwise it is the one that everyone begins with, and nothing is told."""
        self.stage, self._named = stage, named
        self.evidence = Evidence()
        self._told: Stage | None = None
        self._earned: set[str] = set()
        """stages whose next one was told of"""
        self._is_news = False
        self._marks_said = 0
        self._laps = 0
        self._row_said = self._stint_said = 0
        self._fuel: float | None = None
        """L at the last line"""

    def name(self, stage: str) -> None:
        """The practice is at this stage from now on."""
        if stage != self.stage:
            self._is_news = False
        self.stage, self._named = stage, True

    def passed(self, event: Passed) -> None:
        """The car has left a corner."""
        self.evidence.passed(event)

    def found(self, fault: Fault) -> None:
        """A fault was found."""
        self.evidence.found(fault)

    def stores(self, event: Stores) -> None:
        """What is left of fuel and laps."""
        self.evidence.stores(event)

    def new_run(self) -> None:
        """The car was put back."""
        self.evidence.new_run()
        self._fuel = None

    def begin(self, t: float, lap: int, told: str) -> list[Event]:
        """A session begins, or goes on at another stage: which, where somebody named it, or another was `told` last."""
        if not self._named and self.stage == told:
            return []
        return self._tell(self.evidence.verdict(self.stage), t, lap)

    def lap_over(self, lap: Lap, topic: str | None) -> list[Event]:
        """A lap ended; `topic` is what is worked on."""
        fuel = self.evidence.fuel
        used = None if fuel is None or self._fuel is None or fuel >= self._fuel else self._fuel - fuel
        self._fuel = fuel
        self.evidence.topic = topic
        self.evidence.lap_over(lap.time, lap.clean, lap.why_not, used)
        self._laps += 1
        verdict = self.evidence.verdict(self.stage)
        out = self._tell(verdict, lap.t, lap.lap)
        if verdict.earned and self._named and self.stage not in self._earned:
            self._earned.add(self.stage)
            self._is_news = True
            out.append(Advice(lap.t, lap.lap, "practice", _earned(self.stage, verdict)))
        return out

    def sentence(self, t: float, lap: int, phrases: Phrases) -> Wish | None:
        """What is to be said of the stage at this line; None for nothing."""
        if not self._named:
            return None
        said = phrases.sentences
        if self._is_news:
            self._is_news = False
            text: str | None = said.earned if following(self.stage) is not None else said.rehearsed
            return _wish(t, lap, text)
        if self.stage in (LEARN, CLEAN):
            return self._of_marks(t, lap, phrases)
        return _wish(t, lap, self._of_stint(phrases)) if self.stage == REHEARSE else None

    def _of_marks(self, t: float, lap: int, phrases: Phrases) -> Wish | None:
        """Clean laps in a row as they grow; else, now and then, the mark that scatters most."""
        row = self.evidence.row.count
        grown, self._row_said = row > self._row_said, row
        if grown and (row in ROWS or row % EVERY == 0):
            return _wish(t, lap, phrases.clean_row(row))
        if self.stage != CLEAN or self._laps - self._marks_said < MARKS_EVERY:
            return None
        mark = scatters(self.evidence)
        if mark is None:
            return None
        self._marks_said = self._laps
        return _wish(t, lap, phrases.steadier(mark.name, mark.corner), mark.corner)

    def _of_stint(self, phrases: Phrases) -> str | None:
        known, laps = steadiness(self.evidence), len(self.evidence.stint())
        if known is None or laps % EVERY or laps == self._stint_said:
            return None
        self._stint_said = laps
        alike, falls_off = known
        said = phrases.sentences
        return said.falls_off if falls_off else said.steady if alike else said.uneven

    def _tell(self, verdict: Verdict, t: float, lap: int) -> list[Event]:
        told, now = self._told, Stage(t, lap, self.stage, verdict.earned, verdict.evidence)
        if told is not None and (told.stage, told.earned, told.evidence) == (now.stage, now.earned, now.evidence):
            return []
        self._told = now
        return [now]


def _wish(t: float, lap: int, text: str | None, corner: int | None = None) -> Wish | None:
    return Wish(SUMMARY, Rank.LINE, t, (text,), corner=corner, lap=lap) if text else None


def _earned(stage: str, verdict: Verdict) -> str:
    later = following(stage)
    what = f"{later} is earned" if later is not None else f"{stage} has all that it asks"
    return f"{what}: {'; '.join(verdict.evidence)}"
