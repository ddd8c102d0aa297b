"""What keeps a lap from being clean while it is driven: off the road, a spin, the pits, standing still."""

from __future__ import annotations

from math import atan2, hypot

from coach.vocabulary.sample import Sample

CAR_WIDTH = 1.9
"""m, overall, where the source does not say (contract)."""
OFF_TRACK_TIME = 0.1
"""s: the whole car beyond the edge for this long is off the track (contract, `off_track`)."""
SPIN_ANGLE = 1.2
"""rad between where the car points and where it goes: far beyond any slide that is still steered (choice)."""
SPIN_SPEED = 4.0
"""m/s: below this the angle of travel says nothing."""
STANDING = 1.0
"""m/s"""
INVALID_TIME = 2.0
"""s behind the line after which `lap_valid` is no longer the last lap's, told late, but means this lap."""

WHY_NOT = (
    "off_track",
    "cut",
    "pit",
    "gap",
    "reset",
    "standing_start",
    "out_lap",
    "in_lap",
    "spin",
    "paused",
)
"""The contract's reasons, in its order."""


class Conduct:
    """Collects the reasons against the running lap. One instance serves all laps; `turn_over` begins the next."""

    __slots__ = ("_carried_since", "_invalid", "_off_since", "flying", "in_pit", "off", "stood_at", "why")

    def __init__(self) -> None:
        self.why: set[str] = set()
        self.in_pit = False
        self.off = False
        """the whole car is beyond the edge now"""
        self.flying = True
        """neither began from standing nor came from the pits; a stop on the way takes no mark from it but its time"""
        self.stood_at: float | None = None
        """m driven by the odometer of the lap keeper when the car last stood still"""
        self._off_since: float | None = None
        self._invalid = False
        self._carried_since: float | None = None
        """s: when the line was crossed with a lap called invalid, as long as that is not taken back"""

    def watch(self, sample: Sample, odometer: float) -> None:
        """Takes one sample in; `odometer` m, any origin, only differences count."""
        self._watch_edges(sample)
        if sample.lap_valid is not None:
            self._watch_validity(sample.t, not sample.lap_valid)
        if sample.in_pit is not None:
            if sample.in_pit:
                self.why.add("pit")
                if not self.in_pit:
                    self.why.add("in_lap")
            elif self.in_pit:
                self.why.add("out_lap")
                self.flying = False
            self.in_pit = sample.in_pit
        if sample.speed is not None and sample.speed < STANDING:
            self.stood_at = odometer
            self.why.add("standing_start")
        if self._slip_angle(sample) > SPIN_ANGLE:
            self.why.add("spin")

    def _watch_edges(self, sample: Sample) -> None:
        half = half_width(sample)
        beyond = sample.on_track is False
        for edge in (sample.edge_left, sample.edge_right):
            if edge is not None and edge < -half:
                beyond = True
        if not beyond:
            self._off_since = None
            self.off = False
        elif self._off_since is None:
            self._off_since = sample.t
        elif sample.t - self._off_since >= OFF_TRACK_TIME:
            self.off = True
            self.why.add("off_track")

    def _watch_validity(self, t: float, invalid: bool) -> None:
        counts = invalid and not self._invalid
        if not invalid:
            self._carried_since = None
        elif self._carried_since is not None and t - self._carried_since >= INVALID_TIME:
            self._carried_since = None
            counts = True
        if counts and "off_track" not in self.why:
            self.why.add("cut")
        self._invalid = invalid

    def _slip_angle(self, sample: Sample) -> float:
        """rad, absolute: from the body-frame velocity."""
        vx, vy = sample.vx, sample.vy
        if vx is None or vy is None or hypot(vx, vy) < SPIN_SPEED or sample.gear == -1:
            return 0.0
        if vx >= abs(vy):
            return 0.0  # under 45 degrees, without the cost of an arc tangent
        return abs(atan2(vy, vx))

    def turn_over(self, t: float, odometer: float, recently: float) -> None:
        """The line was crossed at `t` s: what still holds goes over into the next lap.

        A car that stood within the last `recently` m has started this lap from standing.
        """
        self.why = set()
        if self.in_pit:
            self.why |= {"pit", "out_lap"}
        if self.stood_at is not None and odometer - self.stood_at < recently:
            self.why.add("standing_start")
        self.flying = not self.why
        if self.off:
            self.why.add("off_track")
        self._carried_since = t if self._invalid else None


def half_width(sample: Sample) -> float:
    """m: half the car's width; further beyond an edge the whole car is off (contract, `off_track`)."""
    return 0.5 * (sample.car_width if sample.car_width is not None else CAR_WIDTH)
