"""`compare`: one recording under two playbooks, and side by side what each would say and when.

The recording is read and judged once; two planners hear the same events, each as in a replay of its own.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from coach.app.config import CompareOptions
from coach.app.console import Console, Notices, plain
from coach.app.line import Line, Sink
from coach.app.replay import Opened, Step, given, opened_for, start_of
from coach.app.sidebyside import Column, Heard, Stint, side_by_side
from coach.app.stop import Stop
from coach.debrief.road import Piece
from coach.debrief.trackmap import MARK, Scene, Side, Utterance, draw
from coach.engine.start import EngineStart
from coach.planner.planner import Planner
from coach.planner.playbook import Playbook
from coach.planner.start import PlannerStart
from coach.playbook.load import load
from coach.store.recalled import Recalled
from coach.vocabulary.errors import InputError, WorkError
from coach.vocabulary.events import Corners, Cue, Detector, Event, Lap, Moment, Reference, Run
from coach.vocabulary.sample import Sample
from coach.vocabulary.trace import LapTrace
from feeds.paths import on_one_line

DEFAULT, RECORDED = "default", "recorded"
"""Names of a playbook that are no files: the built-in one, and the one in the recording's head."""
NAME = 34
"""characters of a playbook's name that are shown"""
WHOLE = 0.99
"""Share of the circuit that the outline of a picture has been driven over, to count as a whole lap."""
_NAN = float("nan")


@dataclass(slots=True)
class Driven:
    """A sink that keeps what was driven, row by row, lap by lap. `sample`: the one that is pushed now."""

    sample: Sample | None = None
    times: array[float] = field(default_factory=lambda: array("d"))
    places: array[float] = field(default_factory=lambda: array("d"))
    xs: array[float] = field(default_factory=lambda: array("d"))
    ys: array[float] = field(default_factory=lambda: array("d"))
    stints: list[Stint] = field(default_factory=list)
    corners: Corners | None = None
    reference: LapTrace | None = None
    label: str = ""

    def take(self, event: Event) -> None:
        """Take in one event."""
        if isinstance(event, Moment):
            self._row(event)
        elif isinstance(event, Lap):
            ended = next((stint for stint in reversed(self.stints) if stint.lap == event.lap), None)
            if ended is not None:
                ended.ended = event
        elif isinstance(event, Corners):
            self.corners = event
        elif isinstance(event, Reference):
            self.reference = event.trace
        elif isinstance(event, Run):
            track, car = event.track or "a track without a name", event.car or "a car without a name"
            self.label = f"{plain(track, NAME)}, {plain(car, NAME)}"

    def piece(self, first: int, last: int) -> Piece:
        """The rows from `first` up to `last`, that one not included."""
        return Piece(self.places[first:last], self.xs[first:last], self.ys[first:last])

    def while_sounding(self, heard: Heard) -> Piece:
        """What was driven from a cue's `starts` to its `ends`."""
        first = max(heard.row, 0)
        starts, ends = heard.cue.starts, heard.cue.ends
        if starts is None or ends is None:
            return Piece()
        while first < len(self.times) and self.times[first] < starts:
            first += 1
        last = first
        while last < len(self.times) and self.times[last] <= ends:
            if last > first and self.times[last] < self.times[last - 1]:
                break  # another run
            last += 1
        return self.piece(first, max(last, first + 2))  # a slow source may send nothing meanwhile

    def rows_of(self, number: int) -> tuple[int, int]:
        """First row of a stint, and the row behind its last."""
        end = self.stints[number + 1].row if number + 1 < len(self.stints) else len(self.times)
        return self.stints[number].row, end

    def _row(self, moment: Moment) -> None:
        sample = self.sample if self.sample is not None and self.sample.t == moment.t else None
        before = self.times[-1] if self.times else None
        back = before is not None and moment.t < before
        if not self.stints or self.stints[-1].lap != moment.lap or back:
            follows = bool(self.stints) and self.stints[-1].lap + 1 == moment.lap and not back
            self.stints.append(Stint(moment.lap, len(self.times), moment.t if follows else None))
        self.times.append(moment.t)
        self.places.append(_NAN if moment.distance is None else moment.distance)
        self.xs.append(_NAN if sample is None or sample.x is None else sample.x)
        self.ys.append(_NAN if sample is None or sample.y is None else sample.y)


