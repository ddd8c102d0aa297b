"""Where a replay begins to be seen and heard: at a lap, before a corner, before a cue or before a mark.

Engine and planner take in all that lies before as well, so that what comes then is what the whole replay gives.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from coach.vocabulary.actions import MARK
from coach.vocabulary.errors import InputError
from coach.vocabulary.events import Action, CornerMark, Corners, Cue, Detector, Event, Moment, Reference, Run

if TYPE_CHECKING:
    from coach.app.line import Sink  # the command line's options need the places alone

LEAD = 10.0
"""s before a corner's brake point, a cue or a mark: a reminder comes up to 8 s before the brake point (1.39)."""
_JUMP = 0.5
"""Share of a lap: a step that goes further, or back, is no driving."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where to begin: at the first sample of `lap`; `lead` s before the brake point of `corner` (of that lap, or of the
    first pass that has its brake point in the recording); or `lead` s before the spoken cue number `cue`, or the mark
    number `mark`, from 1.

    A number that occurs twice, because the car was reset, means its first time.
    """

    lap: int | None = None
    corner: int | None = None
    cue: int | None = None
    lead: float = LEAD
    mark: int | None = None


class Track:
    """A watcher that keeps where the car was at each step of a recording, and what was said. `step`: the one now."""

    def __init__(self) -> None:
        self.step = 0
        self.said: list[int] = []
        """the step of each spoken cue"""
        self.marked: list[int] = []
        """the step of each mark that was set"""
        self.laps: dict[int, int] = {}
        """lap number: its first row"""
        self.maps: list[tuple[int, Corners]] = []
        """row from which a session's map holds, the newest of each session"""
        self.steps = array("q")
        self.times = array("d")
        self.places = array("d")
        self.numbers = array("q")
        """by row: step, t (s), m from the line (nan while unknown), lap"""
        self._began = 0

    def take(self, event: Event) -> None:
        """Take in one event."""
        if isinstance(event, Moment):
            self.laps.setdefault(event.lap, len(self.times))
            self.steps.append(self.step)
            self.times.append(event.t)
            self.places.append(float("nan") if event.distance is None else event.distance)
            self.numbers.append(event.lap)
        elif isinstance(event, Cue) and event.spoken:
            self.said.append(self.step)
        elif isinstance(event, Action) and event.action == MARK:
            self.marked.append(self.step)
        elif isinstance(event, Run):
            self._began = len(self.times)
        elif isinstance(event, Corners):
            if self.maps and self.maps[-1][0] == self._began:
                self.maps.pop()
            self.maps.append((self._began, event))

    def row(self, step: int) -> int:
        """The last row up to a step."""
        row = len(self.steps) - 1
        while row > 0 and self.steps[row] > step:
            row -= 1
        return row

    def before(self, row: int, lead: float) -> int:
        """The first row of the `lead` s before `row`; not beyond a place where the clock goes back."""
        first = row
        while first > 0 and self.times[first - 1] <= self.times[first]:
            if self.times[row] - self.times[first - 1] > lead:
                break
            first -= 1
        return first


def find(place: Place, track: Track, driven: Iterator[None], name: str) -> int:
    """How many steps of a recording lie before the place.

    `driven` gives the recording's steps to a line that `track` watches, one at a time; `name` is the recording's.
    Raises InputError where there is no such lap, corner, cue or mark, which says what there is.
    """
    for step, _ in enumerate(driven):
        track.step = step + 1
        if place.cue is not None and len(track.said) >= place.cue:
            break
        if place.mark is not None and len(track.marked) >= place.mark:
            break
        if place.corner is None and place.lap in track.laps:
            break
    if not track.steps:
        raise InputError(f"there is nothing driven in {name} to begin at: replay it whole")
    if place.cue is not None:
        row = _cue_row(place.cue, track, name)
    elif place.mark is not None:
        row = _mark_row(place.mark, track, name)
    elif place.corner is not None:
        row = _corner_row(place.corner, place.lap, track, name)
    else:
        return track.steps[_lap_row(place.lap, track, name)]
    return track.steps[track.before(row, place.lead)]


