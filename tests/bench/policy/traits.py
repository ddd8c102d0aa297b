"""Every number of the model of a pupil, with where it comes from. Nothing here was measured on people.

Each trait is drawn evenly from its range, once a pupil. Row numbers point to the list of check values that this project
was designed from, and name the study they rest on; `choice` marks a number that no source gives. The directions come
from the sources, nearly all sizes are choices. They were written down before the first run of the bench, and none was
changed after it.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, fields

Range = tuple[float, float]

HASTY_WITHIN = 1.0
"""s after the corner's exit within which a cue leaves no time to judge the corner oneself (2.10: Swinnen 1990 had some
seconds against none; the bound is a choice)."""
FOUND = 0.93
"""Share of a pupil's mistakes that the engine finds (measured: the judgement's bench, scattering driver, 92.6 %)."""
FALSE = 0.0115
"""False findings a clean pass (measured: the same, 1.15 in 100)."""


@dataclass(frozen=True, slots=True)
class Traits:
    """What makes one pupil."""

    understands: float
    """chance that a cue is understood which is heard alone, at leisure, about the corner just left or a corner that it
    names (1.30: Simpson & Marchionda-Frost 1984, the rate of speech cost time and not accuracy, and 90 % of the
    messages were still known 8 to 10 s later; choice)"""
    far: float
    """times that, where it names no corner and another corner has been driven since (1.27: Fleming, Green & Katz 1998,
    of a spoken message the direction was recalled by 39 %; used as about that, the range is a choice)"""
    busy: float
    """times that, where any of it sounds between brake point and full throttle (1.24: Horrey & Wickens 2005, 1.37:
    Mohebbi, Gray & Tan 2009, both tasks suffer; the size is a choice)"""
    apart: float
    """s: of two cues that are nearer to each other, or overlap, none is understood (1.37, 2.20; choice)"""
    enough: float
    """cues a lap that are no strain (1.26: Gatling 1975, 1.27, up to 4 units are kept; choice)"""
    strain: float
    """share of the understanding that each cue beyond them takes on the next lap (1.26, 2.19: Chollet 2022, the densest
    display was worst; choice)"""
    held: float
    """share of what is left of a habit that an understood cue holds back while it is fresh (2.1: Salmoni, Schmidt &
    Walter 1984; 2.16: feedback gains +0.87 standard deviations in practice; the share is a choice)"""
    fades: float
    """share of what is held that is gone a lap later, without another cue (2.16: of +0.87 a drop of 0.74 follows when
    feedback ends, which is 0.85 of it; the pace is a choice)"""
    alone: float
    """share of a habit that is unlearned on a lap on which the pupil works on it untold (2.2: Winstein & Schmidt 1990,
    2.8: Park, Shea & Wright 2000; that it is more than when told is the finding, how much is a choice)"""
    told: float
    """the same on a lap on which a cue told it (2.1, 2.9: Schmidt & Wulf 1997; choice)"""
    hasty: float
    """times that, where the cue came within a second of the corner's exit (2.10: Swinnen 1990; choice)"""
    works: float
    """laps for which an understood cue keeps its habit on the mind (choice)"""
    things: float
    """habits that can be worked on at once without loss (2.12: Wulf & Shea 2002, skills of high load need less; under
    the four of 1.26 and 1.27, for a corner is more than a word; choice)"""
    spread: float
    """with n habits on the mind each gets (things / n) to this power; over 1 as changing between them costs too (2.20;
    choice)"""
    finds: float
    """share of each habit that a pupil unlearns a lap without being told anything (choice)"""
    forgets: float
    """share of what was unlearned that comes back on a lap on which the pupil does not work on it (choice)"""
    startled: float
    """s that a corner takes longer for each second of a cue between its brake point and full throttle (1.24, 1.27: the
    driving suffers; choice)"""
    slips: float
    """chance that such a cue makes a mistake in that corner (1.24; choice)"""
    scatter: float
    """s, standard deviation of the time through a corner from lap to lap (choice)"""
    one_off: float
    """chance at a corner of a mistake that is no habit (choice)"""


RANGES: Mapping[str, Range] = {
    "understands": (0.6, 0.95),
    "far": (0.3, 0.6),
    "busy": (0.3, 0.7),
    "apart": (2.0, 4.0),
    "enough": (3.0, 6.0),
    "strain": (0.03, 0.1),
    "held": (0.4, 0.8),
    "fades": (0.5, 0.85),
    "alone": (0.10, 0.25),
    "told": (0.03, 0.10),
    "hasty": (0.6, 1.0),
    "works": (2.0, 5.0),
    "things": (1.0, 3.0),
    "spread": (1.0, 1.5),
    "finds": (0.005, 0.02),
    "forgets": (0.005, 0.02),
    "startled": (0.02, 0.08),
    "slips": (0.02, 0.08),
    "scatter": (0.01, 0.03),
    "one_off": (0.01, 0.03),
}

_NEVER_DISTURBED: Mapping[str, Range] = {"busy": (1.0, 1.0), "startled": (0.0, 0.0), "slips": (0.0, 0.0)}
_UNDERSTANDS: Mapping[str, Range] = {
    "understands": (1.0, 1.0),
    "far": (1.0, 1.0),
    "busy": (1.0, 1.0),
    "apart": (0.0, 0.0),
    "strain": (0.0, 0.0),
}
_INDEPENDENT: Mapping[str, Range] = {"fades": (0.0, 0.0), "told": (0.10, 0.25), "hasty": (1.0, 1.0)}
_ALL_AT_ONCE: Mapping[str, Range] = {"things": (99.0, 99.0)}

SETS: Mapping[str, Mapping[str, Range]] = {
    "as stated": {},
    "never disturbed": _NEVER_DISTURBED,
    "understands everything": _UNDERSTANDS,
    "strongly dependent": {"held": (0.8, 0.9), "fades": (0.85, 0.95), "told": (0.0, 0.02)},
    "not dependent": _INDEPENDENT,
    "works on all at once": _ALL_AT_ONCE,
    "all for the naive one": {**_NEVER_DISTURBED, **_UNDERSTANDS, **_INDEPENDENT, **_ALL_AT_ONCE},
}
"""What the answer depends on: sets of other ranges, by name. The last gives the naive coach all that it needs."""


def draw(dice: random.Random, changed: Mapping[str, Range]) -> Traits:
    """One pupil's traits. A trait that `changed` does not name is the same as without it. KeyError for one that is
    none."""
    unknown = set(changed) - set(RANGES)
    if unknown:
        raise KeyError(f"no trait is called {', '.join(sorted(unknown))}")
    parts = {field.name: dice.random() for field in fields(Traits)}
    ranges = {**RANGES, **changed}
    return Traits(**{name: _between(ranges[name], part) for name, part in parts.items()})


def _between(bounds: Range, part: float) -> float:
    return bounds[0] + part * (bounds[1] - bounds[0])