class Twins(Line):
    """A line with more planners beside its own: each hears what the engine says, and none what another says."""

    def __init__(
        self, engine: EngineStart, planners: Iterable[PlannerStart], driven: Driven, sinks: list[Sink]
    ) -> None:
        first, *others = planners
        self.columns: list[list[Heard]] = [[], *([] for _ in others)]
        self._driven = driven
        self._others = [Planner(start) for start in others]
        super().__init__(engine, first, [*sinks, _Kept(self.columns[0], driven)], [driven])

    def finish(self) -> None:
        """The stream has ended."""
        super().finish()
        for column, planner in zip(self.columns[1:], self._others, strict=True):
            self._keep(column, planner.finish())

    def recall(self, recalled: Recalled) -> None:
        """What the memory knows."""
        waits = self._received is None
        super().recall(recalled)
        if waits or not self._is_driven(recalled.of):
            return
        for column, planner in zip(self.columns[1:], self._others, strict=True):
            self._keep(column, planner.recall(recalled.planner, recalled.stage))

    def _hear(self, events: list[Event]) -> None:
        for event in events:
            super()._hear([event])
            for column, planner in zip(self.columns[1:], self._others, strict=True):
                self._keep(column, planner.push(event))

    def _keep(self, column: list[Heard], events: list[Event]) -> None:
        kept = _Kept(column, self._driven)
        for event in events:
            kept.take(event)


@dataclass(slots=True)
class _Kept:
    """A sink that keeps cues with the row and the stint in which they were decided."""

    column: list[Heard]
    driven: Driven

    def take(self, event: Event) -> None:
        """Keep a cue."""
        if isinstance(event, Cue):
            stints, times = self.driven.stints, self.driven.times
            place = self.driven.places[-1] if times else _NAN
            self.column.append(Heard(event, len(times) - 1, len(stints) - 1, place))


@dataclass(slots=True)
class _SourceNotices:
    """Says what is amiss with source or reference; advice is each planner's own, and left out here."""

    notices: Notices

    def take(self, event: Event) -> None:
        """Say what the event is worth."""
        if isinstance(event, Detector):
            self.notices.take(event)


def compare(options: CompareOptions, console: Console, stop: Stop) -> str:
    """Run a recording under two playbooks; returns the text, and writes the picture where one is asked for.

    InputError for a file, playbook or lap that does not serve, KeyboardInterrupt where `stop` asks for the end.
    """
    if options.picture is not None:
        _may_write(options.picture)
    driven, columns = heard_under(options, console, stop)
    if options.picture is not None:
        _write(options.picture, draw(_scene(driven, columns, options)))
    return side_by_side(driven.label, driven.stints, columns)


def heard_under(options: CompareOptions, console: Console, stop: Stop) -> tuple[Driven, tuple[Column, Column]]:
    """What was driven, and every cue, said or held back, of either playbook. Raises as `compare` does."""
    names = options.playbook if len(options.playbook) == 2 else (DEFAULT, *options.playbook)
    playbooks = [_loaded(name) for name in names]
    source = opened_for(options, playbooks[0], console, stop)
    if RECORDED in names and source.recording.head is None:
        raise InputError(f"--playbook: {options.file} has no head with a playbook in it: name a file, or {DEFAULT}")
    starts = [start_of(source.recording, options, None, playbook, stop).planner for playbook in playbooks]
    driven = Driven()
    line = Twins(source.start.engine, starts, driven, [_SourceNotices(Notices(console))])
    _run(line, source, driven, stop)
    source.close(console)
    shown = [f"{letter} {name}" for letter, name in zip("AB", _names(starts, names), strict=True)]
    first, second = (Column(name, heard) for name, heard in zip(shown, line.columns, strict=True))
    return driven, (first, second)


def _run(line: Twins, source: Opened, driven: Driven, stop: Stop) -> None:
    for _ in given(line, _noted(source.steps, driven)):
        if stop.asked:
            raise KeyboardInterrupt
    line.finish()


