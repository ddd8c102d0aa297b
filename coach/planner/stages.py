"""What is coached at each stage of practice, and how much is said: the playbook as that stage narrows it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from coach.planner.playbook import Playbook, Talk
from coach.planner.settled import INCIDENTS
from coach.vocabulary.stages import CLEAN, LEARN, PACE, REHEARSE

LINE = frozenset({"early_turn_in", "late_turn_in", "narrow_entry", "missed_apex", "narrow_exit"})
"""Where on the road the car is."""
MARKS = LINE | {"early_braking", "late_braking"}
"""What misses a mark of a corner."""
NOT_AT_THIS_STAGE = "not at this stage"


def at_stage(playbook: Playbook, stage: str) -> Playbook:
    """The playbook at this stage: `learn` is about the line, `clean` about the marks, both with all that hurts, which
    the playbook has first; `pace` is the whole of it; in `rehearse` only incidents, as in a race."""
    return _NARROWED[stage](playbook)


def speaks_of_seconds(stage: str) -> bool:
    """Whether seconds are spoken of: where the line or the marks are what counts they would only tempt (7.4, 7.5)."""
    return stage in (PACE, REHEARSE)


def _only(playbook: Playbook, faults: frozenset[str]) -> Playbook:
    groups = (tuple(fault for fault in group if fault in faults) for group in playbook.order)
    return replace(playbook, order=tuple(group for group in groups if group))


def _as_in_a_race(playbook: Playbook) -> Playbook:
    """A race is driven alone: nothing is worked on, and there is no news of what was, or of where the seconds are."""
    silent: Talk = replace(playbook.talk, reminders=False, focus=False, praise=False, summary_every=0)
    first = tuple(fault for fault in playbook.first if fault in INCIDENTS)
    return replace(playbook, order=(), first=first, talk=silent)


_NARROWED: dict[str, Callable[[Playbook], Playbook]] = {
    LEARN: lambda playbook: _only(playbook, LINE),
    CLEAN: lambda playbook: _only(playbook, MARKS),
    PACE: lambda playbook: playbook,
    REHEARSE: _as_in_a_race,
}
