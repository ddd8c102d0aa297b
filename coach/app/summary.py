"""The summary of a session: laps, where the seconds are, what was found, what was said."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from itertools import islice
from typing import TYPE_CHECKING

from coach.app.console import GAP, plain
from coach.app.telling.lines import LABEL, Block, driven, text_of, wrapped
from coach.app.telling.nexttime import how_they_fared, next_time, stage_block
from coach.app.telling.notes import notes
from coach.app.telling.numbers import counted
from coach.app.telling.reviewtables import marks_table
from coach.app.telling.tables import LapRow, fault_table, lap_table, said_table, seconds_table
from coach.engine.learned import Learned
from coach.engine.references import CHOSEN
from coach.engine.start import CHOICES
from coach.review.collector import Collector
from coach.review.marks import marks
from coach.review.model import KeptSession
from coach.review.practised import stage_verdict
from coach.review.seconds import rows
from coach.review.steadiness import steadiness
from coach.review.things import fared, things
from coach.review.words import is_judged
from coach.vocabulary.actions import MARK
from coach.vocabulary.events import (
    Action,
    Advice,
    CornerMark,
    Corners,
    Cue,
    Detector,
    Event,
    Fault,
    Lap,
    Loss,
    LossPart,
    Moment,
    Reference,
    Run,
    Stage,
    Stream,
)
from coach.vocabulary.laptime import lap_time
from coach.vocabulary.stages import PACE, shows_times

if TYPE_CHECKING:
    from coach.app.keeping import Keeping  # a replay opens no memory

REMEMBERED = "lap "
"""What the memory's origins begin with: they say which lap it was, and of which day or driver."""
MARKS = 20
"""marks that are listed; of more, how many more."""
LABELS = 3
"""tracks with their cars that are named; the rest are counted."""
_PASSED_OVER = (Moment, Learned)
"""one a sample; and the laps' channels, which are not needed and would fill the memory of a long drive."""


@dataclass(slots=True)
class _Marks:
    """The moments that were marked in one run, with its map where it is known."""

    actions: list[Action] = field(default_factory=list)
    corners: Corners | None = None


