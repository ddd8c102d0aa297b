"""No flashing: counted over rendered frames of a drive.

WCAG 2.2, 2.3.1: no more than three flashes in any second; a flash is a pair of opposing changes of relative luminance
by 10 % of the maximum or more, the darker of them under 0.80. It only counts large areas; here each block of 8 x 8
pixels counts, wherever a car can drive, and the whole plate whatever comes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from random import Random

import numpy as np
import numpy.typing as npt
import pytest

from coach.overlay.drawing import Drawing
from coach.overlay.easing import Easing
from coach.overlay.keeper import ViewKeeper
from coach.overlay.look import Look
from coach.overlay.toolkit import pygame
from coach.vocabulary.actions import MARK
from coach.vocabulary.events import Action, Cue, Delta, Event, Reference, Run, Stream, Topic
from coach.vocabulary.faults import FAULTS
from tests.overlay.light import luminance
from tests.planner.made_circuit import drive, lap_trace

SPOKEN = Look()
MUTE = Look(spoken=False, words={"late_throttle": "Throttle sooner", "early_braking": "Brake later"})
LOOKS = {
    "spoken": SPOKEN,
    "mute": MUTE,
    "no text": replace(MUTE, text=False),
    "times hidden": replace(MUTE, times=False),
}
FPS = 30
BLOCK = 8
CHANGE, DARK = 0.1, 0.8
Light = npt.NDArray[np.float64]


def rendered(events: list[Event], block: int, look: Look = SPOKEN) -> Iterator[Light]:
    """The mean luminance of each block of each frame."""
    keeper, easing, drawing = ViewKeeper(look), Easing(), Drawing()
    surface = pygame.Surface(drawing.size)
    width, height = (size // block * block for size in drawing.size)
    before, light = None, np.zeros(1)
    due = events[0].t
    for event in events:
        while event.t > due:
            frame = drawing.frame(easing.at(keeper.goal, due))
            if frame != before:
                drawing.draw(surface, frame)
                pixels = luminance(pygame.surfarray.array3d(surface)[:width, :height])
                light = pixels.reshape(width // block, block, height // block, block).mean(axis=(1, 3)).ravel()
                before = frame
            yield light
            due += 1 / FPS
        keeper.take(event)


def most_flashes(frames: list[Light]) -> int:
    """The most flashes of any block in any second."""
    high, low = frames[0].copy(), frames[0].copy()
    turned: list[npt.NDArray[np.int8]] = []
    way = np.zeros(frames[0].shape, np.int8)
    for light in frames:
        high, low = np.maximum(high, light), np.minimum(low, light)
        up = (light - low >= CHANGE) & (low < DARK) & (way != 1)
        down = (high - light >= CHANGE) & (light < DARK) & (way != -1)
        way = np.where(up, 1, np.where(down, -1, way)).astype(np.int8)
        high, low = np.where(up | down, light, high), np.where(up | down, light, low)
        turned.append((up | down).astype(np.int8))
    changes = np.cumsum(turned, axis=0)
    second = changes[FPS:] - changes[:-FPS]
    return int(second.max()) // 2


def driven(chance: Random) -> list[Event]:
    """A lap with a delta that changes as quickly as a car can change it, about nothing, and with breaks of the stream
    of two to four seconds, as the shortest that are told. Cues, a press or another topic may come with any tenth."""
    trace, delta, rate = lap_trace(), 0.0, 0.0
    events: list[Event] = [Reference(100.0, 1, trace.time[-1], "made", trace)]
    events.insert(0, Run(100.0, 0, "0", "generic", None, None, None, "made"))
    quiet, back, what = 103.0, 0.0, ""
    for sample, moment in enumerate(drive(trace, 1, 60.0)):
        if what and moment.t < back:
            continue
        if what:
            events.append(Stream(moment.t, 1, "back" if what == "lost" else what, quiet, moment.t))
            what, quiet = "", moment.t + 1.0
        if sample % 6 == 0:
            rate = chance.choice([rate, rate, chance.gauss(0.0, 0.1), chance.uniform(-0.5, 1.0) - delta])
            delta += rate / 10
            events.append(Delta(moment.t, moment.lap, moment.distance or 0.0, delta))
            if chance.random() < 0.1:
                about = chance.choice(["late_throttle", "early_braking"])
                begins = moment.t + chance.uniform(0.0, 1.0)
                told = (True, begins, begins + chance.uniform(0.5, 1.5), None, None)
                events.append(Cue(moment.t, 1, "correction", about, (), 1, "text", *told))
            if chance.random() < 0.1:
                events += [Action(moment.t, 1, MARK)] * chance.randint(1, 3)
            if chance.random() < 0.02:
                events.append(Topic(moment.t, 1, chance.choice([None, *FAULTS])))
        events.append(moment)
        if moment.t >= quiet and chance.random() < 0.01:
            what, back, quiet = chance.choice(["lost", "pit", "pause"]), moment.t + chance.uniform(2.0, 4.0), moment.t
            events.append(Stream(moment.t, 1, what, moment.t, None))
    return events


@pytest.mark.parametrize("name", LOOKS)
@pytest.mark.parametrize("number", range(2))
def test_no_block_flashes_over_three_times_a_second_in_a_drive(number: int, name: str) -> None:
    frames = list(rendered(driven(Random(number)), BLOCK, LOOKS[name]))
    assert len(frames) > 30 * FPS
    assert np.ptp(frames, axis=0).max() > 0.15, "something moved"
    assert most_flashes(frames) <= 3


@pytest.mark.parametrize("period", [1, 2, 3, 5])
def test_the_plate_never_flashes_whatever_the_deltas(period: int) -> None:
    """Deltas that no car can have: three seconds to and fro within some tenths."""
    events: list[Event] = []
    for moment in drive(lap_trace(), 0.2, 60.0):
        tenth = round((moment.t - 100.0) * 10)
        events.append(Delta(moment.t, 1, 0.0, 3.0 if tenth // period % 2 else -3.0))
        events.append(moment)
    frames = [light.mean() for light in rendered(events, BLOCK)]
    assert max(frames) - min(frames) > 0.001
    assert max(frames) - min(frames) < CHANGE


def test_the_count_sees_a_flash() -> None:
    lamp = [np.array([0.5 if frame // 3 % 2 else 0.0]) for frame in range(3 * FPS)]
    assert most_flashes(lamp) == 5
    calm = [np.array([0.5 if frame // 15 % 2 else 0.0]) for frame in range(3 * FPS)]
    assert most_flashes(calm) == 1
    faint = [np.array([0.09 if frame // 3 % 2 else 0.0]) for frame in range(3 * FPS)]
    assert most_flashes(faint) == 0
