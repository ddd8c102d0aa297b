"""How alike laps are, and whether laps with a word in them differ from those without. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median, quantiles

from coach.practice.laps import CLEAN, NEITHER, kind_of
from coach.review.chance import mann_whitney
from coach.review.model import KeptLap
from coach.review.results import CuedAgainstUncued, Steadiness

FEWEST = 3
"""laps of a kind, under which neither a spread nor a comparison says anything (choice)."""


def steadiness(laps: Sequence[KeptLap]) -> Steadiness:
    """Of all these laps; those that say nothing of the driver (an out-lap, a standing start) count in no share.

    The spread is the interquartile range, of quartiles of type 7 of Hyndman and Fan, Am. Stat. 50 (1996).
    """
    kinds = [kind_of(lap.time, lap.clean, lap.why_not) for lap in laps]
    clean = [lap.time for lap, kind in zip(laps, kinds, strict=True) if kind == CLEAN and lap.time is not None]
    told = [kind for kind in kinds if kind != NEITHER]
    row = most = 0
    for kind in told:
        row = row + 1 if kind == CLEAN else 0
        most = max(most, row)
    spread = None
    if len(clean) >= FEWEST:
        low, _, high = quantiles(clean, n=4, method="inclusive")
        spread = round(high - low, 4)
    return Steadiness(
        laps=len(laps),
        clean=len(clean),
        best=min(clean, default=None),
        median=median(clean) if clean else None,
        spread=spread,
        share=len(clean) / len(told) if told else None,
        row=most,
    )


def cued_against_uncued(laps: Sequence[KeptLap]) -> CuedAgainstUncued:
    """Clean laps in which something was said that told what to do, against those without.

    Both are told of, since what helps while it is said need not last. A lap is no cued one by chance, unless cues
    alternate: who is told of a fault has just made it.
    """
    clean = [lap for lap in laps if lap.clean and lap.time is not None]
    cued = [lap.time for lap in clean if lap.cued and lap.time is not None]
    uncued = [lap.time for lap in clean if not lap.cued and lap.time is not None]
    if len(cued) < FEWEST or len(uncued) < FEWEST:
        return CuedAgainstUncued(len(cued), len(uncued), None, None, None)
    return CuedAgainstUncued(len(cued), len(uncued), median(cued), median(uncued), mann_whitney(cued, uncued))
