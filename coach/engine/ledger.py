"""The seconds ledger: where in the lap the delta was gained or lost."""

from __future__ import annotations

from dataclasses import dataclass

from coach.engine.circuit import Circuit
from coach.engine.lap import GridLap
from coach.engine.straight import loss_from_speed
from coach.engine.stretch import from_lap
from coach.engine.tape import Tape
from coach.vocabulary.events import CornerMark, LossPart

LEAD = 1.0
"""s before the reference's brake point that still belong to the braking: whoever brakes early loses it there."""
LEAD_SHARE = 0.5
"""of the way from the last corner's exit: more would take that corner's straight away from it."""

SHORTEST = 1e-3
"""m: shorter parts are rounding."""

Phase = str
"""braking, entry, exit, straight"""


@dataclass(slots=True, frozen=True)
class Part:
    """A part of the lap, `start` < `end` m from the line, within one lap. On a straight `corner` is the one behind."""

    corner: int | None
    phase: Phase
    start: float
    end: float


@dataclass(slots=True, frozen=True)
class Bounds:
    """The fixed places of one corner in the ledger, m, rising; the first ones are negative where it lies over the line.

    `behind` is the last apex of the corner before, `approach` its exit, `braking` `LEAD` s before the mark's brake
    point, `end` the end of the straight behind the corner.
    """

    mark: CornerMark
    behind: float
    approach: float
    braking: float
    entry: float
    apex: float
    exit: float
    end: float


class Ledger:
    """The parts of one reference on one circuit's map. They cover the lap from line to line without a gap."""

    def __init__(self, circuit: Circuit, reference: GridLap) -> None:
        self._reference = reference
        self.length = reference.length
        self.bounds: tuple[Bounds, ...] = _bounds(circuit.coached, reference)
        self.parts: tuple[Part, ...] = _parts(self.bounds, reference.length)

    def losses(self, tape: Tape, start: float, delta: float) -> tuple[LossPart, ...]:
        """Seconds lost in each part by the lap of `tape`, which crossed the line at `start` s and lost `delta` s.

        The sum is `delta` but for rounding: each part is rounded to 0.1 ms, the last one carries the rest.
        """
        losses, before, given = [], 0.0, 0.0
        last = len(self.parts) - 1
        total = round(delta, 4)
        for index, part in enumerate(self.parts):
            if index == last:
                seconds = round(total - given, 4)
            else:
                own = tape.time_at(part.end)
                now = before if own is None else own - start - self._time_at(part.end)
                seconds = round(now - before, 4)
                before = now
            given += seconds
            losses.append(LossPart(part.corner, part.phase, seconds, self._from_exit(part, tape)))
        return tuple(losses)

    def _time_at(self, distance: float) -> float:
        place = distance / self._reference.step
        index = min(int(place), len(self._reference.time) - 2)
        low, high = self._reference.time[index], self._reference.time[index + 1]
        return float(low + (high - low) * (place - index))

    def _from_exit(self, part: Part, tape: Tape) -> float | None:
        if part.phase != "straight" or part.corner is None:
            return None
        speed = tape.value_at("speed", part.start)
        if speed is None:
            return None
        loss = loss_from_speed(from_lap(self._reference, part.start, part.end), part.start, part.end, speed)
        return None if loss is None else round(loss, 4)


def _bounds(corners: list[CornerMark], reference: GridLap) -> tuple[Bounds, ...]:
    """In the order driven, each place at or behind the one before it."""
    length = reference.length
    placed: list[tuple[CornerMark, float, float, float, float]] = []
    for mark in sorted(corners, key=lambda m: m.exit):
        exit_ = mark.exit
        apex = _before(mark.apexes[-1], exit_, length)
        entry = min(_before(mark.entry, exit_, length), apex)
        begins = min(_before(mark.brake, exit_, length), entry)
        placed.append((mark, begins, entry, apex, exit_))
    starts, approaches, apexes = [], [], []
    for index, (_, begins, _, apex, _) in enumerate(placed):
        earlier = placed[index - 1][4] - (length if index == 0 else 0.0)
        lead = max(_lead(reference, begins), begins - LEAD_SHARE * (begins - earlier))
        starts.append(min(max(lead, earlier), apex))
        approaches.append(min(earlier, starts[-1]))
        apexes.append(min(placed[index - 1][3] - (length if index == 0 else 0.0), approaches[-1]))
    bounds = []
    for index, (mark, _, entry, apex, exit_) in enumerate(placed):
        braking, last = starts[index], index == len(placed) - 1
        following = starts[(index + 1) % len(placed)] + (length if last else 0.0)
        end = max(exit_, following)
        bounds.append(Bounds(mark, apexes[index], approaches[index], braking, max(entry, braking), apex, exit_, end))
    return tuple(bounds)


def _before(place: float, exit_: float, length: float) -> float:
    return place if place <= exit_ else place - length


def _lead(reference: GridLap, brake: float) -> float:
    """m: where the reference was `LEAD` s before `brake`."""
    rows = from_lap(reference, brake - 120.0, brake)
    there = rows.time_at(brake)
    if there is None:
        return brake
    return rows.d[min(rows.index_at_time(there - LEAD), len(rows) - 1)]


def _parts(bounds: tuple[Bounds, ...], length: float) -> tuple[Part, ...]:
    """Cuts the lap at every bound; a part that reaches over the line becomes two."""
    if not bounds:
        return (Part(None, "straight", 0.0, length),)
    spans: list[Part] = []
    for b in bounds:
        number = b.mark.corner
        for phase, start, end in (
            ("braking", b.braking, b.entry),
            ("entry", b.entry, b.apex),
            ("exit", b.apex, b.exit),
            ("straight", b.exit, b.end),
        ):
            if end - start > SHORTEST:
                spans.extend(Part(number, phase, *span) for span in _within(start, end, length))
    spans.sort(key=lambda part: part.start)
    return tuple(spans)


def _within(start: float, end: float, length: float) -> list[tuple[float, float]]:
    if end <= 0.0:
        return [(start + length, end + length)]
    if start >= length:
        return [(start - length, end - length)]
    if start < 0.0:
        return [(start + length, length), (0.0, end)]
    if end > length:
        return [(start, length), (0.0, end - length)]
    return [(start, end)]
