"""Axes in words: where each of a vector's three numbers points, and what that makes of them in ISO 8855.

Of the body, ISO 8855 has x forward, y left, z up. Of the world it has z up and a right-handed frame; its x is here
called east and its y north, as on a map, so that yaw counts from east to north.
"""

from __future__ import annotations

import math
from typing import NamedTuple

BODY = ("forward", "backward", "left", "right", "up", "down")
"""Directions of the car, each beside its opposite, the positive of x, y, z first."""
WORLD = ("east", "west", "north", "south", "up", "down")
"""Directions of the world, in the same order."""

PRESETS = {
    "z-up right-handed": ("forward left up", "east north up"),
    "z-up left-handed": ("forward right up", "east south up"),
    "z-down right-handed": ("forward right down", "east south down"),
    "z-down left-handed": ("forward left down", "east north down"),
    "y-up left-handed": ("right up forward", "east up north"),
    "y-up right-handed": ("right up backward", "east up south"),
}
"""The customary frames by their names: what they are of the car and of the world. The first is ISO 8855, the third
that of SAE J670; a frame with y up has x to the right (common practice)."""

ZERO = {"east": 0.0, "north": math.pi / 2, "west": math.pi, "south": -math.pi / 2}
"""rad, the yaw of a car that looks that way."""


class Axis(NamedTuple):
    """Which of the three numbers, from 0, an axis of ISO 8855 is, and its sign."""

    place: int
    sign: float


class Axes(NamedTuple):
    """x, y, z of three numbers; `is_world`: they are of the world, not of the car."""

    x: Axis
    y: Axis
    z: Axis
    is_world: bool


ISO_BODY = "forward left up"
ISO_WORLD = "east north up"


def axes_of(words: str, is_world: bool | None) -> Axes:
    """The axes that `words` mean: a name of PRESETS, or three directions; `is_world` None: either frame may be meant.

    ValueError with what is wrong and the mend.
    """
    spelled = " ".join(words.split())
    if spelled in PRESETS:
        spelled = PRESETS[spelled][is_world is True]
    named = spelled.split(" ")
    frames = [(BODY, False)] if is_world is False else [(WORLD, True)] if is_world else [(BODY, False), (WORLD, True)]
    for directions, of_world in frames:
        if len(named) == 3 and all(word in directions for word in named):
            places = [directions.index(word) for word in named]
            if sorted(place // 2 for place in places) != [0, 1, 2]:
                raise ValueError(f"{words[:40]!r} has one axis twice: name one direction of each pair of opposites")
            found = {place // 2: Axis(index, 1.0 - 2.0 * (place % 2)) for index, place in enumerate(places)}
            return Axes(found[0], found[1], found[2], of_world)
    known = " or ".join(", ".join(directions) for directions, _ in frames)
    raise ValueError(
        f"{words[:40]!r} are no axes here: write where the three numbers point, of {known}, "
        f"or one of {', '.join(PRESETS)}"
    )
