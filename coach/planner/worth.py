"""Whether a finding is worth saying at all, and what it is worth."""

from __future__ import annotations

from coach.planner.playbook import CarClass, Playbook
from coach.vocabulary.events import Fault
from coach.vocabulary.faults import FAULTS, NET_SPOKEN


def why_excluded(fault: str, focus: tuple[str, ...], playbook: Playbook) -> str | None:
    """Why no fault of this name is ever spoken of, None where it may be."""
    if fault not in FAULTS or fault not in playbook.language.wordings:
        return "no wording for it"
    if focus:
        return None if fault in focus else "not in focus"
    return None if playbook.coaches(fault) else "not in the playbook's order"


def why_not(fault: Fault, focus: tuple[str, ...], playbook: Playbook, car: CarClass | None) -> str | None:
    """Why this finding is never spoken, None where it may be. `focus`: only these faults; empty: the playbook's."""
    excluded = why_excluded(fault.fault, focus, playbook)
    if excluded is not None:
        return excluded
    if car is not None and _is_small(fault, car):
        return f"too little for {car.name}"
    if FAULTS[fault.fault].whatever:
        return None
    if fault.net is None:
        return "no reference to price it"
    return "costs nothing" if fault.net < _least_net(car) else None


def is_slight(fault: Fault, car: CarClass | None) -> bool:
    """Whether it came up, but too little to be spoken of."""
    small = car is not None and _is_small(fault, car)
    return small or (fault.net is not None and fault.net < _least_net(car))


def costs_nothing(fault: Fault) -> bool:
    """Whether it cost no more than what is never spoken of, in a kind that is judged whatever it costs."""
    return fault.net is not None and fault.net < NET_SPOKEN


def worth(fault: Fault) -> float:
    """s: its cost, where that is not known the loss of the whole corner, else nothing."""
    if fault.cost is not None:
        return fault.cost
    return max(fault.net, 0.0) if fault.net is not None else 0.0


def _is_small(fault: Fault, car: CarClass) -> bool:
    return abs(fault.size) < car.least.get(fault.fault, 0.0)


def _least_net(car: CarClass | None) -> float:
    return NET_SPOKEN if car is None or car.net is None else max(NET_SPOKEN, car.net)
