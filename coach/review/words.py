"""What a thing is called where it is told: plain English, as one would say it to a driver. Pure."""

from __future__ import annotations

from coach.review.model import KeptSession
from coach.review.results import Thing

_SAY: dict[str, str] = {
    "early_braking": "brake later in {}",
    "late_braking": "brake earlier in {}",
    "soft_braking": "brake harder in {}",
    "early_turn_in": "turn in later in {}",
    "late_turn_in": "turn in sooner in {}",
    "early_downshift": "shift down later in {}",
    "lock_up": "brake without locking a wheel in {}",
    "over_slowed": "keep more speed in {}",
    "coasting": "be on one pedal or the other in {}",
    "late_throttle": "throttle sooner in {}",
    "throttle_lift": "keep the throttle down out of {}",
    "wheelspin": "less wheelspin out of {}",
    "narrow_entry": "use all the road into {}",
    "narrow_exit": "use all the road out of {}",
    "missed_apex": "meet the apex of {}",
    "rear_step_out": "keep the rear in line in {}",
    "spin": "do not spin in {}",
    "off_track": "stay on the road in {}",
    "early_upshift": "shift up later out of {}",
    "late_upshift": "shift up sooner out of {}",
}
"""What to do about each fault, and where."""
_STRAIGHT: dict[str, str] = {"early_upshift": "shift up later", "late_upshift": "shift up sooner"}
"""What belongs to no corner says enough without a place."""

SPREAD = "the standard deviation of the places where it was met"
"""How far apart the places of a mark are, in words."""
_NOT_JUDGED = "nothing yet: no corner was held against a reference; drive a few clean laps in a row"
_NOTHING = "nothing that was found costs enough to name: drive on, and see whether it stays so"


def place_of(corner: int | None, nowhere: str = "no corner") -> str:
    """What a place is called: `turn 6`."""
    return nowhere if corner is None else f"turn {corner}"


def nothing_words(judged: bool) -> str:
    """What stands instead of the things where there are none; `judged`: see `is_judged`."""
    return _NOTHING if judged else _NOT_JUDGED


def is_judged(session: KeptSession) -> bool:
    """Whether a pass of a corner was held against the marks."""
    return any(passed.judged for lap in session.laps for passed in lap.passes)


def thing_words(thing: Thing) -> str:
    """What to do, and where: "throttle sooner in turn 6"."""
    return fault_words(thing.fault, thing.corner)


def fault_words(fault: str, corner: int | None) -> str:
    """What to do about a fault at a corner; None: it belongs to none."""
    if corner is None and fault in _STRAIGHT:
        return _STRAIGHT[fault]
    where = place_of(corner, "the lap")
    return _SAY[fault].format(where) if fault in _SAY else f"{plain_fault(fault)} in {where}"


def plain_fault(fault: str) -> str:
    """The fault's name as words: "late throttle"."""
    return fault.replace("_", " ")


def place_words(corner: int | None) -> str:
    """Where: "in turn 6"."""
    return "in any lap" if corner is None else f"in turn {corner}"


def passes_words(hits: int, passes: int, corner: int | None) -> str:
    """How often of how many: "2 of 7 passes", "1 of 1 pass"; "3 of 5 laps" of what belongs to no corner."""
    one, more = ("lap", "laps") if corner is None else ("pass", "passes")
    return f"{hits} of {passes} {one if passes == 1 else more}"
