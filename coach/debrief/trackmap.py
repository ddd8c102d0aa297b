"""A picture of the lap with the speech laid on the road: what two playbooks would say, and where it would sound.

SVG by hand, in px. Blue and vermillion are of the set that Okabe and Ito chose for colour-vision deficiency (Color
Universal Design, 2008); they tell no side on their own, for the one is solid and left of the road, the other hollow and
right of it. Ink is 14:1 on the ground, blue 4.8:1,
vermillion 3.6:1 (WCAG 2.2's formula, whose least for graphics is 3:1).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from math import isnan

from coach.debrief import svg
from coach.debrief.labels import Box, Placed, Places, Wanted, lanes, width_of
from coach.debrief.road import Ground, Piece, Point, beside, dotted, place_on, tangent
from coach.vocabulary.events import CornerMark
from coach.vocabulary.trace import LapTrace

MARK = "<!-- cornerword: speech on the lap -->"
"""How a picture of ours begins: such a file may be written anew, for it can be made again."""
CAUTION = "For simulators."
BOLD = ' font-weight="bold"'
GROUND, INK, SOFT = "#f7f5ef", "#22262b", "#5a5f66"
ROAD, BUSY, BRAKES = "#d3cfc4", "#a39e92", "#57534b"
COLOURS = ("#0072b2", "#d55e00")
WORDS, SMALL, TITLE = 12.0, 11.0, 18.0
"""px: sizes of letters"""
WIDTH, HEIGHT = 1280.0, 640.0
"""px: the picture's width, and the most that the lap takes of its height"""
SIDE, ABOVE = 230.0, 90.0
"""px left and right of the lap, and above and below it, for words"""
RIBBON_SIDE, RIBBON_ABOVE = 80.0, 160.0
"""the same for a lap that is a straight ribbon"""
HEAD, FOOT = 84.0, 62.0
"""px for the title, and for what the signs mean"""
LANE, FIRST, STROKE = 10.0, 13.0, 6.0
"""px between two lanes of speech, from the middle of the road to the first of them, and their width"""
EDGES = 3.5
"""px: what of a hollow stroke is colour, both edges together"""
APART = 25.0
"""m between two things said in one lane"""
MANY = 4
"""times that the same is said, from which on they are counted and not listed"""
LONGEST = 34
"""characters of what is said that stand on one line"""
_QUIET_THROTTLE, _QUIET_BRAKE, _QUIET_LATERAL = 0.8, 0.05, 0.5
"""Where the reference lifts below 80 %, brakes, or passes half its greatest lateral acceleration, nothing may sound
(the contract's deadline of a cue)."""


@dataclass(frozen=True, slots=True)
class Utterance:
    """One thing said: its number among those that this side says, the lap, the corner it speaks of (None: none), and
    what was driven while it sounds."""

    number: int
    lap: int
    corner: int | None
    text: str
    driven: Piece


@dataclass(frozen=True, slots=True)
class Side:
    """What one playbook says."""

    name: str
    said: Sequence[Utterance] = ()


@dataclass(frozen=True, slots=True)
class Scene:
    """All that is drawn. `outline`: one lap as driven; `laps`: which ones, in words; `reference`: its zones are shown
    where it is known."""

    title: str
    laps: str
    outline: Piece
    sides: tuple[Side, Side]
    corners: Sequence[CornerMark] = ()
    reference: LapTrace | None = None


