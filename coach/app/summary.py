"""The summary of a session: laps, where the seconds are, what was found, what was said."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import islice
from statistics import median
from textwrap import shorten, wrap

from coach.app.console import plain, signed, words
from coach.engine.references import CHOSEN
from coach.engine.start import CHOICES
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
    Reference,
    Run,
    Stream,
)
from coach.vocabulary.laptime import lap_time

WIDTH = 80
PHASES = ("braking", "entry", "exit", "straight")
PLACES = 10
"""rows of the table of seconds; the rest are added up in one."""
MARKS = 20
"""marks that are listed; of more, how many more."""
LABELS = 3
"""tracks with their cars that are named; the rest are counted."""
WHOLE = ("reference", "full_throttle", "brake_off")
"""detectors that say what is amiss in a whole sentence."""
_SENTENCE = 400
"""characters of such a sentence that are shown."""
_LABEL = 38
"""characters of a stream's own label: two stand on one line."""


@dataclass(slots=True)
class _Place:
    """The losses of one corner, s, one number a lap; key None is a stretch that belongs to no corner."""

    phases: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    from_exit: list[float] = field(default_factory=list)
    laps: list[float] = field(default_factory=list)

    def add(self, parts: list[tuple[str, float, float | None]]) -> None:
        """One lap's parts: phase, seconds, and of a straight the seconds that exit speed explains."""
        for phase in PHASES:
            seconds = [lost for name, lost, _ in parts if name == phase]
            if seconds:
                self.phases[phase].append(sum(seconds))
        explained = [by_exit for _, _, by_exit in parts if by_exit is not None]
        if explained:
            self.from_exit.append(sum(explained))
        self.laps.append(sum(lost for _, lost, _ in parts))


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
        self._places: dict[int | None, _Place] = defaultdict(_Place)
        self._losses = 0
        self._faults: list[Fault] = []
        self._cues: list[Cue] = []
        self._worked_on: list[Advice] = []
        self._stream: Counter[str] = Counter()
        self._off: dict[str, str] = {}
        self._marked = [_Marks()]

    def take(self, event: Event) -> None:
        """Remember what matters of one event."""
        if isinstance(event, Lap):
            self._laps.append(event)
        elif isinstance(event, Loss):
            self._add_loss(event)
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
            track, car = event.track or "a track without a name", event.car or "a car without a name"
            self._labels[f"{plain(track, _LABEL)}, {plain(car, _LABEL)}"] = None
        elif isinstance(event, Reference):
            self._reference = event
        elif isinstance(event, Detector):
            self._note_detector(event)

    def text(self) -> str:
        """The whole summary, lines without trailing spaces, one newline at the end."""
        if not self._labels:
            return "No telemetry came, so there is nothing to sum up.\n"
        blocks = [self._heading(), self._lap_table(), self._seconds(), self._found(), self._topics()]
        blocks += [self._said(), self._held_back(), self._marks()]
        blocks.append(self._notes())
        return "\n\n".join("\n".join(line.rstrip() for line in block) for block in blocks if block) + "\n"

    def _add_loss(self, loss: Loss) -> None:
        self._losses += 1
        by_corner: dict[int | None, list[tuple[str, float, float | None]]] = defaultdict(list)
        for part in loss.parts:
            by_corner[part.corner].append((part.phase, part.seconds, part.from_exit))
        for corner, parts in by_corner.items():
            self._places[corner].add(parts)

    def _note_detector(self, event: Detector) -> None:
        if event.on:
            self._off.pop(event.name, None)
        else:
            self._off[event.name] = _reason(event)

    def _heading(self) -> list[str]:
        labels = list(islice(self._labels, LABELS))
        more = len(self._labels) - len(labels)
        if more:
            labels.append(f"and {more} more")
        clean = sum(lap.clean for lap in self._laps)
        lines = [*labels, f"{_count(len(self._laps), 'lap')} ended, {clean} clean"]
        if self._reference is not None:
            reference = self._reference
            lines.append(f"reference: {lap_time(reference.time)}, {_which(reference)}")
            held_against = {lap.reference_time for lap in self._laps if lap.delta is not None}
            if len(held_against) > 1:
                lines.append(f"each lap stands beside the reference that it had, {len(held_against)} in all")
        else:
            lines.append("reference: none; it is the best clean lap, or the one that --reference names")
        return lines

    def _lap_table(self) -> list[str]:
        if not self._laps:
            return []
        lines = ["LAPS", "  lap        time   to the reference"]
        for lap in self._laps:
            state = "" if lap.clean else "not clean: " + ", ".join(map(words, lap.why_not))
            start = f"{lap.lap:5d}  {lap_time(lap.time):>10}   {signed(lap.delta):>8}            "
            lines.append(start + shorten(state, WIDTH - len(start), placeholder=" ..."))
        return lines

    def _seconds(self) -> list[str]:
        if not self._losses:
            return []
        lines = [
            "WHERE THE SECONDS ARE",
            *_wrapped(
                f"Seconds against the reference over {_count(self._losses, 'whole lap')}, + is lost: the median of "
                "each column, and in all their sum. The costliest place comes first. Of the straight, (by exit) is "
                "what the speed at the corner's exit explains."
            ),
            "  place      braking    entry     exit  straight  (by exit)    a lap   in all",
        ]
        places = sorted(self._places.items(), key=lambda item: -sum(item[1].laps))
        for corner, place in places[:PLACES]:
            name = "no corner" if corner is None else f"turn {corner}"
            columns = [f"{_median(place.phases[phase]):>{9 if phase != 'straight' else 10}}" for phase in PHASES]
            columns.append(f"{_median(place.from_exit):>11}")
            columns.append(f"{_median(place.laps):>9}{signed(sum(place.laps)):>9}")
            lines.append(f"  {name:<9}{''.join(columns)}")
        rest = places[PLACES:]
        if rest:
            total = signed(sum(sum(place.laps) for _, place in rest))
            lines.append(f"  {_count(len(rest), 'other place') + ' together':<60}{total:>17}")
        return lines

    def _found(self) -> list[str]:
        if not self._faults:
            return ["FAULTS FOUND", "  none"]
        groups: dict[tuple[int | None, str], list[Fault]] = defaultdict(list)
        for fault in self._faults:
            groups[fault.corner, fault.fault].append(fault)
        lines = ["FAULTS FOUND", "  place      fault              times   cost s   median size        laps"]
        for (corner, name), faults in sorted(groups.items(), key=lambda item: -_cost(item[1])):
            place = "straight" if corner is None else f"turn {corner}"
            priced = [fault.cost for fault in faults if fault.cost is not None]
            cost = f"{sum(priced):.3f}" if priced else "-"
            digits = 0 if faults[0].unit == "rev/min" else 2
            size = f"{median(fault.size for fault in faults):.{digits}f} {faults[0].unit}"
            start = f"  {place:<9}  {words(name):<17}{len(faults):>7}{cost:>9}   {size:<17}  "
            lines.append(start + _laps((fault.lap for fault in faults), WIDTH - len(start)))
        return lines

    def _topics(self) -> list[str]:
        if not self._worked_on:
            return []
        lines = ["WORKED ON"]
        for event in self._worked_on:
            start = f"  lap {event.lap:<4d}  "
            lines += wrap(event.text, WIDTH, initial_indent=start, subsequent_indent=" " * len(start))
        return lines

    def _said(self) -> list[str]:
        spoken = [cue for cue in self._cues if cue.spoken]
        if not spoken:
            return ["SAID", "  nothing"]
        groups: dict[tuple[int | None, str], list[Cue]] = defaultdict(list)
        for cue in spoken:
            groups[cue.corner, cue.text].append(cue)
        lines = ["SAID", "  about      words                              times   on laps"]
        for (corner, text), cues in sorted(groups.items(), key=lambda item: -len(item[1])):
            place = "-" if corner is None else f"turn {corner}"
            quoted = f'"{text}"'
            start = f"  {place:<9}  {quoted:<33}{len(cues):>7}   "
            lines.append(start + _laps((cue.lap for cue in cues), WIDTH - len(start)))
        return lines

    def _held_back(self) -> list[str]:
        reasons = Counter(cue.why_not or "no reason given" for cue in self._cues if not cue.spoken)
        if not reasons:
            return []
        ordered = sorted(reasons.items(), key=lambda item: (-item[1], item[0]))
        return ["HELD BACK", *(f"{number:5d}  {reason}" for reason, number in ordered)]

    def _marks(self) -> list[str]:
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

    def _notes(self) -> list[str]:
        lines = []
        for reason in self._off.values():
            lines += _wrapped(reason)
        if self._stream:
            told = ", ".join(f"{words(what)} {number}" for what, number in sorted(self._stream.items()))
            lines += _wrapped(f"The stream: {told}.")
        return lines


