"""The README's animation: `python -m tests.overlay.animation .docs/overlay.gif`.

Six seconds at their own pace, from events as the engine sends them: the end of a straight, slightly ahead of the
reference; a corner, in which the float sinks and its wake stands above it; the next straight, where the number is read
while some of it is won back. Frames share one palette of few colours, so the file is small.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from math import pi, sin
from pathlib import Path

from PIL import Image

from coach.overlay.drawing import Drawing
from coach.overlay.easing import Easing
from coach.overlay.keeper import ViewKeeper
from coach.overlay.look import OPACITY, Look
from coach.overlay.palette import DEFAULT, blend
from coach.overlay.picture import lay, road
from coach.overlay.toolkit import pygame
from coach.vocabulary.events import Delta, Event, Reference, Topic
from tests.planner.made_circuit import Part, braking, drive, lap_trace, leaving, turning

SIZE, SCALE = (640, 340), 0.86
SECONDS, FPS = 6.0, 12.5
_SCENE, _STEPS = 120, 16
"""Colours of the scene, and of each of the overlay's own from the plate on."""
_PARTS = (Part(66, 55.0), braking(36), turning(36), leaving(24), Part(400, 50.0), braking(60), turning(60))
"""A straight of 1.2 s, a corner of 3.1 s, another straight."""
_CORNER = (1.2, 4.0)
"""s: when the road bends"""
_SHARPEST = 1 / 160
"""1/m"""
_LED, _LOST, _WON = 0.12, 0.2, 0.04
"""s ahead at first; s a second lost in the corner's first two seconds, and won back behind it"""
_LOSES, _WINS = (1.3, 3.2), 4.0
_TOPIC_AT = 3.3


def delta(t: float) -> float:
    """s behind the reference at `t` s."""
    lost = _LOST * (min(max(t, _LOSES[0]), _LOSES[1]) - _LOSES[0])
    return -_LED + lost - _WON * max(0.0, t - _WINS)


def events() -> Iterator[Event]:
    """What the engine and the planner send."""
    trace = lap_trace(_PARTS)
    yield Reference(0.0, 1, trace.time[-1], "made", trace)
    for sample, moment in enumerate(drive(trace, 1, 50.0, 0.0)):
        if sample % 5 == 0:
            yield Delta(moment.t, 1, moment.distance or 0.0, delta(moment.t))
        if sample == round(50 * _TOPIC_AT):
            yield Topic(moment.t, 1, "late_throttle")
        yield moment


def frames() -> Iterator[pygame.Surface]:
    """One after the other, at FPS."""
    keeper, easing, drawing = ViewKeeper(Look(spoken=False)), Easing(), Drawing(SCALE, DEFAULT, OPACITY)
    shown, gone, due = 0, 0.0, 1 / FPS
    for event in events():
        while event.t >= due and shown < SECONDS * FPS:
            begin, end = _CORNER
            bend = _SHARPEST * sin(pi * min(max((due - begin) / (end - begin), 0.0), 1.0)) ** 2
            scene = road(SIZE, bend, gone)
            lay(scene, drawing, easing.at(keeper.goal, due))
            yield scene
            shown, due = shown + 1, due + 1 / FPS
            gone += 40.0 / FPS
        keeper.take(event)


def write(file: Path) -> None:
    """Write it as a GIF that repeats."""
    pictures = [Image.frombytes("RGB", SIZE, pygame.image.tobytes(frame, "RGB")) for frame in frames()]
    palette = _palette(pictures)
    few = [one.quantize(palette=palette, dither=Image.Dither.NONE) for one in pictures]
    few[0].save(file, save_all=True, append_images=few[1:], duration=round(1000 / FPS), loop=0, optimize=True)


def _palette(pictures: list[Image.Image]) -> Image.Image:
    """An image that has the colours: of the scene, which is large, and of the overlay, which would get none else."""
    some = Image.new("RGB", (SIZE[0], SIZE[1] * 4))
    for place in range(4):
        some.paste(pictures[place * (len(pictures) - 1) // 3], (0, place * SIZE[1]))
    colours = (some.quantize(_SCENE, Image.Quantize.MEDIANCUT).getpalette() or [])[: 3 * _SCENE]
    for colour in (DEFAULT.ahead, DEFAULT.behind, DEFAULT.plain):
        for step in range(_STEPS):
            colours += blend(DEFAULT.plate, colour, step / (_STEPS - 1))
    palette = Image.new("P", (1, 1))
    palette.putpalette(colours)
    return palette


def main() -> None:
    parsed = argparse.ArgumentParser(prog="python -m tests.overlay.animation", description=__doc__)
    parsed.add_argument("file", type=Path, metavar="OUT.gif")
    file = parsed.parse_args().file
    write(file)
    print(f"{file}: {file.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
