"""The coaches that are compared: this planner and variants of it, nobody, and one who says everything at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Protocol

from coach.planner.lengths import PhraseLengths
from coach.planner.phrases import Phrases
from coach.planner.planner import Planner
from coach.planner.playbook import EXPERIENCED, Playbook
from coach.planner.start import PlannerStart
from coach.playbook.load import load
from coach.vocabulary.events import Cue, Event, Fault
from coach.vocabulary.faults import FAULTS
from voice import lengths

from .pupil import Said

INSTRUCTS = ("correction", "reminder", "summary", "status")
"""Kinds of cue that tell what to do, where they are about a fault; praise tells nothing that is not known."""


@lru_cache(maxsize=1)
def playbook() -> Playbook:
    """The default one."""
    return load(None)


class Coach(Protocol):
    """Gets events, says things. `moments`: whether it needs to know where the car is ten times a second."""

    moments: bool

    def push(self, event: Event) -> list[Said]:
        """Take one event; what is said because of it."""
        ...


class Nobody:
    """Says nothing."""

    moments = False

    def push(self, event: Event) -> list[Said]:
        """Nothing."""
        return []


class Naive:
    """Speaks every finding the moment it is decided, one after the other; none is left out."""

    moments = False

    def __init__(self) -> None:
        self._phrases = Phrases(playbook())
        self._lengths = PhraseLengths(_lengths())
        self._free = 0.0

    def push(self, event: Event) -> list[Said]:
        """What is said of a finding, as soon as there is silence."""
        if not isinstance(event, Fault):
            return []
        text = self._phrases.correction(event.fault, event.size, None)[0]
        starts = max(event.t, self._free)
        self._free = starts + self._lengths.of(text)
        return [Said("correction", event.fault, event.corner, False, starts, self._free)]


class Planned:
    """This project's planner with the default playbook or another; `focus` as at its start, `talk` changes the
    playbook's."""

    moments = True

    def __init__(self, held: Playbook | None = None, focus: tuple[str, ...] = (), **talk: Any) -> None:
        held = playbook() if held is None else held
        held = replace(held, talk=replace(held.talk, **talk))
        self._phrases = Phrases(held)
        self._planner = Planner(PlannerStart(playbook=held, focus=focus, lengths=_lengths()))

    def push(self, event: Event) -> list[Said]:
        """The cues that the planner speaks."""
        return [self._said(cue) for cue in self._planner.push(event) if isinstance(cue, Cue) and cue.spoken]

    def _said(self, cue: Cue) -> Said:
        if cue.starts is None or cue.ends is None:
            raise ValueError(f"a spoken cue without its times: {cue}")
        corner = cue.corner
        named = corner is not None and self._phrases.corner(corner).casefold() in cue.text.casefold()
        about = cue.about if cue.kind in INSTRUCTS and cue.about in FAULTS else None
        return Said(cue.kind, about, corner, named, cue.starts, cue.ends)


@dataclass(frozen=True, slots=True)
class Policy:
    """`make` makes the coach of one pupil; `what` says how it coaches."""

    make: Callable[[], Coach]
    what: str


OURS, NONE, NAIVE = "ours", "none", "naive"
POLICIES: Mapping[str, Policy] = {
    OURS: Policy(Planned, "this planner with the default playbook"),
    NONE: Policy(Nobody, "no coach"),
    NAIVE: Policy(Naive, "every finding at once, one after the other"),
}
"""The three that are compared under every set of traits."""
VARIANTS: Mapping[str, Policy] = {
    "ours, not faded": Policy(lambda: Planned(fade=False), "told as often when it improves"),
    "ours, no reminders": Policy(lambda: Planned(reminders=False), "nothing before the corner"),
    "ours, no summaries": Policy(lambda: Planned(summary_every=0), "nothing of where the seconds are"),
    "ours, alternating": Policy(lambda: Planned(alternate=True), "every other lap without a word"),
    "ours, all topics": Policy(lambda: Planned(focus=tuple(FAULTS)), "all repeated faults at once, not faded"),
    "ours, cost alone": Policy(lambda: Planned(_by_cost(playbook())), "no kind of fault goes before a dearer one"),
}
"""This planner with one rule changed, to see what the rule is worth in the model."""


def _by_cost(held: Playbook) -> Playbook:
    """What comes first for everyone is one more group, and groups are not gone through one by one."""
    return replace(held, first=(), order=(held.first, *held.order), pupil=EXPERIENCED)


@lru_cache(maxsize=1)
def _lengths() -> dict[str, float]:
    return dict(lengths.load().lengths)