def _which(reference: Reference) -> str:
    """Which lap it is, in words."""
    if reference.origin in CHOICES.values():
        return f"the {reference.origin}"
    if reference.origin == CHOSEN:
        return f"lap {reference.lap}, chosen while driving"
    return f"lap {reference.lap} of {plain(reference.origin, _LABEL)}"


def _reason(off: Detector) -> str:
    """The sentence that says why a detector was off."""
    lacks = plain(off.lacks or "channels for it", _SENTENCE)
    if off.name in WHOLE:
        return f"{lacks[0].upper()}{lacks[1:]}."
    aid = lacks.removesuffix(" (assist)")
    why = f"this stream has no {lacks}" if aid == lacks else f"the {aid} assist is on"
    return f"Not judged: {words(off.name)}, because {why}."


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


def _wrapped(text: str) -> list[str]:
    return wrap(text, WIDTH)


def _median(seconds: list[float]) -> str:
    return signed(median(seconds)) if seconds else "-"


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def _cost(faults: list[Fault]) -> float:
    return sum(fault.cost for fault in faults if fault.cost is not None)


def _laps(numbers: Iterable[int], room: int) -> str:
    """`2 4 6`, cut short where it would pass `room` characters."""
    return shorten(" ".join(str(number) for number in sorted(set(numbers))), room, placeholder=" ...")
