"""What a person at the terminal is told while it runs: one line at a time, on standard error."""

from __future__ import annotations

import sys
from typing import TextIO

from coach.practice.driven import INCIDENTS
from coach.practice.laps import Row, kind_of
from coach.vocabulary.actions import INSTRUCTOR
from coach.vocabulary.events import Action, Advice, Cue, Detector, Event, Fault, Lap, Run, Stage
from coach.vocabulary.laptime import lap_time
from coach.vocabulary.stages import PACE, STAGES, shows_times

GAP = "gap"
"""The number of an advice that tells how much quicker the reference is."""
LABEL = 60
"""characters of a source's own label that are shown."""


def plain(text: str, longest: int = LABEL) -> str:
    """A label from a stream, made safe to print: one line, no control characters, not endless."""
    shown = "".join(character if character.isprintable() else "?" for character in text)
    return shown if len(shown) <= longest else shown[: longest - 3] + "..."


def signed(seconds: float | None) -> str:
    """`+0.412`, or `-` where there is none; never `-0.000`."""
    if seconds is None:
        return "-"
    return f"{round(seconds, 3) + 0.0:+.3f}"


def words(name: str) -> str:
    """`late_throttle` as a person reads it."""
    return name.replace("_", " ")


def line_of(event: Event) -> str | None:
    """The line that an event is worth while the driver drives, if any: a lap, something said, an instructor's wish."""
    if isinstance(event, Lap):
        state = _state(event)
        delta = "" if event.delta is None else f"  {signed(event.delta)}"
        return f"lap {event.lap}  {lap_time(event.time)}{delta}  {state}"
    if isinstance(event, Cue) and event.spoken:
        return f'lap {event.lap}  "{event.text}"'
    if isinstance(event, Action) and event.by == INSTRUCTOR:
        return f"lap {event.lap}  the instructor asks: {plain(event.action)}"
    return None


def _state(lap: Lap) -> str:
    return "clean" if lap.clean else "not clean: " + ", ".join(map(words, lap.why_not))


class Console:
    """Prints lines on standard error and survives its closing. Where the stage of practice hides lap times, a lap's
    line tells how many clean ones there were in a row instead."""

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = stream
        self._gone = False
        self._stage = PACE
        self._row = Row()

    def staged(self, stage: Stage) -> None:
        """The practice is at that stage from now on, which is told where it is another than before."""
        if stage.stage != self._stage:
            self._stage = stage.stage
            self.say(f"stage {stage.stage}: {STAGES[stage.stage]}")

    def say(self, line: str) -> None:
        """Print one line."""
        stream = sys.stderr if self._stream is None else self._stream
        if self._gone or stream is None:
            return
        try:
            stream.write(line + "\n")  # in one piece: the voice tells from a thread of its own
            stream.flush()
        except OSError:
            self._gone = True  # nobody reads it any more; there is nowhere else to say so

    def take(self, event: Event) -> None:
        """Say what the event is worth at once."""
        line = line_of(event)
        if isinstance(event, Lap):
            self._row.lap_over(kind_of(event.time, event.clean, event.why_not))
            if not shows_times(self._stage):
                line = f"lap {event.lap}  {_state(event)}, {self._row.count} in a row"
        elif isinstance(event, Fault) and event.fault in INCIDENTS:
            self._row.incident()
        elif isinstance(event, Run):
            self._row = Row()
        if line is not None:
            self.say(line)


class Notices:
    """Says what is amiss with the source or the reference, in a replay without a pace too."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._timed = True

    def staged(self, stage: Stage) -> None:
        """The practice is at that stage from now on."""
        self._timed = shows_times(stage.stage)

    def take(self, event: Event) -> None:
        """Say what the event is worth, if it is one of these."""
        if isinstance(event, Advice):
            if self._timed or GAP not in event.numbers:
                self._console.say(event.text)
        elif isinstance(event, Detector) and not event.on and event.lacks is not None:
            if event.name == "reference":
                self._console.say(f"{event.lacks}; going on without a reference")
            elif event.name in ("full_throttle", "brake_off"):
                self._console.say(event.lacks)


class Staged:
    """A watcher: tells those who show lap times the stage of practice, which is not logged."""

    def __init__(self, *told: Console | Notices) -> None:
        self._told = told

    def take(self, event: Event) -> None:
        """Tell the stage."""
        if isinstance(event, Stage):
            for one in self._told:
                one.staged(event)