class Summary:
    """A sink that remembers what a session came to; `text()` says it in at most 80 columns."""

    def __init__(self) -> None:
        self._labels: dict[str, None] = {}
        self._reference: Reference | None = None
        self._laps: list[Lap] = []
        self._parts: list[tuple[LossPart, ...]] = []
        self._faults: list[Fault] = []
        self._cues: list[Cue] = []
        self._worked_on: list[Advice] = []
        self._stream: Counter[str] = Counter()
        self._off: dict[str, str | None] = {}
        self._marked = [_Marks()]
        self._stage = PACE
        self._timed = True
        """no lap ended at a stage that hides its time"""
        self._collector = Collector(channels=False)

    def take(self, event: Event) -> None:
        """Remember what matters of one event. As a watcher it hears what is never logged too, which the three things
        for next time need."""
        if isinstance(event, _PASSED_OVER):
            return
        self._collector.take(event)
        if isinstance(event, Lap):
            self._laps.append(event)
            self._timed = self._timed and shows_times(self._stage)
        elif isinstance(event, Loss):
            self._parts.append(event.parts)
        elif isinstance(event, Fault):
            self._faults.append(event)
        elif isinstance(event, Cue):
            self._cues.append(event)
        elif isinstance(event, Advice) and event.topic == "practice":
            self._worked_on.append(event)
        elif isinstance(event, Stream):
            self._stream[event.what] += 1
        elif isinstance(event, Action) and event.action == MARK:
            self._marked[-1].actions.append(event)
        elif isinstance(event, Corners):
            self._marked[-1].corners = event
        elif isinstance(event, Run):
            self._marked.append(_Marks())
            self._labels[driven(event.track, event.car)] = None
        elif isinstance(event, Reference):
            self._reference = event
        elif isinstance(event, Stage):
            self._stage = event.stage
        elif isinstance(event, Detector):
            self._note_detector(event)

    def text(self, kept: Keeping | None = None) -> str:
        """The whole summary, lines without trailing spaces, one newline at the end. `kept`: where the drive was kept,
        once it is closed: it knows what was told the time before."""
        if not self._labels:
            return "No telemetry came, so there is nothing to sum up.\n"
        if not (self._timed and shows_times(self._stage)):
            return text_of(self._untimed() + self._next_time(kept))
        blocks = [self._heading(), self._of_stage(), self._lap_table(), self._seconds(), fault_table(self._faults)]
        blocks += [self._topics(), said_table(self._cues), self._held_back(), self._marks()]
        blocks.append(notes(self._off, self._stream))
        return text_of(blocks + self._next_time(kept))

    def _next_time(self, kept: Keeping | None) -> list[Block]:
        """How the things of the time before fared, and the three things of the last session in which a lap ended."""
        sessions = self._collector.sessions
        number = max((number for number, session in enumerate(sessions) if session.laps), default=None)
        if number is None:
            return []
        session = sessions[number]
        before = [] if kept is None else kept.told_before(kept.sessions()[number])
        return [how_they_fared(fared(before, session)), next_time(things(session), is_judged(session))]

    def _untimed(self) -> list[Block]:
        """All but what a thing is worth, without a lap time, a delta or a second: laps in a row and marks instead."""
        session = self._last()
        blocks = [self._heading(timed=False), self._of_stage(), self._lap_table(timed=False)]
        blocks += [[] if session is None else marks_table(marks(session)), fault_table(self._faults, timed=False)]
        blocks += [self._topics(timed=False), said_table(self._cues), self._held_back(), self._marks()]
        return [*blocks, notes(self._off, self._stream)]

    def _of_stage(self) -> Block:
        """The stage, and what it still lacks, where it is not the one that everyone begins with."""
        session = self._last()
        return [] if session is None or self._stage == PACE else stage_block(stage_verdict(session))

    def _last(self) -> KeptSession | None:
        """The last session in which a lap ended."""
        return next((session for session in reversed(self._collector.sessions) if session.laps), None)

    def _note_detector(self, event: Detector) -> None:
        if event.on:
            self._off.pop(event.name, None)
        else:
            self._off[event.name] = event.lacks

    def _heading(self, timed: bool = True) -> Block:
        labels = list(islice(self._labels, LABELS))
        more = len(self._labels) - len(labels)
        if more:
            labels.append(f"and {more} more")
        clean = sum(lap.clean for lap in self._laps)
        lines = [*labels, f"{counted(len(self._laps), 'lap')} ended, {clean} clean"]
        session = self._last()
        if not timed and session is not None:
            lines[-1] += f", most in a row {steadiness(session.laps).row}"
        if self._reference is not None:
            reference = self._reference
            time = f"{lap_time(reference.time)}, " if timed else ""
            lines.append(f"reference: {time}{_which(reference)}")
            held_against = {lap.reference_time for lap in self._laps if lap.delta is not None}
            if timed and len(held_against) > 1:
                lines.append(f"each lap stands beside the reference that it had, {len(held_against)} in all")
        else:
            lines.append("reference: none; it is the best clean lap, or the one that --reference names")
        return lines

    def _lap_table(self, timed: bool = True) -> Block:
        return lap_table((LapRow(lap.lap, lap.time, lap.delta, lap.clean, lap.why_not) for lap in self._laps), timed)

    def _seconds(self) -> Block:
        return seconds_table(rows(self._parts), len(self._parts))

    def _topics(self, timed: bool = True) -> Block:
        worked_on = [event for event in self._worked_on if timed or GAP not in event.numbers]
        if not worked_on:
            return []
        lines = ["WORKED ON"]
        for event in worked_on:
            start = f"  lap {event.lap:<4d}  "
            lines += wrapped(event.text, start)
        return lines

    def _held_back(self) -> Block:
        reasons = Counter(cue.why_not or "no reason given" for cue in self._cues if not cue.spoken)
        if not reasons:
            return []
        ordered = sorted(reasons.items(), key=lambda item: (-item[1], item[0]))
        return ["HELD BACK", *(f"{number:5d}  {reason}" for reason, number in ordered)]

    def _marks(self) -> Block:
        marks = [(action, run.corners) for run in self._marked for action in run.actions]
        if not marks:
            return []
        lines = ["MARKED", "   no.   lap   from the line   where"]
        for number, (action, corners) in enumerate(marks[:MARKS], start=1):
            place = "-" if action.distance is None else f"{action.distance:.0f} m"
            where = "-" if action.distance is None or corners is None else _where(action.distance, corners)
            lines.append(f"{number:6d}{action.lap:6d}{place:>16}   {where}")
        if len(marks) > MARKS:
            lines.append(f"   and {len(marks) - MARKS} more")
        return lines


def _which(reference: Reference) -> str:
    """Which lap it is, in words."""
    if reference.origin in CHOICES.values():
        return f"the {reference.origin}"
    if reference.origin == CHOSEN:
        return f"lap {reference.lap}, chosen while driving"
    origin = plain(reference.origin, LABEL)
    return origin if reference.origin.startswith(REMEMBERED) else f"lap {reference.lap} of {origin}"


def _where(distance: float, known: Corners) -> str:
    """Where `distance` (m from the line) is, by the nearest corner; round the line too."""

    def away(mark: CornerMark) -> tuple[float, float, str]:
        apex = abs((distance - mark.apex + length / 2) % length - length / 2)
        if (distance - mark.brake) % length <= (mark.exit - mark.brake) % length:
            return 0.0, apex, f"in turn {mark.corner}"
        ahead, behind = (mark.brake - distance) % length, (distance - mark.exit) % length
        if ahead <= behind:
            return ahead, apex, f"{ahead:.0f} m before turn {mark.corner}"
        return behind, apex, f"{behind:.0f} m behind turn {mark.corner}"

    length = known.trace.length
    return min(map(away, known.corners), default=(0.0, 0.0, "-"))[2]
