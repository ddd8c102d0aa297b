"""A picture of the overlay over a road that is drawn here: `python -m coach.overlay.picture OUT.png`."""

from __future__ import annotations

import argparse
from pathlib import Path

from coach.overlay.drawing import Drawing
from coach.overlay.look import OPACITY
from coach.overlay.palette import DEFAULT, Colour, blend
from coach.overlay.scales import number_of, offset_of
from coach.overlay.toolkit import pygame
from coach.overlay.view import View

SIZE = (1280, 640)
AHEAD_ON_A_STRAIGHT = View("driving", offset_of(-0.31), 0.85, 0.0, number_of(-0.31), 1.0, sign="line")
"""What the README shows: three tenths ahead, the number to be read, and the line is worked on."""

_FINE = 2
_HORIZON, _FOCAL, _EYE = 0.5, 0.8, 1.6
"""Share of the height above the horizon; focal length in picture widths; m of the eye above the road."""
_ROAD, _LINE = 11.0, 0.3
"""m: width of the road, and of the lines at its edges."""
_BEND = 1 / 1500
"""1/m: curvature of the road, to the right"""
_FAR = 450.0
"""m to where road and verge are lost in the haze"""
_BAND = 30.0
"""m of verge in one shade"""
_SKY_HIGH: Colour = (122, 146, 170)
_HAZE: Colour = (206, 212, 216)
_TARMAC: Colour = (92, 94, 98)
_EDGE: Colour = (222, 222, 216)
_VERGE: Colour = (158, 150, 124)
_VERGE_DARK: Colour = (146, 138, 113)


def picture(view: View, scale: float = 0.9) -> pygame.Surface:
    """The overlay that shows `view`, top centre over the road."""
    scene = road(SIZE)
    lay(scene, Drawing(scale, DEFAULT, OPACITY), view)
    return scene


def lay(scene: pygame.Surface, drawing: Drawing, view: View) -> None:
    """Lay the overlay over a scene, top centre, as a compositor does: the plate is seen through."""
    plate = pygame.Surface(drawing.size, pygame.SRCALPHA)
    drawing.draw(plate, drawing.frame(view))
    width, height = scene.get_size()
    place = plate.get_rect(midtop=(width // 2, round(0.03 * height)))
    scene.blit(plate, place, special_flags=pygame.BLEND_PREMULTIPLIED)


def road(size: tuple[int, int], bend: float = _BEND, gone: float = 0.0) -> pygame.Surface:
    """Sky, verge and road in perspective, row by row, twice as large and then smoothed. `bend` 1/m, to the right above
    0; `gone` m along the road, which moves the verge's bands."""
    width, height = size[0] * _FINE, size[1] * _FINE
    fine = pygame.Surface((width, height))
    horizon = round(_HORIZON * height)
    for row in range(horizon):
        fine.fill(blend(_SKY_HIGH, _HAZE, (row / horizon) ** 2), (0, row, width, 1))
    for row in range(horizon, height):
        away = _FOCAL * width * _EYE / (row - horizon + 0.5)
        metre = _FOCAL * width / away
        haze = min(1.0, away / _FAR) ** 0.6
        middle = width / 2 + metre * 0.5 * bend * away**2
        verge = _VERGE if int((away + gone) / _BAND) % 2 else _VERGE_DARK
        fine.fill(blend(verge, _HAZE, haze), (0, row, width, 1))
        for half, colour in ((_ROAD / 2, _EDGE), (_ROAD / 2 - _LINE, _TARMAC)):
            left, right = round(middle - half * metre), round(middle + half * metre)
            fine.fill(blend(colour, _HAZE, haze), (left, row, right - left, 1))
    return pygame.transform.smoothscale(fine, size)


def main() -> None:
    parsed = argparse.ArgumentParser(prog="python -m coach.overlay.picture", description=__doc__)
    parsed.add_argument("file", type=Path, metavar="OUT.png")
    file = parsed.parse_args().file
    try:
        pygame.image.save(picture(AHEAD_ON_A_STRAIGHT), str(file))
    except (OSError, pygame.error) as error:
        raise SystemExit(f"{file} cannot be written ({error}): name a .png file in a folder that exists") from error


if __name__ == "__main__":
    main()
