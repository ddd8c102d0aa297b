"""How far apart two colours are for those who see fewer: a model small enough to check a choice of colours with.

Deficiencies in full, by Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision
deficiency", IEEE TVCG 15(6), 2009: their matrices for severity 1.0, on linear sRGB. Distances in Oklab (Ottosson 2020),
times 100. The tests hold it against colorspacious and CAM02-UCS.
"""

from __future__ import annotations

from math import cbrt, dist
from typing import Final

from coach.overlay.luminance import linear
from coach.overlay.palette import Colour

Vector = tuple[float, float, float]
Matrix = tuple[Vector, Vector, Vector]

DEFICIENCIES: Final[dict[str, Matrix]] = {
    "protan": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deutan": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
    "tritan": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)),
}
_NORMAL: Matrix = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
_CONES: Matrix = (
    (0.4122214708, 0.5363325363, 0.0514459929),
    (0.2119034982, 0.6806995451, 0.1073969566),
    (0.0883024619, 0.2817188376, 0.6299787005),
)
_OKLAB: Matrix = (
    (0.2104542553, 0.7936177850, -0.0040720468),
    (1.9779984951, -2.4285922050, 0.4505937099),
    (0.0259040371, 0.7827717662, -0.8086757660),
)


def least_distance(one: Colour, other: Colour) -> tuple[float, str]:
    """The least distance of the two for any colour vision (0 the same, 100 black and white), and whose it is."""
    visions = {"full colour": _NORMAL, **DEFICIENCIES}
    return min((dist(_seen(one, vision), _seen(other, vision)) * 100.0, name) for name, vision in visions.items())


def _seen(colour: Colour, vision: Matrix) -> Vector:
    """In Oklab, as it is seen."""
    red, green, blue = (min(1.0, max(0.0, light)) for light in _times(vision, linear(colour)))
    long, middle, short = _times(_CONES, (red, green, blue))
    return _times(_OKLAB, (cbrt(long), cbrt(middle), cbrt(short)))


def _times(matrix: Matrix, vector: Vector) -> Vector:
    first, second, third = (sum(a * b for a, b in zip(row, vector, strict=True)) for row in matrix)
    return first, second, third
