"""What to tell a person of a live stream: that it began, that it does not come, that it went and came back."""

from __future__ import annotations

from dataclasses import dataclass

from coach.app.checking.unheard import NOT_ALLOWED, SILENT_START, nothing_comes
from coach.app.console import plain
from coach.vocabulary.sample import Sample
from feeds.arrival import ArrivalReport

SILENT = 2.0
"""s without a sample after which a stream that ran is called lost."""
UNEVEN = 0.010
"""s of mean jitter from which it is told (choice): over half a step at 60 Hz, and what is heard and seen is late by
about as much. One computer with itself has well under 1 ms."""
LOSSY = 0.005
"""share of samples that did not come from which it is told (choice): one each few seconds; each hides a metre."""
IN_STEP = 0.1
"""The source's clock may run this much faster or slower than ours (choice); else it is no live stream, and has no
jitter."""
ENOUGH = 600
"""samples under which neither is told: the first seconds are the start's own stalls."""


@dataclass(frozen=True, slots=True)
class Unused:
    """Datagrams that came and gave no sample: that could not be read, of senders that may not send, that were good."""

    unread: int = 0
    refused: int = 0
    unfinished: int = 0


class Watch:
    """Follows the samples' arrival by a clock that its caller reads; each method returns the lines to say."""

    def __init__(self, now: float, where: str, feed: str) -> None:
        """`where` it listens, "address:port"."""
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
        elif self._told or now - silent >= SILENT:  # not told where this computer slept, or was held up, meanwhile
            lines.append(f"telemetry is back after {now - silent:.0f} s")
        self._sender = sender
        self._told = False
        return lines

    def tick(self, now: float, unused: Unused) -> list[str]:
        """Nothing waits to be read; `unused` is what came so far and gave no sample."""
        if self._told:
            return []
        if self._heard is None:
            if now - self._since < SILENT_START:
                return []
            self._told = True
            return [self._missing(unused)]
        if now - self._heard < SILENT:
            return []
        self._told = True
        return [f"telemetry lost: nothing for {SILENT:.0f} s; waiting for it to come back"]

    def _missing(self, unused: Unused) -> str:
        """Why nothing began, and what to check."""
        if unused.unfinished:
            return (
                f'datagrams come, but the feed "{self._feed}" waits for another kind of them before it has a sample: '
                "set the simulator to send all kinds"
            )
        if unused.unread:
            return (
                f'datagrams come, but none that the feed "{self._feed}" can read: choose another with --feed or '
                "--layout"
            )
        if unused.refused:
            return NOT_ALLOWED
        return nothing_comes(self._where)


def way(report: ArrivalReport) -> list[str]:
    """What is worth telling, when all is over, of the way that the datagrams came: nothing where it was good."""
    if report.samples < ENOUGH:
        return []
    found = []
    if report.loss is not None and report.loss >= LOSSY:
        found.append(f"{report.lost} samples ({100.0 * report.loss:.1f} %) were lost on the way")
    if report.pace is not None and abs(report.pace - 1.0) <= IN_STEP and report.mean_jitter >= UNEVEN:
        found.append(f"it came unevenly, with a jitter of {1000.0 * report.mean_jitter:.0f} ms")
    if not found:
        return []
    return [
        f"telemetry: {', and '.join(found)}: a cable in place of a wireless network, or a less busy computer, helps"
    ]
