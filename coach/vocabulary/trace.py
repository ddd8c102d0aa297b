"""A lap by distance, as plain lists: what planner and overlay need to know of a reference."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class LapTrace:
    """Channels of one lap on an even grid of distance from 0 to the track's length, both ends included.

    `step` m; `time` s since the line, increasing; `speed` m/s; `throttle` and `brake` 0..1; `lateral` m/s^2, smoothed
    and absolute. Lists are of equal length, `len(time) - 1` steps long.
    """

    length: float
    step: float
    time: list[float]
    speed: list[float]
    throttle: list[float]
    brake: list[float]
    lateral: list[float]

    def at(self, channel: list[float], distance: float) -> float:
        """The channel's value at `distance` (m, any lap), by linear interpolation; wraps at the line."""
        place = (distance % self.length) / self.step
        index = min(int(place), len(channel) - 2)
        part = place - index
        return channel[index] + (channel[index + 1] - channel[index]) * part
