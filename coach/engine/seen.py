"""What a pass shows: a channel that stopped on the way hides what a family would have to see, which is no fault.

Without it a throttle that is not sent is a throttle not pressed, and a missing edge is room that was not used.
"""

from __future__ import annotations

import numpy as np

from coach.engine.detectors import EITHER
from coach.engine.faults.base import Family
from coach.engine.stretch import HOLD, Stretch

HIDDEN = 0.25
"""s without a channel, over and above the `HOLD` s for which its last value stands: as long as a gap of samples that
leaves a pass unjudged (choice)."""


def seeing(families: list[Family], rows: Stretch) -> list[Family]:
    """Those of the families that have all they need in every part of these rows."""
    return [family for family in families if all(_seen(rows, need) for need in family.needs)]


def _seen(rows: Stretch, need: str) -> bool:
    """Of several groups of channels that meet a need the first that is sent at all is the one that is judged by."""
    for group in EITHER.get(need, ((need,),)):
        silences = [rows.once(longest_silence, name) for name in group if name in rows.columns]
        if all(silence is not None for silence in silences):
            return all(silence is not None and silence <= HIDDEN for silence in silences)
    return False


def longest_silence(rows: Stretch, channel: str) -> float | None:
    """s that the channel was not sent at a stretch, but for `HOLD` s; None where it never was."""
    t, unsent = np.asarray(rows.t), np.isnan(np.asarray(rows[channel]))
    if not unsent.any():
        return 0.0
    if unsent.all():
        return None
    sent = t[~unsent]
    inside = float(np.diff(sent).max()) if len(sent) > 1 else 0.0
    return max(inside, float(sent[0] - t[0]) - HOLD, float(t[-1] - sent[-1]))
