"""Finds the car on the lap, by whatever the source has, and changes the way where that stops."""

from __future__ import annotations

from coach.engine.path import ClosedPath
from coach.engine.position import ByPath, Fix, Locator, Survey, choose
from coach.vocabulary.sample import Sample

RELOCATE = 1.0
"""s without a place before another way of finding it is tried."""
ELSEWHERE = 5.0
"""s of positions that were never near a path before it is taken for another circuit's."""


class Whereabouts:
    """Holds the locator in use."""

    def __init__(self) -> None:
        self._locator: Locator | None = None
        self._lost_since: float | None = None
        self._placed = False
        self._path: ClosedPath | None = None
        self.changed = False
        """the last `locate` went over to another way, which measures anew"""

    def know_path(self, path: ClosedPath | None) -> None:
        """A path to project onto, from a lap that is known now; ends a survey."""
        self._path = path
        if path is not None and isinstance(self._locator, Survey):
            self._locator = ByPath(path)

    def locate(self, sample: Sample) -> Fix | None:
        """Where on the lap the sample is; None where it cannot be told now."""
        self.changed = False
        if self._locator is None or (isinstance(self._locator, Survey) and sample.lap_distance is not None):
            self._locator = choose(sample, self._path)
        fix = None if self._locator is None else self._locator.locate(sample)
        if fix is not None:
            self._lost_since, self._placed = None, True
        elif self._lost_since is None:
            self._lost_since = sample.t
        elif sample.t - self._lost_since > RELOCATE and not isinstance(self._locator, Survey):
            other = choose(sample, self._path)
            if other is not None and type(other) is not type(self._locator):
                self._locator, self.changed = other, True
        return fix

    def elsewhere(self, t: float) -> bool:
        """Whether by `t` s the path never fitted: only it tells then that it is of another circuit."""
        since = self._lost_since
        return not self._placed and isinstance(self._locator, ByPath) and since is not None and t - since >= ELSEWHERE

    def survey(self) -> None:
        """The path is of another circuit: begin with a survey of this one."""
        self._path, self._locator, self._lost_since = None, Survey(), None

    def jumped(self) -> None:
        """The position made a jump: the car may be anywhere."""
        if self._locator is not None:
            self._locator.jumped()

    def gap(self) -> None:
        """Nothing was heard for a while; on a path the car is looked for anew, as another stretch may be nearer now."""
        if isinstance(self._locator, ByPath):
            self._locator.jumped()
