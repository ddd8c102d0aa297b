"""What is said of each fault: car and road, an instruction, as few words as do.

Each has a full wording of two to four words and a short one of at most three, for where only that fits; where two words
do, they are both. Words that are easily misheard at speed are avoided, and the two directions of one thing sound unlike
("sooner" and "later").
"""

from __future__ import annotations

from dataclasses import dataclass

from coach.vocabulary.faults import FAULTS


@dataclass(frozen=True, slots=True)
class Wording:
    """`short` is never longer to say than `full`."""

    full: str
    short: str


WORDINGS: dict[str, Wording] = {
    "early_braking": Wording("Brake later", "Brake later"),
    "late_braking": Wording("Brake sooner", "Brake sooner"),
    "soft_braking": Wording("Brake harder at first", "Brake harder"),
    "early_turn_in": Wording("Steer in later", "Steer later"),
    "late_turn_in": Wording("Steer in sooner", "Steer sooner"),
    "early_downshift": Wording("Shift down later", "Downshift later"),
    "lock_up": Wording("Less brake pressure", "Less brake"),
    "over_slowed": Wording("Carry more speed", "More speed"),
    "coasting": Wording("Shorten the coasting", "No coasting"),
    "late_throttle": Wording("Throttle sooner", "Throttle sooner"),
    "throttle_lift": Wording("Hold the throttle", "Hold throttle"),
    "wheelspin": Wording("Gentler on the throttle", "Gentler throttle"),
    "narrow_entry": Wording("Enter from the edge", "Wider entry"),
    "narrow_exit": Wording("Use the exit road", "Wider exit"),
    "missed_apex": Wording("Closer to the apex", "Tighter apex"),
    "rear_step_out": Wording("Settle the rear first", "Settle the rear"),
    "spin": Wording("Leave more margin", "More margin"),
    "off_track": Wording("Inside the lines", "Stay on track"),
    "early_upshift": Wording("Hold the gear longer", "Rev it out"),
    "late_upshift": Wording("Shift up sooner", "Upshift sooner"),
}
"""Every fault of the vocabulary."""

TABLED_CORNERS = range(1, 41)
"""Corner numbers whose phrases are in the shipped table of lengths; a circuit with more still works, by estimate."""

_ONES = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"),
    *("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")


def number(n: int) -> str:
    """A corner's number as it is spoken: words up to 99, digits beyond."""
    if 0 <= n < 20:
        return _ONES[n]
    if not 20 <= n < 100:
        return str(n)
    tens, ones = divmod(n, 10)
    return _TENS[tens] + (f"-{_ONES[ones]}" if ones else "")


def phrases(fault: str, corner: int | None) -> tuple[str, ...]:
    """The wordings of a fault, the fullest first; they name the corner where one is given. Empty: no such fault."""
    wording = WORDINGS.get(fault)
    if wording is None:
        return ()
    where = "" if corner is None else f", turn {number(corner)}"
    return tuple(dict.fromkeys((wording.full + where, wording.short + where)))


def all_phrases() -> list[str]:
    """Every phrase that can be said of corners 1 to 40: what a table of lengths holds and a voice renders ahead."""
    corners: list[int | None] = [None, *TABLED_CORNERS]
    return [phrase for fault in FAULTS for corner in corners for phrase in phrases(fault, corner)]
