"""Which fault families are on: what the source sends and which aids are in use decide."""

from __future__ import annotations

from coach.engine.faults import FAMILIES, WATCHES
from coach.engine.faults.base import Family, Watch
from coach.vocabulary.events import Detector, Event
from coach.vocabulary.sample import Sample

LISTEN = 2.0
"""s of samples before a channel that never came is called absent."""
EITHER = {
    "position": (("lap_distance",), ("x", "y")),
    "road": (("edge_left", "edge_right"), ("x", "y")),
    "turning": (("yaw_rate",), ("ay",)),
    "edge": (("edge_left",), ("edge_right",), ("on_track",), ("lap_valid",)),
    "ground": (("speed",), ("vx",), ("x", "y")),
    "slide": (("vx", "vy"), ("ay",)),
}
"""Needs that one group of channels or another meets."""


class Detectors:
    """Says once of each detector that it is off and what it lacks, and again when that changes."""

    def __init__(self) -> None:
        self.families: list[Family] = list(FAMILIES)
        """those that are on"""
        self._all_watches: tuple[Watch, ...] = tuple(make() for make in WATCHES)
        self.watches: list[Watch] = list(self._all_watches)
        """those that are on"""
        self._all: tuple[Family | Watch, ...] = (*FAMILIES, *self._all_watches)
        self._awaited = {channel for judge in self._all for channel in judge.needs} | {"position"}
        self._lacks: dict[str, str | None] = {}
        self._assists: tuple[str, ...] = ()
        self._since: float | None = None
        self._told = False

    def watch(self, sample: Sample, lap: int, sent: Sample | None = None) -> list[Event]:
        """Takes one sample in; `sent`: as it came, before what could be told of its speed was filled in.

        A speed along the centre line does for driving, but not for the slip of a wheel.
        """
        if self._since is None or sample.t < self._since:
            self._since = sample.t
        news = False
        if self._awaited:
            for channel in list(self._awaited):
                if _sent(sent if channel == "ground" and sent is not None else sample, channel):
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
        events = self._switch(t, lap, "position", _named("position") if "position" in self._awaited else None)
        off = {}
        for judge in self._all:
            lacks = next((_named(channel) for channel in judge.needs if channel in self._awaited), None)
            if lacks is None and judge.off_with is not None and judge.off_with in self._assists:
                lacks = f"{judge.off_with} (assist)"
            off[judge.name] = lacks is not None
            for fault in judge.faults:
                events += self._switch(t, lap, fault, lacks)
        self.families = [family for family in FAMILIES if not off[family.name]]
        self.watches = [watch for watch in self._all_watches if not off[watch.name]]
        return events

    def _switch(self, t: float, lap: int, name: str, lacks: str | None) -> list[Event]:
        """An event where the detector is off at first, or changed since it was last told."""
        before = self._lacks.get(name)
        self._lacks[name] = lacks
        return [] if before == lacks else [Detector(t, lap, name, lacks is None, lacks)]


def _sent(sample: Sample, channel: str) -> bool:
    groups = EITHER.get(channel, ((channel,),))
    return any(all(getattr(sample, name) is not None for name in group) for group in groups)


def _named(channel: str) -> str:
    return ", or ".join(" and ".join(group) for group in EITHER.get(channel, ((channel,),)))
