"""Whether a finding is worth saying at all, and which of several is worth most."""

from __future__ import annotations

from coach.planner.wording import WORDINGS
from coach.vocabulary.events import Fault
from coach.vocabulary.faults import FAULTS, NET_SPOKEN


def why_not(fault: Fault, focus: tuple[str, ...]) -> str | None:
    """Why this finding is never spoken, None where it may be."""
    kind = FAULTS.get(fault.fault)
    if kind is None or fault.fault not in WORDINGS:
        return "no wording for it"
    if focus and fault.fault not in focus:
        return "not in focus"
    if kind.whatever:
        return None
    if fault.net is None:
        return "no reference to price it"
    if fault.net < NET_SPOKEN:
        return "costs nothing"
    return None


def worth(fault: Fault) -> float:
    """s: its cost, where that is not known the loss of the whole corner, else nothing."""
    if fault.cost is not None:
        return fault.cost
    return fault.net if fault.net is not None else 0.0
