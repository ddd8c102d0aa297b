"""What the verbs that look into a recording share: its laps by the real engine, and which of them are meant."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from coach.app.config import Judged, Made
from coach.app.console import Console, words
from coach.app.intake import Intake
from coach.app.line import Sink
from coach.app.replay import start_of
from coach.app.start import SessionStart
from coach.app.stop import Stop
from coach.engine.engine import Engine
from coach.store.recalled import Recalled
from coach.vocabulary.errors import InputError
from coach.vocabulary.events import Action, Event, Lap, Moment
from coach.vocabulary.sample import Sample
from feeds.base import Datagram
from feeds.paths import on_one_line
from feeds.recording import ActionLine, Item, RecalledLine, Recording

_LAPS = re.compile(r"(\d{1,6})(?:-(\d{1,6}))?")
MOST_LABELS = 1000
"""tracks with their cars that are kept: where there are more, a counter was taken for a name (choice)"""


@dataclass(slots=True)
class Laps:
    """A watcher that keeps the laps that ended. `open_lap`: the one under way."""

    ended: list[Lap] = field(default_factory=list)
    open_lap: int | None = None

    def take(self, event: Event) -> None:
        """Take in one event."""
        if isinstance(event, Moment):
            self.open_lap = event.lap
        elif isinstance(event, Lap):
            self.ended.append(event)

    @property
    def best(self) -> Lap | None:
        """The quickest clean lap."""
        timed = [lap for lap in self.ended if lap.clean and lap.time is not None]
        return min(timed, key=lambda lap: lap.time or 0.0, default=None)


class Reader:
    """Takes the items of a recording one by one through an engine, whose laps, places and deltas are those of a replay.

    There is no planner: it says nothing of laps, and takes as long again. `sample` is the one that the last item gave,
    None where it gave none.
    """

    def __init__(self, start: SessionStart, watchers: Sequence[Sink]) -> None:
        self.intake = Intake(start.new_feed(), lambda line: None)
        self.sample: Sample | None = None
        self.driver: str | None = None
        self._labels: dict[tuple[str | None, str | None], None] = {}
        self._engine = Engine(start.engine)
        self._watchers = watchers
        self._last: Moment | None = None
        self._recalled: Recalled | None = None

    def take(self, item: Item) -> None:
        """Take in one item. What is pressed before the first sample is passed over, as in a replay."""
        self.sample = None
        if isinstance(item, Datagram):
            self.sample = self.intake.read(item)
            if self.sample is not None:
                self.driver = self.driver or self.sample.driver
                if len(self._labels) < MOST_LABELS:
                    self._labels.setdefault((self.sample.track, self.sample.car))
                self._hear(self._engine.push(self.sample))
            if self._recalled is not None and self.sample is not None:
                self._recall(self._recalled)
        elif isinstance(item, RecalledLine):
            recalled = self.intake.recalled(item.recalled)
            if recalled is not None:
                self._recall(recalled)
        elif isinstance(item, ActionLine) and self._last is not None:
            last = self._last
            self._hear(self._engine.act(Action(last.t, last.lap, item.action, last.distance, item.by)))

    def driven(self) -> list[str]:
        """Each track with its car, in the order in which they came; names may come behind the first samples."""
        named = [labels for labels in self._labels if all(labels)] or list(self._labels)
        return [f"{track or 'a track without a name'}, {car or 'a car without a name'}" for track, car in named]

    def finish(self) -> None:
        """The recording has ended."""
        self._hear(self._engine.finish())

    def _recall(self, recalled: Recalled) -> None:
        """As in a replay, what comes before the first sample waits for that."""
        self._recalled = recalled if self._last is None else None
        if self._last is not None and recalled.known is not None:
            self._hear(self._engine.recall(recalled.known))

    def _hear(self, events: list[Event]) -> None:
        for event in events:
            if isinstance(event, Moment):
                self._last = event
            for watcher in self._watchers:
                watcher.take(event)


def start_for(recording: Recording, options: Made, stop: Stop) -> SessionStart:
    """What a recording starts from: its own head, with what the command line says that it is made of."""
    judged = Judged(file=recording.path, port=None, feed=options.feed, layout=options.layout)
    return start_of(recording, judged, None, None, stop)


def say_before(recording: Recording, console: Console) -> None:
    """Say what a person has to know of a file before it is read."""
    if recording.headless is not None:
        console.say(recording.headless)


@dataclass(slots=True)
class Stretch:
    """Follows a recording to the laps `first` to `last`. Of a number that occurs twice, the first time is meant.

    `begun` turns True at the first sample of `first`, `over` at the first behind the last lap.
    """

    first: int
    last: int
    begun: bool = False
    over: bool = False
    seen: dict[int, None] = field(default_factory=dict)
    """numbers of the laps that have come"""
    _in_last: bool = False

    @classmethod
    def of(cls, text: str) -> Stretch:
        """`3` or `2-4`. InputError for anything else."""
        found = _LAPS.fullmatch(text.strip())
        if found is None or (found[2] is not None and int(found[2]) < int(found[1])):
            raise InputError(f'--laps: needs a lap or the first and the last, for example 3 or 2-4, not "{text}"')
        first = int(found[1])
        return cls(first, first if found[2] is None else int(found[2]))

    @property
    def name(self) -> str:
        """`lap 3` or `laps 2 to 4`."""
        return f"lap {self.first}" if self.first == self.last else f"laps {self.first} to {self.last}"

    def see(self, lap: int | None) -> None:
        """The car is on this lap now; None before the first sample."""
        if lap is None:
            return
        self.seen.setdefault(lap)
        self.begun = self.begun or lap == self.first
        if not self.begun or self.over:
            return
        self._in_last = self._in_last or lap == self.last
        self.over = self._in_last and lap != self.last

    def check(self, file: Path) -> None:
        """After the whole recording. InputError where it has no such laps, which says what it has."""
        if self.begun and self._in_last:
            return
        missing = self.last if self.begun else self.first
        has = ", ".join(map(str, sorted(self.seen))) or "none"
        behind = f" behind its lap {self.first}" if self.begun and missing in self.seen else ""
        raise InputError(f"--laps: there is no lap {missing}{behind} in {on_one_line(file)}: it has {has}")


def state_of(lap: Lap) -> str:
    """`clean`, or what was wrong with it."""
    return "clean" if lap.clean else ", ".join(map(words, lap.why_not)) or "not whole"
