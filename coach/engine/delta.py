"""The running delta: own time at this distance minus the reference's."""

from __future__ import annotations

from coach.engine.lap import GridLap

EVERY = 0.1
"""s of source time between two delta events (contract: ten a second)."""
HAIR = 1e-6
"""s: sums of tenths and a source's rounded clock differ by less."""


class DeltaClock:
    """Reads the reference's time by distance: one multiplication and two list reads a look."""

    __slots__ = ("_due", "_per_step", "_time", "length", "total")

    def __init__(self, reference: GridLap) -> None:
        self._time: list[float] = reference.time.tolist()
        self._per_step = 1.0 / reference.step
        self.length = reference.length
        self.total = reference.total
        self._due: float | None = None

    def time_at(self, distance: float) -> float:
        """s since the line at `distance` m in the reference lap, interpolated; held at the ends."""
        place = distance * self._per_step
        if place <= 0.0:
            return 0.0
        time = self._time
        index = int(place)
        if index >= len(time) - 1:
            return time[-1]
        low = time[index]
        return low + (time[index + 1] - low) * (place - index)

    def due(self, t: float) -> bool:
        """Whether the next delta event is due at `t` s; ten a second, whatever the source's rate."""
        due = self._due
        if due is not None and due - 2.0 * EVERY < t < due - HAIR:
            return False
        late = due is None or not due - HAIR <= t < due + EVERY
        self._due = (t if late or due is None else due) + EVERY
        return True
