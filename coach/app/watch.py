"""What to tell a person of a live stream: that it began, that it does not come, that it went and came back."""

from __future__ import annotations

from coach.app.console import plain
from coach.vocabulary.sample import Sample

SILENT_START = 10.0
"""s after which a stream that never began is worth a line."""
SILENT = 2.0
"""s without a sample after which a stream that ran is called lost."""


class Watch:
    """Follows the samples' arrival by a clock that its caller reads; each method returns the lines to say."""

    def __init__(self, now: float, where: str, feed: str) -> None:
        self._where, self._feed = where, feed
        self._since = now
        self._heard: float | None = None
        self._sender = ""
        self._told = False

    def sample(self, now: float, sample: Sample, sender: str) -> list[str]:
        """A sample came."""
        silent, lines = self._heard, []
        self._heard = now
        if silent is None:
            track = "a track without a name" if sample.track is None else plain(sample.track)
            car = "a car without a name" if sample.car is None else plain(sample.car)
            lines.append(f"telemetry from {sender}: {track}, {car}")
        elif sender != self._sender:
            waited = now - silent
            why = f"after {waited:.0f} s of silence from" if waited >= SILENT else "in place of"
            lines.append(f"telemetry from {sender} now, {why} {self._sender}")
        elif self._told:
            lines.append(f"telemetry is back after {now - silent:.0f} s")
        self._sender = sender
        self._told = False
        return lines

    def tick(self, now: float, dropped: int) -> list[str]:
        """Nothing waits to be read; `dropped` datagrams could not be used so far."""
        if self._told:
            return []
        if self._heard is None:
            if now - self._since < SILENT_START:
                return []
            self._told = True
            if dropped:
                return [f'datagrams come, but none that the feed "{self._feed}" can read: choose another with --feed']
            mend = f"set the simulator to send its telemetry by UDP to {self._where}, and look for a firewall"
            return [f"no telemetry for {SILENT_START:.0f} s: {mend}"]
        if now - self._heard < SILENT:
            return []
        self._told = True
        return [f"telemetry lost: nothing for {SILENT:.0f} s; waiting for it to come back"]
