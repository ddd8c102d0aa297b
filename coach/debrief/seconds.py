"""Where the seconds of a session are: the mean lap's loss by corner and phase, which adds up, and its picture."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from coach.debrief.drawing import begun, block, upright, words
from coach.debrief.numerals import signed, ticks
from coach.debrief.tones import paint
from coach.review.model import KeptSession
from coach.review.seconds import held
from coach.review.words import place_of
from coach.vocabulary.events import PHASES

ROWS = 14
"""places that have a bar; the rest are added up in one."""
WIDTH, ROW, NAMES, NUMBERS = 760.0, 24.0, 96.0, 74.0
"""px: of the picture, of a row, for the places' names, and for the sums."""
HEAD, FOOT = 34.0, 30.0


@dataclass(frozen=True, slots=True)
class Row:
    """The mean s a lap lost at one place, by phase, with the sum over the laps."""

    name: str
    corner: int | None
    phases: dict[str, float]
    total: float

    @property
    def mean(self) -> float:
        """s a lap."""
        return sum(self.phases.values())


@dataclass(frozen=True, slots=True)
class Seconds:
    """All places, the costliest first. `laps`: how many were held against a reference; `mean` s, their delta."""

    rows: tuple[Row, ...]
    laps: int
    mean: float


def seconds_of(session: KeptSession) -> Seconds | None:
    """The mean of the laps that the review counts: driven through, and their delta shared out; None for none."""
    laps = held(session)
    if not laps:
        return None
    places: dict[int | None, dict[str, float]] = defaultdict(lambda: dict.fromkeys(PHASES, 0.0))
    for lap in laps:
        for part in lap.parts:
            phases = places[part.corner]
            phases[part.phase] = phases.get(part.phase, 0.0) + part.seconds
    rows = [
        Row(place_of(corner), corner, {phase: lost / len(laps) for phase, lost in phases.items()}, sum(phases.values()))
        for corner, phases in places.items()
    ]
    rows.sort(key=lambda row: (-row.total, row.name))
    return Seconds(tuple(rows), len(laps), sum(row.mean for row in rows))


def draw_seconds(seconds: Seconds) -> str:
    """A bar for each place: what was lost to the right, what was gained to the left, in pieces by phase."""
    rows = list(seconds.rows[:ROWS])
    rest = seconds.rows[ROWS:]
    if rest:
        phases = {phase: sum(row.phases.get(phase, 0.0) for row in rest) for phase in PHASES}
        rows.append(Row(f"{len(rest)} others", None, phases, sum(row.total for row in rest)))
    most = max((sum(s for s in row.phases.values() if s > 0.0) for row in rows), default=0.0)
    least = min((sum(s for s in row.phases.values() if s < 0.0) for row in rows), default=0.0)
    span = max(most - least, 1e-3)
    room = WIDTH - NAMES - NUMBERS - 16.0
    scale = room / span
    zero = NAMES - least * scale
    bottom = HEAD + ROW * len(rows)
    parts = [*begun(WIDTH, bottom + FOOT), _STRIPES, *_legend(), *_grid(zero, scale, bottom, least, most)]
    for number, row in enumerate(rows):
        parts += _bar(row, HEAD + ROW * number, zero, scale)
    return "\n".join([*parts, upright(zero, HEAD - 4, bottom, "ink"), "</svg>"])


_STRIPES = (
    '<defs><pattern id="stripes" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    f"{block(0.0, 0.0, 5.0, 5.0, 'exit')}{block(0.0, 0.0, 1.6, 5.0, 'panel')}</pattern></defs>"
)
"""What tells the exit from the entry where no colours are seen."""


def _legend() -> Iterator[str]:
    x = NAMES
    for phase in PHASES:
        yield _piece(phase, x, 10.0, 14.0, 11.0)
        yield words(x + 20, 20.0, phase)
        x += 34.0 + 7.0 * len(phase)


def _grid(zero: float, scale: float, bottom: float, least: float, most: float) -> Iterator[str]:
    for tick in ticks(least, max(most, least + 1e-3), 6):
        x = zero + tick * scale
        yield upright(x, HEAD - 4, bottom + 4)
        yield words(x, bottom + 18, "0 s" if tick == 0.0 else f"{tick:+.3g} s", "soft", "middle")


def _bar(row: Row, top: float, zero: float, scale: float) -> Iterator[str]:
    yield words(NAMES - 10, top + ROW / 2 + 4, row.name, "ink", "end", 12.0)
    right = left = zero
    for phase in PHASES:
        lost = row.phases.get(phase, 0.0) * scale
        if lost > 0.0:
            yield _piece(phase, right, top + 5.0, lost, ROW - 10.0)
            right += lost
        elif lost < 0.0:
            left += lost
            yield _piece(phase, left, top + 5.0, -lost, ROW - 10.0)
    yield words(WIDTH - 12, top + ROW / 2 + 4, signed(row.mean), "ink", "end", 12.0)


def _piece(phase: str, left: float, top: float, width: float, height: float) -> str:
    drawn = block(left, top, width, height, phase)
    return drawn.replace(paint(phase), 'fill="url(#stripes)"') if phase == "exit" else drawn