def _noted(steps: Iterable[Step], driven: Driven) -> Iterator[Step]:
    for step in steps:
        if step.sample is not None:
            driven.sample = step.sample
        yield step


def _loaded(name: str) -> Playbook | None:
    """None: the recording's own."""
    if name == RECORDED and not Path(name).exists():
        return None
    return load(None if name == DEFAULT and not Path(name).exists() else name)


def _names(starts: list[PlannerStart], given_names: tuple[str, ...]) -> list[str]:
    """How the playbooks are called; with the file where that alone tells them apart."""
    names = [plain(start.playbook.name, NAME) for start in starts]
    if names[0] != names[1]:
        return names
    files = [plain(Path(name).name, NAME) for name in given_names]
    room = NAME - len(names[0]) - 3
    return [f"{name} ({file})" if len(file) <= room else file for name, file in zip(names, files, strict=True)]


def _scene(driven: Driven, columns: tuple[Column, Column], options: CompareOptions) -> Scene:
    """What the picture shows. InputError for a lap that there is none of, or a recording without any place."""
    numbers = [number for number, stint in enumerate(driven.stints) if options.lap in (None, stint.lap)]
    if not numbers:
        laps = ", ".join(str(lap) for lap in sorted({stint.lap for stint in driven.stints}))
        raise InputError(f"--lap: there is no lap {options.lap} in {options.file}: it has {laps or 'none'}")
    if options.lap is not None:
        numbers = numbers[:1]
    outline = _outline(driven, numbers)
    if not outline.has_position() and not outline.has_place():
        raise InputError(f"--picture: {options.file} has neither x and y nor a distance to draw: leave it out")
    sides = []
    for column in columns:
        spoken = [heard for heard in column.heard if heard.cue.spoken]
        said = [
            Utterance(count, heard.cue.lap, heard.cue.corner, heard.cue.text, driven.while_sounding(heard))
            for count, heard in enumerate(spoken, start=1)
            if heard.stint in numbers
        ]
        sides.append(Side(column.name, said))
    laps = "all laps" if options.lap is None else f"lap {options.lap}"
    return Scene(
        title=f"{sides[0].name} | {sides[1].name}",
        laps=f"{driven.label}, {laps} of {plain(options.file.name)}",
        outline=outline,
        sides=(sides[0], sides[1]),
        corners=driven.corners.corners if driven.corners is not None else (),
        reference=driven.reference,
    )


def _outline(driven: Driven, wanted: list[int]) -> Piece:
    """The lap that is drawn: of the laps wanted the clean and the whole first, else that which goes furthest."""

    def worth(number: int) -> tuple[bool, bool, int]:
        stint = driven.stints[number]
        ended = stint.ended
        first, last = driven.rows_of(number)
        return ended is not None and ended.clean, ended is not None and ended.time is not None, last - first

    best = max(wanted, key=worth)
    whole = max(range(len(driven.stints)), key=worth)
    if not worth(best)[1] and worth(whole)[1]:
        best = whole  # the lap that was asked for is not whole, another shows the circuit
    first, last = driven.rows_of(best)
    return driven.piece(first, min(last + 1, len(driven.times)) if worth(best)[1] else last)


def _may_write(path: Path) -> None:
    """Raises InputError where a file stands that is no picture of ours, or where none can stand."""
    if str(path) in ("-", ".") or path.is_fifo() or path.is_socket():
        raise InputError(f"--picture: needs a file, not {on_one_line(path)}: name one, for example lap.svg")
    if not path.absolute().parent.is_dir():
        raise InputError(f"--picture: there is no folder {on_one_line(path.parent)}: make it, or name another file")
    try:
        with path.open("rb") as file:
            ours = file.read(len(MARK)) in (MARK.encode(), b"")
    except FileNotFoundError:
        return
    except OSError as error:
        raise InputError(
            f"--picture: {on_one_line(path)} cannot be written ({error.strerror or error}): name another file"
        ) from error
    if not ours:
        raise InputError(f"--picture: {on_one_line(path)} exists and is no picture of ours: name another file")


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise WorkError(
            f"--picture: {on_one_line(path)} cannot be written ({error.strerror or error}): name another file"
        ) from error
