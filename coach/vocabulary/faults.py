"""The closed set of faults: name, unit of size, what it is."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FaultKind:
    """One kind of driving fault.

    `whatever` marks the kinds that are judged whatever they cost that time: they hurt sooner or later.
    """

    name: str
    unit: str
    meaning: str
    whatever: bool = False


_KINDS = (
    FaultKind("early_braking", "m", "brake point before the reference's"),
    FaultKind("late_braking", "m", "brake point after the reference's, and the corner suffered"),
    FaultKind("soft_braking", "m/s2", "peak deceleration well under what this driver showed at that speed"),
    FaultKind("early_turn_in", "m", "steering began before, and the corner suffered"),
    FaultKind("late_turn_in", "m", "steering began after, and the corner suffered"),
    FaultKind("early_downshift", "rev/min", "a lower gear taken at a road speed too high for it", whatever=True),
    FaultKind("lock_up", "slip", "a wheel far slower than the ground under brakes", whatever=True),
    FaultKind("over_slowed", "m/s", "lower minimum speed and no exit speed gained for it"),
    FaultKind("coasting", "s", "neither pedal, longer than the reference there"),
    FaultKind("late_throttle", "s", "committed throttle after the reference's place, past the apex"),
    FaultKind("throttle_lift", "s", "a lift after committed throttle before the corner's end"),
    FaultKind("wheelspin", "slip", "driven wheels faster than the ground under power, costing pull"),
    FaultKind("narrow_entry", "m", "outside road left unused at turn-in"),
    FaultKind("narrow_exit", "m", "outside road left unused at the exit"),
    FaultKind("missed_apex", "m", "the inside edge left too far away from turn-in to exit"),
    FaultKind("rear_step_out", "rad", "the rear slid and was caught", whatever=True),
    FaultKind("spin", "rad", "the rear slid and was not caught", whatever=True),
    FaultKind("off_track", "m", "the whole car beyond the edge", whatever=True),
    FaultKind("early_upshift", "rev/min", "shifted up where the lower gear still pulled harder"),
    FaultKind("late_upshift", "rev/min", "held a gear after the next one would have pulled harder"),
)

FAULTS: dict[str, FaultKind] = {kind.name: kind for kind in _KINDS}
"""Every fault by its name, in the order of the contract."""

NET_SPOKEN = 0.03
"""s: a fault whose net loss is under this is logged and never spoken, unless judged `whatever`."""
