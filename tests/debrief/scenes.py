"""Pictures to try: a round circuit driven to the left, on which every place is known by its angle."""

from __future__ import annotations

from math import cos, pi, sin
from xml.etree import ElementTree

from coach.debrief.road import Piece
from coach.debrief.trackmap import Scene, Side, Utterance
from coach.vocabulary.events import CornerMark
from coach.vocabulary.trace import LapTrace

RADIUS = 400.0
LENGTH = 2 * pi * RADIUS
SVG = "{http://www.w3.org/2000/svg}"
Point = tuple[float, float]


def driven(start: float, end: float, radius: float = RADIUS, position: bool = True) -> Piece:
    """Metre by metre from place `start` to `end` (m), over the line where `end` lies behind it."""
    along = [start + step * (end - start) / 400 for step in range(401)]
    places = [place % LENGTH for place in along]
    if not position:
        nowhere = [float("nan")] * len(places)
        return Piece(places, nowhere, nowhere)
    angles = [place / RADIUS for place in places]
    return Piece(places, [radius * cos(angle) for angle in angles], [radius * sin(angle) for angle in angles])


def lap(position: bool = True) -> Piece:
    return driven(0.0, LENGTH - 1e-6, position=position)


def said(number: int, start: float, end: float, text: str = "Brake later", lap: int = 1, corner: int = 2) -> Utterance:
    return Utterance(number, lap, corner, text, driven(start, end))


def mark(corner: int, apex: float) -> CornerMark:
    return CornerMark(corner, "left", apex - 100.0, apex - 50.0, apex, apex + 50.0, (apex,))


def reference() -> LapTrace:
    """Brakes from 500 to 600 m, lifts from there to 650 m, else full throttle."""
    step = LENGTH / 2000
    at = [index * step for index in range(2001)]
    brake = [1.0 if 500.0 <= place < 600.0 else 0.0 for place in at]
    throttle = [0.0 if 500.0 <= place < 650.0 else 1.0 for place in at]
    still = [0.0] * len(at)
    return LapTrace(LENGTH, step, [place / 50.0 for place in at], [50.0] * len(at), throttle, brake, still)


def scene(*first: Utterance, second: tuple[Utterance, ...] = (), outline: Piece | None = None) -> Scene:
    sides = (Side("A Own", first), Side("B Other", second))
    corners = [mark(1, 700.0), mark(2, 1500.0)]
    return Scene("A Own | B Other", "all laps", outline or lap(), sides, corners, reference())


def parsed(text: str) -> ElementTree.Element:
    return ElementTree.fromstring(text)


def points(d: str) -> list[Point]:
    pairs = [pair.split() for pair in d.removeprefix("M").removesuffix("Z").split("L")]
    return [(float(x), float(y)) for x, y in pairs]


def paths(root: ElementTree.Element, group: str, name: str = "class") -> list[list[Point]]:
    """The lines directly in the groups whose `name` is `group`."""
    found = [g for g in root.iter(f"{SVG}g") if g.get(name) == group]
    return [points(path.get("d", "")) for g in found for path in g.findall(f"{SVG}path")]


def boxes(root: ElementTree.Element) -> list[tuple[float, float, float, float]]:
    """Left, top, right, bottom of the boxes with words."""
    found = []
    for rect in root.iter(f"{SVG}rect"):
        if rect.get("class") == "box":
            x, y, width, height = (float(rect.get(key, "nan")) for key in ("x", "y", "width", "height"))
            found.append((x, y, x + width, y + height))
    return found


def texts(root: ElementTree.Element) -> list[str]:
    return [text.text or "" for text in root.iter(f"{SVG}text")]
