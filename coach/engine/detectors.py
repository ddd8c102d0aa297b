"""Which fault families are on: what the source sends and which aids are in use decide."""

from __future__ import annotations

from coach.engine.faults import FAMILIES
from coach.engine.faults.base import Family
from coach.vocabulary.events import Detector, Event
from coach.vocabulary.sample import Sample

LISTEN = 2.0
"""s of samples before a channel that never came is called absent."""


class Detectors:
    """Says once of each detector that it is off and what it lacks, and again when that changes."""

    def __init__(self) -> None:
        self.families: list[Family] = list(FAMILIES)
        """those that are on"""
        self._awaited = {channel for family in FAMILIES for channel in family.needs} | {"position"}
        self._lacks: dict[str, str | None] = {}
        self._assists: tuple[str, ...] = ()
        self._since: float | None = None
        self._told = False

    def watch(self, sample: Sample, lap: int) -> list[Event]:
        """Takes one sample in."""
        if self._since is None or sample.t < self._since:
            self._since = sample.t
        news = False
        if self._awaited:
            for channel in list(self._awaited):
                if _sent(sample, channel):
                    self._awaited.discard(channel)
                    news = True
        if sample.assists is not None and sample.assists != self._assists:
            self._assists = sample.assists
            news = True
        if self._told and not news:
            return []
        if not self._told and sample.t - self._since < LISTEN:
            return []
        return self._tell(sample.t, lap)

    def finish(self, t: float, lap: int) -> list[Event]:
        """The stream ended: says what was not said yet."""
        return [] if self._told or self._since is None else self._tell(t, lap)

    def _tell(self, t: float, lap: int) -> list[Event]:
        self._told = True
        events = self._switch(t, lap, "position", "lap_distance, or x and y" if "position" in self._awaited else None)
        on = []
        for family in FAMILIES:
            lacks = next((channel for channel in family.needs if channel in self._awaited), None)
            if lacks is None and family.off_with is not None and family.off_with in self._assists:
                lacks = f"{family.off_with} (assist)"
            for fault in family.faults:
                events += self._switch(t, lap, fault, lacks)
            if lacks is None:
                on.append(family)
        self.families = on
        return events

    def _switch(self, t: float, lap: int, name: str, lacks: str | None) -> list[Event]:
        """An event where the detector is off at first, or changed since it was last told."""
        before = self._lacks.get(name)
        self._lacks[name] = lacks
        return [] if before == lacks else [Detector(t, lap, name, lacks is None, lacks)]


def _sent(sample: Sample, channel: str) -> bool:
    if channel == "position":
        return sample.lap_distance is not None or (sample.x is not None and sample.y is not None)
    return getattr(sample, channel) is not None
