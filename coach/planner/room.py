"""Whether there is room to speak now: what the driver does, where the reference is quiet, and until when."""

from __future__ import annotations

from dataclasses import dataclass

from coach.planner import rules
from coach.planner.corners import CornerPlaces
from coach.planner.driver import Driver
from coach.planner.habit import Habit
from coach.planner.windows import Stretch, Windows, usable
from coach.vocabulary.events import CornerMark, Moment
from coach.vocabulary.trace import LapTrace

NEAR = 50.0
"""m by which a quiet stretch may end behind the brake point that it leads to: the map takes it from other laps than the
trace (choice)."""


@dataclass(frozen=True, slots=True)
class Opening:
    """Room to speak, at `place` (m from the line) on the quiet stretch of that index.

    `settled`: whether what was found in the last corner must have come. `since`: s, when room opened on this stretch;
    `deadline`: s, predicted, when the stretch ends.
    """

    stretch: int
    place: float
    settled: bool
    since: float
    deadline: float


@dataclass(frozen=True, slots=True)
class Approach:
    """The straight before a corner, or before the linked run that it is in: the index of its stretch, and `brake`,
    m from the line where that run's braking begins."""

    stretch: int
    brake: float


class Room:
    """Fed traces, corner marks and one Moment a sample; `opening` says whether something may start at this sample."""

    def __init__(self, earliest: float) -> None:
        self._earliest = earliest
        self._reference: LapTrace | None = None
        self._mapped: LapTrace | None = None
        self._marks: tuple[CornerMark, ...] = ()
        self._driver = Driver()
        self._habit = Habit()
        self._stretch: Stretch | None = None
        self._since: float | None = None
        self._cornered: float | None = None
        self._distance: float | None = None
        self._speed: float | None = None
        self.windows: Windows | None = None
        self.corners = CornerPlaces((), 1.0)

    def know_reference(self, trace: LapTrace) -> None:
        """From now on the reference says where it is quiet."""
        self._reference = trace
        self._rebuild()

    def know_corners(self, marks: tuple[CornerMark, ...], trace: LapTrace) -> None:
        """The circuit's map; its own lap says where it is quiet as long as there is no reference."""
        self._marks, self._mapped = marks, trace
        self._rebuild()

    def forget_circuit(self) -> None:
        """Another circuit or car: neither reference nor map hold."""
        self._reference, self._mapped, self._marks = None, None, ()
        self._rebuild()

    def forget_driver(self) -> None:
        """The car was moved, or the stream jumped."""
        self._driver.reset()
        self._habit.reset()
        self._stretch, self._since, self._cornered, self._distance = None, None, None, None

    def update(self, moment: Moment) -> None:
        """Take one sample."""
        windows, driver = self.windows, self._driver
        driver.update(moment, None if windows is None else windows.bound)
        self._distance, self._speed = moment.distance, moment.speed
        if windows is None or moment.distance is None:
            self._since = None
            return
        stretch = windows.at(moment.distance)
        self._habit.update(stretch, moment.distance, driver.full, driver.full_since is not None)
        if stretch is not self._stretch:
            self._stretch, self._since = stretch, None
        open_now = stretch is not None and driver.full_since is not None
        if open_now and self.corners.inside(moment.distance):
            self._cornered, open_now = moment.t, False
        if not open_now or driver.calm_since is None:
            self._since = None
        elif self._since is None:
            self._since = moment.t

    def opening(self, moment: Moment) -> Opening | None:
        """The room at the sample last taken, None where nothing may start."""
        windows, driver, stretch, since = self.windows, self._driver, self._stretch, self._since
        if windows is None or stretch is None or since is None or moment.distance is None or not driver.full:
            return None
        if driver.full_since is None or moment.t - driver.full_since < self._earliest - rules.ROUNDING:
            return None
        if driver.calm_since is None or moment.t - driver.calm_since < rules.CALM - rules.ROUNDING:
            return None
        end = self._habit.end(stretch, moment.distance, windows.length)
        left = windows.seconds(moment.distance, end) * _pace(windows.speed(moment.distance), moment.speed)
        settled = self._cornered is None or moment.t - self._cornered >= rules.SETTLE - rules.ROUNDING
        return Opening(stretch.index, moment.distance, settled, since, moment.t + left)

    def approach(self, corner: int) -> Approach | None:
        """Where something may be said before this corner; None where that is not known."""
        windows = self.windows
        brake = self.corners.brake(self.corners.opener(corner))
        if windows is None or brake is None or not windows.stretches:
            return None
        last = min(windows.stretches, key=lambda stretch: (brake - stretch.end + NEAR) % windows.length)
        return Approach(last.index, brake)

    def seconds_to(self, place: float) -> float | None:
        """s from here to that place (m from the line), predicted; None where the car's own is not known."""
        if self.windows is None or self._distance is None:
            return None
        pace = _pace(self.windows.speed(self._distance), self._speed)
        return self.windows.seconds(self._distance, place) * pace

    def reference_speed(self) -> float | None:
        """m/s of the reference here; None where that is not known."""
        return None if self.windows is None or self._distance is None else self.windows.speed(self._distance)

    def stretch_index(self) -> int | None:
        """The quiet stretch that the car is on, as far as is known."""
        return None if self._stretch is None else self._stretch.index

    def _rebuild(self) -> None:
        traces = (trace for trace in (self._reference, self._mapped) if trace is not None and usable(trace))
        trace = next(traces, None)
        self.corners = CornerPlaces(self._marks, 1.0 if trace is None else trace.length)
        if self.windows is not None and self.windows.trace is trace:
            return
        self.windows = None if trace is None else Windows(trace)
        self._habit = Habit()
        self._stretch = None
        if self.windows is not None and self._distance is not None:
            self._stretch = self.windows.at(self._distance)
        if self._stretch is None:
            self._since = None


def _pace(reference: float, driver: float | None) -> float:
    """Share of the reference's time to the deadline that is counted on, from the speeds (m/s) here: a quicker car is
    there sooner, but a slower one is not trusted to be later, for it may brake sooner."""
    if driver is None or driver <= 0:
        return 1.0
    return min(1.0, max(0.0, reference) / driver)