@dataclass(slots=True)
class _Group:
    """The same words of one side at one corner, lap by lap, in one lane."""

    side: int
    said: list[Utterance]
    lines: list[list[Point]] = field(default_factory=list)
    placed: Placed | None = None

    def anchors(self) -> list[tuple[Point, Point]]:
        """Middle and ends of what is drawn longest, each with the direction away from the road."""
        line = max(self.lines, key=len)
        sign = 1.0 if self.side == 0 else -1.0
        found = []
        for index in (len(line) // 2, 0, len(line) - 1):
            along = tangent(line, index)
            found.append((line[index], (along[1] * sign, -along[0] * sign)))
        return found


def draw(scene: Scene) -> str:
    """The picture as SVG text. Side 0 lies left of the road and is solid, side 1 right of it and hollow."""
    side, above = (SIDE, ABOVE) if scene.outline.has_position() else (RIBBON_SIDE, RIBBON_ABOVE)
    ground = Ground(scene.outline, WIDTH - 2 * side, HEIGHT, side, HEAD + above)
    road = ground.points(scene.outline)
    groups = [group for number in (0, 1) for group in _laid(scene, ground, number)]
    area = Box(8.0, HEAD, WIDTH - 16.0, 2 * above + ground.height)
    apexes = [(mark, place_on(scene.outline, mark.apex)) for mark in scene.corners]
    signs = [(mark, ground.at(*point)) for mark, point in apexes if point is not None]
    marks = [(point, 6.0) for line in road for point in dotted(line)]
    marks += [(point, STROKE / 2 + 1.0) for group in groups for line in group.lines for point in dotted(line)]
    marks += [(point, 10.0) for _, point in signs]
    places = Places(area, marks)
    for group in groups:
        width, height = _size(group)
        own = [point for line in group.lines for point in dotted(line)]
        group.placed = places.take(Wanted(group.anchors(), width, height, own))
    bottom = max([area.top + area.height, *(box.top + box.height for group in groups for box in _boxes(group))])
    width, height = max(WIDTH, places.right + 8.0), bottom + FOOT
    size = f'viewBox="0 0 {svg.px(width)} {svg.px(height)}" width="{svg.px(width)}" height="{svg.px(height)}"'
    parts = [
        MARK,
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="Verdana, DejaVu Sans, Arial, sans-serif">',
        f"<title>{svg.safe(scene.title)}</title>",
        svg.rect(0.0, 0.0, width, height, GROUND),
        *_head(scene),
        *_road(scene, ground, road),
        *(part for group in groups for part in _strokes(group)),
        *(part for mark, point in signs for part in _corner(mark, point)),
        *(part for group in groups for part in _leader(group)),
        *(part for group in groups for part in _label(group)),
        *_foot(scene, bottom),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _boxes(group: _Group) -> list[Box]:
    return [] if group.placed is None else [group.placed.box]


def _laid(scene: Scene, ground: Ground, side: int) -> list[_Group]:
    """What one side says, in groups, each in its lane."""
    by_words: dict[tuple[int | None, str], list[Utterance]] = {}
    for said in scene.sides[side].said:
        by_words.setdefault((said.corner, said.text), []).append(said)
    groups = [_Group(side, said) for said in by_words.values()]
    spans = [[span for said in group.said for span in _spans(said.driven)] for group in groups]
    sign = 1.0 if side == 0 else -1.0
    for group, lane in zip(groups, lanes(spans, APART), strict=True):
        offset = sign * (FIRST + LANE * lane)
        for said in group.said:
            group.lines += [beside(line, offset) for line in ground.points(said.driven)]
    return [group for group in groups if group.lines]


def _spans(piece: Piece) -> Iterator[tuple[float, float]]:
    """From where to where (m) a piece goes, in two where it crosses the line."""
    places = [place for place in piece.places if not isnan(place)]
    start = 0
    for index in range(1, len(places) + 1):
        if index == len(places) or places[index] < places[index - 1]:
            yield places[start], places[index - 1]
            start = index


def _road(scene: Scene, ground: Ground, road: Sequence[Sequence[Point]]) -> Iterator[str]:
    yield f'<g id="road" fill="none" stroke="{ROAD}" stroke-width="10" stroke-linejoin="round" stroke-linecap="round">'
    for line in road:
        yield f'<path d="{svg.path(line)}"/>'
    yield "</g>"
    if scene.reference is not None:
        for state, colour, width in (("busy", BUSY, 4.0), ("brakes", BRAKES, 4.0)):
            yield f'<g id="{state}" fill="none" stroke="{colour}" stroke-width="{svg.px(width)}">'
            for piece in _zones(scene.outline, scene.reference, state):
                for line in ground.points(piece):
                    yield f'<path d="{svg.path(line)}"/>'
            yield "</g>"
    if road:
        first = road[0]
        (x, y), (dx, dy) = first[0], tangent(first, 0)
        across = svg.path([(x - dy * 9, y + dx * 9), (x + dy * 9, y - dx * 9)])
        yield f'<path id="line" d="{across}" stroke="{INK}" stroke-width="3"/>'
        wing_x, wing_y = x + dx * 5, y + dy * 5
        tip = [(x + dx * 14, y + dy * 14), (wing_x - dy * 5, wing_y + dx * 5), (wing_x + dy * 5, wing_y - dx * 5)]
        yield f'<path id="direction" d="{svg.path(tip)}Z"/>'


def _zones(outline: Piece, reference: LapTrace, state: str) -> Iterator[Piece]:
    """The pieces of the outline where the reference brakes, or where it is busy otherwise."""
    greatest = _QUIET_LATERAL * max(reference.lateral, default=0.0)

    def state_at(place: float) -> str:
        if isnan(place):
            return ""
        if reference.at(reference.brake, place) > _QUIET_BRAKE:
            return "brakes"
        lifted = reference.at(reference.throttle, place) < _QUIET_THROTTLE
        return "busy" if lifted or reference.at(reference.lateral, place) > greatest else ""

    rows = zip(outline.places, outline.xs, outline.ys, strict=True)
    for found, same in groupby(rows, lambda row: state_at(row[0])):
        if found == state:
            places, xs, ys = zip(*same, strict=True)
            yield Piece(places, xs, ys)


def _strokes(group: _Group) -> Iterator[str]:
    """Solid, or hollow: a coloured stroke with one of the ground's colour in it, over all of the group at once."""
    colour = COLOURS[group.side]
    yield (
        f'<g class="{"left" if group.side == 0 else "right"}" fill="none" stroke="{colour}" '
        f'stroke-width="{svg.px(STROKE)}" stroke-linejoin="round">'
    )
    for line in group.lines:
        yield f'<path d="{svg.path(line)}"/>'
    if group.side == 1:
        yield f'<g stroke="{GROUND}" stroke-width="{svg.px(STROKE - EDGES)}">'
        for line in group.lines:
            yield f'<path class="hollow" d="{svg.path(line)}"/>'
        yield "</g>"
    for line in group.lines:
        x, y = line[0]
        fill = colour if group.side == 0 else GROUND
        yield f'<circle cx="{svg.px(x)}" cy="{svg.px(y)}" r="4" fill="{fill}" stroke-width="2"/>'
    yield "</g>"


def _corner(mark: CornerMark, point: Point) -> Iterator[str]:
    x, y = point
    yield f'<circle cx="{svg.px(x)}" cy="{svg.px(y)}" r="9" fill="{GROUND}" stroke="{INK}" stroke-width="1.2"/>'
    yield (
        f'<text class="corner" x="{svg.px(x)}" y="{svg.px(y + 4)}" font-size="{svg.px(SMALL)}" font-weight="bold" '
        f'text-anchor="middle">{mark.corner}</text>'
    )


def _size(group: _Group) -> tuple[float, float]:
    words, about = _words(group)
    width = max([width_of(line, WORDS) for line in words] + [width_of(about, SMALL)])
    return width + 20.0, 15.0 * len(words) + 14.0 + 8.0


def _words(group: _Group) -> tuple[list[str], str]:
    """The words, and what tells when they are said."""
    laps = sorted({said.lap for said in group.said})
    numbers = [said.number for said in group.said]
    about = f"{_many('lap', laps)}; {_many('cue', numbers)}" if len(numbers) < MANY else f"{_many('lap', laps)}"
    if len(numbers) >= MANY:
        about += f"; {len(numbers)} times"
    return svg.folded(group.said[0].text, LONGEST), about


def _leader(group: _Group) -> Iterator[str]:
    """From the stroke to its words; under all words."""
    if group.placed is None:
        return
    x, y = group.placed.leader[0]
    side = "left" if group.side == 0 else "right"
    yield svg.stroke(group.placed.leader, SOFT, 1.0, f' class="leader {side}"')
    yield f'<circle cx="{svg.px(x)}" cy="{svg.px(y)}" r="2" fill="{INK}"/>'


def _label(group: _Group) -> Iterator[str]:
    if group.placed is None:
        return
    box, colour = group.placed.box, COLOURS[group.side]
    words, about = _words(group)
    yield f'<g class="label {"left" if group.side == 0 else "right"}">'
    yield svg.rect(box.left, box.top, box.width, box.height, "#ffffff", f' class="box" rx="3" stroke="{ROAD}"')
    bar = f' stroke="{colour}" stroke-width="1.5"'
    yield svg.rect(box.left + 3, box.top + 4, 5.0, box.height - 8, colour if group.side == 0 else GROUND, bar)
    for number, line in enumerate(words):
        yield svg.words((box.left + 14, box.top + 15 + 15 * number), WORDS, line, INK)
    yield svg.words((box.left + 14, box.top + 15 * len(words) + 14), SMALL, about, SOFT)
    yield "</g>"


def _head(scene: Scene) -> Iterator[str]:
    yield svg.words((16.0, 28.0), TITLE, scene.title, INK, BOLD)
    x = 16.0
    for number, (side, where) in enumerate(zip(scene.sides, ("left", "right"), strict=True)):
        yield svg.stroke([(x, 50.0), (x + 44, 50.0)], COLOURS[number], STROKE)
        if number == 1:
            yield svg.stroke([(x + 1.5, 50.0), (x + 42.5, 50.0)], GROUND, STROKE - EDGES)
        text = f"{side.name}, {where} of the road: {len(side.said)} said"
        yield svg.words((x + 54, 54.0), WORDS, text, INK)
        x += 54 + width_of(text, WORDS) + 30
    yield svg.words((16.0, 76.0), SMALL, scene.laps, SOFT)


def _foot(scene: Scene, top: float) -> Iterator[str]:
    y = top + 22.0
    x = 16.0
    yield f'<circle cx="{svg.px(x + 6)}" cy="{svg.px(y - 4)}" r="4.5" fill="{INK}"/>'
    signs = [("", "here it begins to sound; the stroke is the road driven meanwhile")]
    if scene.reference is not None:
        signs += [(BRAKES, "the reference brakes"), (BUSY, "it lifts or corners")]
    for colour, text in signs:
        if colour:
            yield svg.stroke([(x, y - 4), (x + 30, y - 4)], ROAD, 10.0)
            yield svg.stroke([(x, y - 4), (x + 30, y - 4)], colour, 4.0)
        start = x + (40 if colour else 20)
        yield svg.words((start, y), SMALL, text, SOFT)
        x = start + width_of(text, SMALL) + 24
    yield svg.words((16.0, y + 24.0), WORDS, CAUTION, INK, BOLD)
    notes = "Numbers in circles: corners, at their apex. Cues are counted from 1 for each playbook."
    yield svg.words((32.0 + width_of(CAUTION, WORDS), y + 24.0), SMALL, notes, SOFT)


def _many(thing: str, numbers: Sequence[int]) -> str:
    return f"{thing} {numbers[0]}" if len(numbers) == 1 else f"{thing}s {_runs(numbers)}"


def _runs(numbers: Iterable[int]) -> str:
    """`1-3, 5`"""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs)
