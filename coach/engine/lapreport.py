"""What is told of an ended lap, held until the source's own time for it is there."""

from __future__ import annotations

from coach.vocabulary.events import Event, Lap
from coach.vocabulary.sample import Sample

SAME = 0.004
"""s: a source's own lap time this near to ours is of the same lap, although it came before the line or is the same as
the last one (design: a check within 4 ms)."""
WAIT = 0.25
"""s after the line within which a source's own lap time may come."""


class LapReport:
    """Holds a lap's events back for at most `WAIT`; a source without lap times delays nothing."""

    def __init__(self, own: float | None) -> None:
        """`own`: the source's `last_lap_time` now, s."""
        self._own = own
        self._held: list[Event] = []
        self._since = 0.0

    def hold(self, events: list[Event], ended: float) -> None:
        """The events of a lap that ended at `ended` s."""
        self._held += events
        self._since = ended

    def behind(self, events: list[Event]) -> list[Event]:
        """Events that come after a lap's own: kept with them as long as those are held, else given back."""
        if not self._held:
            return events
        self._held += events
        return []

    def release(self, sample: Sample) -> list[Event]:
        """The held events at `sample`, if they need not wait any longer; decided then."""
        own, before = sample.last_lap_time, self._own
        if own is not None:
            self._own = own
        if not self._held:
            return []
        told = own is not None and own != before and own > 0.0
        if not told and own is not None and sample.t - self._since < WAIT:
            return []
        held = self._take(own, told)
        for event in held:
            event.t = sample.t
        return held

    def cut_short(self, own: float | None, t: float) -> list[Event]:
        """A new run begins, with `own` as the source's last lap time, or the stream ended at `t` s: what is held."""
        held = self._take(own, told=False)
        for event in held:
            event.t = t
        self._own = own
        return held

    @property
    def own(self) -> float | None:
        """s: the source's last lap time as last sent."""
        return self._own

    def _take(self, own: float | None, told: bool) -> list[Event]:
        held, self._held = self._held, []
        for event in held:
            if isinstance(event, Lap) and own is not None:
                same = event.time is not None and abs(own - event.time) <= SAME
                event.source_time = own if told or same else None
        return held
