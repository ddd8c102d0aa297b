"""Holds the pedals and the speed against each other: the throttle makes the car faster, the brake slower."""

from __future__ import annotations

import numpy as np

from feeds.finder.evidence import Evidence
from feeds.finder.fields import Floats
from feeds.finder.signals import alike, mean_over, slope

FELT = 0.5
"""of the hardest braking, or of the strongest pull: from there on a pedal must be the cause (choice)"""
HARDEST = 0.005
"""Share of the rows that lie beyond what counts as the hardest."""
PRESSED = 0.1
"""of its travel"""
MOSTLY = 0.7
"""Share of the hardest braked rows in which the brake must be pressed; of the strongest pulled ones the throttle."""
GOES_WITH = 0.4
"""Least correlation of the car's acceleration with throttle less brake (choice: the cars tried have 0.6 to 0.9, another
car 5 s away on the same circuit under 0.3)."""
AT_ONCE, LAGS = 0.4, 10
"""s by which a car on the same road is behind or ahead, tried so many times: ours answers to its pedals at once."""
MARGIN = 0.15
"""of correlation by which the driver's own car must lead another's (choice)"""
WRONG_STEP = 'the step "{}" and the drive do not agree: was it this pedal that was pressed?'


def obeys(evidence: Evidence, pace: Floats) -> float | None:
    """Correlation of a speed's slope with throttle less brake, as found, or 0 where it is greater some time later or
    earlier; None where neither pedal is known.
    """
    pedals = _pedals(evidence)
    if pedals is None:
        return None
    reach = evidence.reach
    change, pressed = slope(pace, evidence.t, reach), mean_over(pedals, evidence.t, reach)
    rows = evidence.driving.copy()
    rows[: 3 * reach] = rows[-3 * reach :] = False
    if rows.sum() <= 100:
        return None
    change, pressed = change[rows], pressed[rows]
    agree = alike(change, pressed)
    step = max(1, round(AT_ONCE / max(float(np.median(np.diff(evidence.t))), 1e-3)))
    for late in (k * step for k in range(1, LAGS + 1) if k * step < len(change) // 2):
        if max(abs(alike(change[late:], pressed[:-late])), abs(alike(change[:-late], pressed[late:]))) > abs(agree):
            return 0.0
    return agree


def is_ours(evidence: Evidence, pace: Floats) -> bool:
    """Whether the speed goes with the pedals (or there are none to ask)."""
    agree = obeys(evidence, pace)
    return agree is None or abs(agree) >= GOES_WITH


def ours(evidence: Evidence, paces: list[Floats]) -> int | None:
    """Which of several cars' speeds is the driver's; None where the pedals do not tell."""
    agree = [obeys(evidence, pace) or 0.0 for pace in paces]
    first, second = sorted(range(len(agree)), key=lambda i: -abs(agree[i]))[:2]
    return first if abs(agree[first]) >= max(GOES_WITH, abs(agree[second]) + MARGIN) else None


def confirm_pedals(evidence: Evidence) -> None:
    """Drops a pedal that the drive contradicts: another was pressed in its step."""
    if evidence.pace is None:
        return
    change = slope(evidence.pace, evidence.t, evidence.reach)[evidence.driving]
    if len(change) < 100:
        return
    low, high = np.quantile(change, (HARDEST, 1.0 - HARDEST))
    braked, pulled = change <= FELT * low, change >= FELT * high
    if not (braked.any() and pulled.any()):
        return
    for channel, rows in (("brake", braked), ("throttle", pulled)):
        found = evidence.found.get(channel)
        if found is not None and np.mean(found.values[evidence.driving][rows] > PRESSED) < MOSTLY:
            evidence.drop(channel, WRONG_STEP.format("rev" if channel == "throttle" else channel))
    clutch = evidence.found.get("clutch")
    if clutch is not None:
        pressed = clutch.values[evidence.driving] > PRESSED
        if max(np.mean(pressed[braked]), np.mean(pressed[pulled])) >= MOSTLY:
            evidence.drop("clutch", WRONG_STEP.format("clutch"))


def _pedals(evidence: Evidence) -> Floats | None:
    throttle, brake = (evidence.found.get(name) for name in ("throttle", "brake"))
    if throttle is None and brake is None:
        return None
    still = np.zeros(len(evidence.t))
    return (still if throttle is None else throttle.values) - (still if brake is None else brake.values)
