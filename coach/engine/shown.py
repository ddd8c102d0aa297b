"""What the car has shown of itself so far, whoever judges by it: gears, limit, pull, brakes, road."""

from __future__ import annotations

from coach.engine.brakes import Brakes
from coach.engine.gearing import Gearing
from coach.engine.lap import GridLap
from coach.engine.pull import Pull
from coach.engine.road import Road
from coach.vocabulary.sample import Sample


class Shown:
    """Learns from every sample, and from every whole clean lap. One a session."""

    def __init__(self) -> None:
        self.gearing = Gearing()
        self.pull = Pull()
        self.road = Road()
        self.brakes = Brakes()

    def watch(self, sample: Sample) -> None:
        """Takes one sample in."""
        self.gearing.watch(sample)
        self.pull.watch(sample)
        self.road.watch(sample)
        self.brakes.watch(sample)

    def learn(self, lap: GridLap) -> None:
        """Takes a whole, clean lap in."""
        self.road.learn(lap)
