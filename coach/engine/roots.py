"""Roots, not symptoms: of all that one corner pass shows, what the rest came from.

Braked too early, a car is too slow at the apex and coasts until the driver picks the throttle up; said apart these are
three faults, mended they are one. What can follow from what is a fact of the trade (common practice); that it did is
taken from the order of time: no cause comes after its effect.
"""

from __future__ import annotations

from math import inf

from coach.engine.faults.base import Finding
from coach.vocabulary.events import PHASES

SLACK = 0.3
"""s: an effect may be seen this much before its cause, since each is timed by its own threshold."""
SECOND = 2.0
"""times what would be allowed: a second root in one pass must be this plain (choice)."""
MOST = 2
"""Roots a pass."""

_SLOW = ("over_slowed", "coasting", "late_throttle", "missed_apex", "narrow_exit", "early_upshift")
_WIDE = ("missed_apex", "narrow_entry", "narrow_exit", "throttle_lift", "late_throttle", "off_track", "over_slowed")
_SLIDE = ("rear_step_out", "spin", "off_track", "throttle_lift", "late_throttle", "missed_apex", "over_slowed")

FOLLOWS: dict[str, tuple[str, ...]] = {
    "early_braking": (*_SLOW, "soft_braking", "narrow_entry", "early_turn_in", "early_downshift"),
    "late_braking": (*_WIDE, *_SLIDE, "lock_up", "late_turn_in", "wheelspin", "coasting", "soft_braking"),
    "soft_braking": ("early_braking", "over_slowed", "missed_apex", "late_turn_in", "late_throttle"),
    "early_turn_in": (*_WIDE, "rear_step_out", "coasting"),
    "late_turn_in": (*_WIDE, "coasting"),
    "early_downshift": (*_SLIDE, "lock_up", "coasting", "narrow_exit", "late_turn_in", "soft_braking", "wheelspin"),
    "lock_up": (*_WIDE, "late_turn_in", "coasting", "soft_braking", "spin"),
    "over_slowed": ("late_throttle", "coasting", "narrow_exit", "missed_apex", "early_upshift", "wheelspin"),
    "coasting": ("over_slowed", "late_throttle", "soft_braking", "early_braking", "late_braking", "narrow_exit"),
    "late_throttle": ("coasting", "narrow_exit", "over_slowed", "early_upshift", "throttle_lift", "wheelspin"),
    "throttle_lift": ("coasting", "narrow_exit", "rear_step_out", "late_throttle", "early_upshift", "late_upshift"),
    "wheelspin": ("throttle_lift", "rear_step_out", "spin", "off_track", "late_throttle", "early_upshift"),
    "narrow_entry": (
        *_WIDE,
        "early_turn_in",
        "late_turn_in",
        "coasting",
        "early_braking",
        "soft_braking",
        "wheelspin",
        "late_braking",
    ),
    "narrow_exit": ("throttle_lift", "late_throttle", "over_slowed", "missed_apex", "early_braking", "soft_braking"),
    "missed_apex": ("narrow_exit", "throttle_lift", "late_throttle", "off_track", "coasting"),
    "rear_step_out": (*_SLIDE, "wheelspin", "coasting", "narrow_exit", "lock_up"),
    "spin": ("off_track", "late_throttle", "coasting", "throttle_lift", "over_slowed", "lock_up", "missed_apex"),
    "off_track": ("rear_step_out", "spin", "late_throttle", "throttle_lift", "coasting", "over_slowed"),
    "early_upshift": (),
    "late_upshift": (),
}
"""What may come of each fault in the same pass (common practice)."""

TOLD_ANYWAY = ("spin", "off_track")
"""What spoils a lap is told whatever it came from, beside its root."""
PASSES_BY = {("early_downshift", "late_throttle"): 2.0, ("early_downshift", "throttle_lift"): 2.0}
"""s after which the second no more comes of the first: an axle that a shift held back has its grip again in about a
second, and a foot that waits later waits for something else (choice)."""
AT_ONCE = ("early_turn_in", "late_turn_in", "lock_up", "rear_step_out", "spin", "off_track")
"""Faults that work where they happen: what shows after them may come of them, even if it was long in coming."""
AWARE = {"off_track": 2.0}
"""s before it begins that a driver sees it come, and lifts or steers for it (choice)."""


def roots(findings: list[Finding]) -> list[Finding]:
    """The root or, rarely, the two roots of one pass, the worse first; the others' names are in their `also`."""
    left = sorted(findings, key=lambda f: (f.origin, -f.strength))
    heads: list[Finding] = []
    below: dict[int, list[Finding]] = {}
    for finding in left:
        cause = next((head for head in heads if _explains(head, finding)), None)
        if cause is None:
            heads.append(finding)
            below[id(finding)] = []
        else:
            below[id(cause)].append(finding)
    for finding in list(heads):  # an effect that shows a moment before its cause
        cause = next((head for head in heads if head is not finding and _explains(head, finding)), None)
        if cause is not None and not _explains(finding, cause):
            heads.remove(finding)
            below[id(cause)] += [finding, *below.pop(id(finding))]
    heads.sort(key=lambda f: (f.fault not in TOLD_ANYWAY, -f.strength))
    alone = bool(heads) and heads[0].fault in TOLD_ANYWAY  # what was before it has explained it, or is as nothing to it
    kept = heads[:1] + [head for head in heads[1:MOST] if head.strength >= SECOND and not alone]
    for finding in heads:
        if finding not in kept:
            below[id(kept[0])] += [finding, *below.pop(id(finding))]
    told = [effect for finding in kept for effect in below[id(finding)] if effect.fault in TOLD_ANYWAY]
    for finding in kept:
        effects = below[id(finding)]
        finding.also = tuple(dict.fromkeys((*finding.also, *(e.fault for e in effects if e.fault != finding.fault))))
        touched = set(finding.phases).union(*(e.phases for e in effects))
        finding.phases = tuple(p for p in PHASES if p in touched)
    names = {finding.fault for finding in kept}
    return kept + [finding for finding in told if finding.fault not in names]


def _explains(cause: Finding, effect: Finding) -> bool:
    if cause.fault == effect.fault:
        return True
    if cause.fault in effect.not_from:
        return False
    begins = cause.origin - AWARE.get(cause.fault, 0.0)
    if effect.origin > begins + PASSES_BY.get((cause.fault, effect.fault), inf):
        return False
    shows = effect.begins if cause.fault in AT_ONCE else effect.origin
    return effect.fault in FOLLOWS[cause.fault] and begins <= shows + SLACK
