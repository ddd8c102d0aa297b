"""The events that the planner gives back, from the findings that they speak of."""

from __future__ import annotations

from dataclasses import replace

from coach.planner.wording import phrases
from coach.vocabulary.events import Cue, Fault, Spoken

CORRECTION = "correction"


def spoken(fault: Fault, t: float, lap: int, text: str, length: float, deadline: float) -> Cue:
    """A cue that starts at `t` (s) and takes `length` s; `deadline` s is where the driver gets busy again."""
    return replace(_silent(fault, t, lap, text), spoken=True, starts=t, ends=t + length, deadline=deadline)


def held_back(fault: Fault, t: float, lap: int, why_not: str) -> Cue:
    """A cue that is not said, and why; its text is what would have been said at the corner itself."""
    text = next(iter(phrases(fault.fault, None)), "")
    return replace(_silent(fault, t, lap, text), why_not=why_not)


def _silent(fault: Fault, t: float, lap: int, text: str) -> Cue:
    return Cue(
        t=t,
        lap=lap,
        kind=CORRECTION,
        about=fault.fault,
        of=(Spoken(fault.lap, fault.corner, fault.fault),),
        corner=fault.corner,
        text=text,
        spoken=False,
        starts=None,
        ends=None,
        deadline=None,
        why_not=None,
    )
