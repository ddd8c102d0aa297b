"""Finds the layout of unknown packets by physics: bytes, receive times and guided steps in, a proposal out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from feeds.base import Datagram
from feeds.finder.body import find_body
from feeds.finder.clock import find_clock
from feeds.finder.confirm import confirm_pedals
from feeds.finder.controls import find_controls
from feeds.finder.evidence import Evidence, gathered
from feeds.finder.fields import Field
from feeds.finder.kinds import closing, records
from feeds.finder.laps import find_laps
from feeds.finder.motion import find_motion
from feeds.finder.powertrain import find_powertrain
from feeds.finder.proposal import KindOf, Proposal
from feeds.finder.steps import Step

LOOKED_FOR = (
    *("t", "speed", "engine_speed", "gear", "throttle", "brake", "clutch", "steer", "x", "y", "lap_distance", "lap"),
    *("lap_time", "last_lap_time", "yaw", "yaw_rate", "ax", "ay"),
)
"""Channels that the finder can tell."""


def find(packets: Sequence[Datagram], steps: Sequence[Step] = ()) -> Proposal:
    """The layout that the packets' physics shows. Never raises for what the packets hold.

    With the guided steps it tells pedals, wheel and left from right; without them little, and nothing wrong.
    """
    with np.errstate(all="ignore"):  # most readings of most bytes are nonsense, and overflow
        return _found(packets, steps)


def _found(packets: Sequence[Datagram], steps: Sequence[Step]) -> Proposal:
    kept = records(packets)
    if not kept:
        return Proposal([], dict.fromkeys(LOOKED_FOR, "too few packets of one length came"), [])
    evidence = gathered(kept, steps)
    find_clock(evidence)
    find_controls(evidence)
    wraps = find_motion(evidence)
    confirm_pedals(evidence)
    find_powertrain(evidence)
    if not evidence.steps and "engine_speed" not in evidence.found:
        wraps = []
        evidence.pace = evidence.path = None
        for name in ("speed", "lap_distance"):
            evidence.drop(name, "nothing ties this speed to your car: without the guided steps it may be another's")
    find_laps(evidence, wraps)
    find_body(evidence)
    left_out = {
        name: evidence.left_out.get(name, "nothing in the packet is surely it")
        for name in LOOKED_FOR
        if name not in evidence.found
    }
    fields = {name: candidate.place for name, candidate in evidence.found.items()}
    return Proposal(evidence.report(), left_out, _kinds(evidence, fields), fields)


def _kinds(evidence: Evidence, fields: Mapping[str, Field]) -> list[KindOf]:
    """The kinds with their clocks; of several that give channels, one closes."""
    records = evidence.records
    used = sorted({place.kind for place in fields.values()})
    timed = [kind for kind in used if "t" not in fields or kind in evidence.clocks or kind == fields["t"].kind]
    closes = timed[closing([records[kind] for kind in timed])] if len(used) > 1 and timed else None
    return [
        replace(record.kind, clock=evidence.clocks.get(place) if place in used else None, closes=place == closes)
        for place, record in enumerate(records)
    ]
