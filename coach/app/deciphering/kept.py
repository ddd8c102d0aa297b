"""The packets of a finding: in memory to be looked at, and in a recording so that it can be done again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from coach.app.console import Console
from coach.vocabulary.errors import WorkError
from feeds.base import Datagram
from feeds.recording import RecordingWriter

MOST = 256 * 1024 * 1024
"""bytes of packets that are held: a quarter of an hour of a fast stream of large ones."""


@dataclass(slots=True)
class Kept:
    """The source's packets so far, in memory and in the recording; a disk that fails ends the recording alone."""

    path: Path
    recorder: RecordingWriter
    console: Console
    packets: list[Datagram] = field(default_factory=list)
    bytes: int = 0
    recording: bool = True

    @property
    def is_full(self) -> bool:
        """Whether no more can be held."""
        return self.bytes >= MOST

    def take(self, packet: Datagram) -> None:
        """Keep one."""
        if self.is_full:
            return
        self.packets.append(packet)
        self.bytes += len(packet.data)
        self._record(lambda: self.recorder.datagram(packet.received, packet.data))

    def mark(self, now: float, action: str) -> None:
        """Keep where a step begins or ends."""
        self._record(lambda: self.recorder.action(now, action))

    def tick(self, now: float) -> None:
        """Let what waits get to the disk."""
        self._record(lambda: self.recorder.tick(now))

    def close(self, now: float) -> None:
        """Close the recording in good order; may be called again."""
        self._record(lambda: self.recorder.close(now))

    def _record(self, write: Callable[[], None]) -> None:
        if not self.recording:
            return
        try:
            write()
        except WorkError as error:
            self.recording = False
            self.console.say(f"{error}; going on without it")
