"""The events that the planner gives back, from the findings that they speak of."""

from __future__ import annotations

from coach.planner.wording import phrases
from coach.vocabulary.events import Cue, Fault, Spoken

CORRECTION = "correction"


def spoken(fault: Fault, t: float, lap: int, text: str, length: float, deadline: float) -> Cue:
    """A cue that starts at `t` (s) and takes `length` s; `deadline` s is where the driver gets busy again."""
    return Cue(
        t=t,
        lap=lap,
        kind=CORRECTION,
        about=fault.fault,
        of=_of(fault),
        corner=fault.corner,
        text=text,
        spoken=True,
        starts=t,
        ends=t + length,
        deadline=deadline,
        why_not=None,
    )


def held_back(fault: Fault, t: float, lap: int, why_not: str) -> Cue:
    """A cue that is not said, and why; its text is what would have been said at the corner itself."""
    return Cue(
        t=t,
        lap=lap,
        kind=CORRECTION,
        about=fault.fault,
        of=_of(fault),
        corner=fault.corner,
        text=next(iter(phrases(fault.fault, None)), ""),
        spoken=False,
        starts=None,
        ends=None,
        deadline=None,
        why_not=why_not,
    )


def _of(fault: Fault) -> tuple[Spoken, ...]:
    return (Spoken(fault.lap, fault.corner, fault.fault),)
