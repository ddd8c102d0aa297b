"""A packet capture, read as a recording without a head."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from coach.vocabulary.errors import FormatError
from feeds.capture import Captured, Traffic, captured, survey
from feeds.paths import on_one_line
from feeds.recording.lines import Item
from feeds.recording.reader import Progress, Recording, unreadable
from feeds.recording.zipped import Hole

_NAMED = 5
"""ports that a message names."""


class CapturedRecording(Recording):
    """The datagrams of a capture that one computer sent to one port. `received` is the capture's time."""

    def __init__(self, path: Path, port: int | None = None) -> None:
        """`port` None: the busiest. FormatError where nothing went there; may take long, since all is read."""
        super().__init__(path, None, is_recording=False)
        try:
            with path.open("rb") as file:
                traffic = survey(file)
        except OSError as error:
            raise unreadable(path, error) from None
        chosen = traffic.busiest() if port is None else port
        if chosen is None or chosen not in traffic.counts:
            raise FormatError(_nothing(path, port, traffic), "no datagrams")
        self.port = chosen
        self.sender = traffic.host(chosen)
        """the address that sent most to that port; what others sent is left out"""
        others = (
            f", one of {len(traffic.counts)} ports in it; --port chooses another" if len(traffic.counts) > 1 else ""
        )
        self.headless = (
            f"{on_one_line(path)} is a capture, without a head: reading the datagrams from {self.sender} to port "
            f"{chosen}{others}"
        )

    def __iter__(self) -> Iterator[Item]:
        state, found = Progress(), Captured()
        try:
            with self.path.open("rb") as file:
                self._reading = file
                yield from state.watch(captured(file, self.port, self.sender, found))
        except OSError as error:
            raise unreadable(self.path, error) from None
        if found.broken is not None:
            state.skip(Hole(found.broken.cut))
        state.left_out = found.drops.by_cause()
        self._note(state)


def _nothing(path: Path, port: int | None, traffic: Traffic) -> str:
    name = on_one_line(path)
    if not traffic.counts:
        unknown = ", ".join(map(str, sorted(traffic.links)[:_NAMED]))
        why = f", and frames of link type {unknown}, which is not known here" if unknown else ""
        return f"{name} is a capture with no UDP datagram in it{why}: capture the simulator's port again"
    ports = sorted(traffic.counts, key=lambda number: -traffic.counts[number])
    named = ", ".join(f"{number} ({traffic.counts[number]})" for number in ports[:_NAMED])
    more = " and others" if len(ports) > _NAMED else ""
    where = "to a port that telemetry may go to" if port is None else f"to port {port}"
    return f"{name} holds no datagram {where}: give the --port of one of these, with its datagrams: {named}{more}"