class Curtain:
    """A sink in front of others, which hear nothing until `rise`; then first what an event log has to begin with: the
    run, its reference, its map, and which detectors are on or off."""

    def __init__(self, sinks: Sequence[Sink]) -> None:
        self._sinks = sinks
        self._is_up = False
        self._known: dict[object, Event] = {}

    def take(self, event: Event) -> None:
        """Hand an event on, or keep what will be needed."""
        if self._is_up:
            self._give(event)
            return
        if isinstance(event, Run):
            self._known.clear()
        if isinstance(event, (Run, Reference, Corners, Detector)):
            key = event.name if isinstance(event, Detector) else type(event)
            self._known.pop(key, None)  # so that they stay in the order in which they came
            self._known[key] = event

    def rise(self) -> None:
        """From now on the sinks hear everything."""
        self._is_up = True
        for event in self._known.values():
            self._give(event)
        self._known.clear()

    def _give(self, event: Event) -> None:
        for sink in self._sinks:
            sink.take(event)


def _cue_row(number: int, track: Track, name: str) -> int:
    if number > len(track.said):
        said = {0: "nothing is said", 1: "one cue is said"}.get(len(track.said), f"{len(track.said)} cues are said")
        mend = f": give a number up to {len(track.said)}" if track.said else ""
        raise InputError(f"--before-cue: there is no cue {number} in {name}, {said} in it{mend}")
    return track.row(track.said[number - 1])


def _mark_row(number: int, track: Track, name: str) -> int:
    if number > len(track.marked):
        count = len(track.marked)
        marks = {0: "no mark was set", 1: "one mark was set"}.get(count, f"{count} marks were set")
        mend = f": give a number up to {count}" if count else ""
        raise InputError(f"--before-mark: there is no mark {number} in {name}, {marks} in it{mend}")
    return track.row(track.marked[number - 1])


def _lap_row(lap: int | None, track: Track, name: str) -> int:
    row = None if lap is None else track.laps.get(lap)
    if row is None:
        raise InputError(f"--from-lap: there is no lap {lap} in {name}: it has {_range(list(track.laps), 'lap')}")
    return row


def _corner_row(corner: int, lap: int | None, track: Track, name: str) -> int:
    if lap is not None:
        _lap_row(lap, track, name)
    numbers: set[int] = set()
    bounds = [began for began, _ in track.maps[1:]] + [len(track.times)]
    passed_only: int | None = None
    for (began, known), end in zip(track.maps, bounds, strict=True):
        numbers |= {mark.corner for mark in known.corners}
        mark = next((mark for mark in known.corners if mark.corner == corner), None)
        if mark is None:
            continue
        for row in _passes(track, mark, known.trace.length, began, end):
            if lap is not None and track.numbers[row] != lap:
                continue
            brake = _crossed(track, mark.brake, known.trace.length, began, row)
            if brake is not None:
                return brake
            passed_only = row if passed_only is None else passed_only
            if lap is not None:
                break
    if passed_only is not None:
        return passed_only
    where = name if lap is None else f"lap {lap} of {name}"
    if corner in numbers:
        raise InputError(f"--from-corner: corner {corner} is not driven in {where}: choose another one, or another lap")
    known_corners = _range(sorted(numbers), "corner") if numbers else "no lap from which its corners can be known"
    raise InputError(f"--from-corner: there is no corner {corner} in {where}: it has {known_corners}")


def _passes(track: Track, mark: CornerMark, length: float, began: int, end: int) -> Iterator[int]:
    """Rows at which the car has come to the corner's apex."""
    for row in range(began + 1, end):
        if _step_over(track, row, mark.apex, length):
            yield row


def _crossed(track: Track, place: float, length: float, began: int, row: int) -> int | None:
    """The row up to `row` at which the car was last at `place` (m); None where the driving towards it begins later."""
    for back in range(row, began, -1):
        if _step_over(track, back, place, length):
            return back
        if not 0.0 <= (track.places[back] - track.places[back - 1]) % length < _JUMP * length:
            return None
        if track.times[back] < track.times[back - 1]:
            return None
    return None


def _step_over(track: Track, row: int, place: float, length: float) -> bool:
    """Whether the car came over `place` (m) since the row before."""
    step = (track.places[row] - track.places[row - 1]) % length
    return step < _JUMP * length and (place - track.places[row - 1]) % length < step


def _range(numbers: Sequence[int], thing: str) -> str:
    """`laps 1 to 6`, `corner 3`, or the numbers one by one where some between are missing."""
    ordered = sorted(numbers)
    if len(ordered) == 1:
        return f"{thing} {ordered[0]} alone"
    if len(ordered) == ordered[-1] - ordered[0] + 1:
        return f"{thing}s {ordered[0]} to {ordered[-1]}"
    return f"{thing}s {', '.join(map(str, ordered))}"
