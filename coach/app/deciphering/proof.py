"""Packets read by a layout: what the main channels say, and what does not fit. Pure but for the feed's own counts."""

from __future__ import annotations

from collections.abc import Sequence

from coach.app.checking.dashboard import readings
from coach.app.checking.diagnosis import most
from coach.app.checking.oddities import clock, oddities
from coach.app.console import plain
from coach.app.telling.numbers import counted
from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import Sample
from feeds.base import Datagram
from feeds.counts import Counts
from feeds.layout import Layout, LayoutFeed

REASON = 300
"""characters of a line of what does not fit."""


def proof(layout: Layout, packets: Sequence[Datagram]) -> list[str]:
    """What the layout reads in all of the packets, and each thing that does not fit."""
    feed, unread = LayoutFeed(layout), Counts("packet")
    samples: list[Sample] = []
    times: list[float] = []
    for packet in packets:
        try:
            sample = feed.decode(packet.data, packet.received)
        except FormatError as error:
            unread.add(error.cause)
            continue
        if sample is not None:
            samples.append(sample)
            times.append(packet.received)
    if not samples:
        lines = ["  no packet gave a sample"]
    else:
        read = [f"  {line}" for line in readings(samples)]
        lines = read or [f"  {counted(len(samples), 'sample')}, with none of the main channels"]
    wrong = [sentence for sentence in (clock(times, [sample.t for sample in samples]),) if sentence is not None]
    wrong += oddities(samples)
    wrong += [f"left out {counted(number, 'time')}: {cause}" for cause, number in most(feed.left_out)]
    wrong += [f"{counted(number, 'packet')} passed over: {cause}" for cause, number in most(unread)]
    if not wrong and len(lines) > 1:
        return [*lines, "  all of this agrees with each other"]
    return lines + [f"  - {plain(one, REASON)}" for one in wrong]


def checked(layout: Layout, packets: Sequence[Datagram]) -> list[str]:
    """The same for what comes now."""
    if not packets:
        return ["  nothing came: start the simulator's drive again, and look with cornerword checkup"]
    return proof(layout, packets)
