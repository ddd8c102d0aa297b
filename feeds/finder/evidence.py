"""What the finder looks at: columns on common rows, the time of each row, and which rows belong to which step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from feeds.finder.columns import Column, sieve
from feeds.finder.fields import Field, Floats
from feeds.finder.kinds import Record
from feeds.finder.proposal import Found
from feeds.finder.signals import Mask
from feeds.finder.steps import Step

REACH = 0.08
"""s to each side over which a slope is taken: more than a packet's jitter, less than a driver's doing (choice)."""


@dataclass(slots=True)
class Candidate:
    """One reading of a channel: `values` in the channel's unit on the common rows; `score`: less is better."""

    column: Column
    scale: float
    bias: float
    values: Floats
    score: float
    unit: str
    why: str

    @property
    def place(self) -> Field:
        """With scale and bias."""
        f = self.column.field
        return Field(f.offset, f.type, f.big, self.scale, self.bias, f.kind)


def reading(column: Column, scale: float, bias: float, score: float, unit: str, why: str) -> Candidate:
    """A candidate with its values."""
    return Candidate(column, scale, bias, scale * column.values + bias, score, unit, why)


@dataclass(slots=True)
class Evidence:
    """`received` s and `t` s [n] of the common rows; `steps`: rows of each guided step (none without steps)."""

    records: list[Record]
    received: Floats
    t: Floats
    columns: list[Column]
    steps: dict[str, Mask]
    driving: Mask
    """rows of the drive; all rows without steps"""
    pace: Floats | None = None
    """[n] the car's speed, if need be in an unknown unit"""
    path: tuple[Floats, Floats] | None = None
    """[n] m: the car's place, if need be in a mirrored frame"""
    found: dict[str, Candidate] = field(default_factory=dict)
    sure: dict[str, float] = field(default_factory=dict)
    left_out: dict[str, str] = field(default_factory=dict)
    clocks: dict[int, Field] = field(default_factory=dict)
    """the source's time in further kinds of packet"""
    rests: dict[int, float] = field(default_factory=dict)

    @property
    def standing(self) -> Mask:
        """Rows of the steps in which the car stands."""
        rows = np.zeros(len(self.t), dtype=bool)
        for name, mask in self.steps.items():
            if name != "drive":
                rows |= mask
        return rows

    @property
    def reach(self) -> int:
        """Rows in REACH."""
        return max(1, round(REACH / max(float(np.median(np.diff(self.t))), 1e-3)))

    def rest(self, column: Column) -> float:
        """What a column reads while nothing is touched: the median of the step "still"."""
        if id(column) not in self.rests:
            self.rests[id(column)] = float(np.median(column.values[self.steps["still"]]))
        return self.rests[id(column)]

    def keep(self, channel: str, candidate: Candidate, sure: float) -> None:
        """The channel is found."""
        self.found[channel] = candidate
        self.sure[channel] = min(max(sure, 0.0), 0.99)

    def drop(self, channel: str, why: str) -> None:
        """The channel is not found after all."""
        if self.found.pop(channel, None) is not None:
            self.left_out[channel] = why

    def report(self) -> list[Found]:
        """What was found, in words."""
        return [
            Found(name, c.place.offset, c.place.type, c.unit, self.sure[name], c.why, c.place.kind)
            for name, c in self.found.items()
        ]


def gathered(records: list[Record], steps: Sequence[Step]) -> Evidence:
    """The evidence in records, of which the first gives the common rows."""
    received = records[0].received
    columns: list[Column] = []
    for kind, record in enumerate(records):
        index = nearest(record.received, received)
        columns += sieve(record, kind, index)
    masks = {
        step.name: (received >= step.begins) & (received <= step.ends)
        for step in steps
        if np.count_nonzero((received >= step.begins) & (received <= step.ends)) >= 10
    }
    if "still" not in masks or "drive" not in masks:
        masks = {}
    driving = masks["drive"] if masks else np.ones(len(received), dtype=bool)
    return Evidence(records, received, _evened(received), columns, masks, driving)


def nearest(times: Floats, wanted: Floats) -> NDArray[np.intp]:
    """[n] for each wanted time the place of the one nearest to it; `times` never fall."""
    after = np.clip(np.searchsorted(times, wanted), 1, max(len(times) - 1, 1))
    before = after - 1
    after = np.minimum(after, len(times) - 1)
    return np.where(wanted - times[before] <= times[after] - wanted, before, after)


def _evened(received: Floats) -> Floats:
    """Receive times with most of the jitter taken out."""
    count = len(received)
    if count < 64:
        return received
    width = 31
    line = np.arange(count) * float(np.median(np.diff(received)))
    off = received - line
    padded = np.concatenate([np.repeat(off[:1], width // 2), off, np.repeat(off[-1:], width // 2)])
    windows = np.lib.stride_tricks.sliding_window_view(padded, width)
    return np.maximum.accumulate(line + np.median(windows, axis=1) + np.arange(count) * 1e-9)
