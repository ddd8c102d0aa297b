"""Slides, wheels and edges followed by a whole session: what is told, of which corner, and when."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coach.engine.start import EngineStart
from coach.engine.study import study
from coach.vocabulary.events import Detector, Fault
from coach.vocabulary.sample import Sample
from tests.engine.drives import begin, only, run
from tests.engine.watching import PLANTED, built_in

WATCHED = ("lock_up", "wheelspin", "off_track", "rear_step_out", "spin")
TRUTH = {("lock_up", 1), ("lock_up", 3), ("wheelspin", 8), ("wheelspin", 12), ("off_track", 6), ("off_track", 10)}
"""What is planted, by kind and bend."""


def watched(samples: list[Sample], start: EngineStart | None = None) -> list[Fault]:
    return [fault for fault in only(run(samples, start), Fault) if fault.fault in WATCHED]


def reference(car: str) -> EngineStart:
    best = study(built_in(car, "steady"), "clean")
    return begin(reference=best.reference, origin="clean", circuit=best.circuit, scatter=best.scatter)


@pytest.mark.parametrize("car", ["Pellow R", "Pellow S"])
def test_beside_a_reference_each_is_told_of_its_corner(car: str) -> None:
    found = only(run(list(built_in(car, "steady", *PLANTED)), reference(car)), Fault)
    named = [(fault.fault, fault.corner) for fault in found if fault.fault in WATCHED]
    below = {(name, fault.corner) for fault in found for name in fault.also}
    assert set(named) <= TRUTH and len(set(named)) == len(named)
    assert TRUTH - set(named) <= below, "a root of its own, or below another's"
    assert {fault.lap for fault in found} == {1}


@pytest.mark.parametrize("car", ["Pellow R", "Pellow S"])
def test_on_a_new_circuit_each_is_told_at_once(car: str) -> None:
    faults = watched(list(built_in(car, "steady", *PLANTED)))
    assert sorted(fault.fault for fault in faults) == sorted(kind for kind, _ in TRUTH)
    assert all(fault.corner is None and fault.t - fault.begins < 1.5 for fault in faults)


@pytest.mark.parametrize("car", ["Pellow R", "Pellow S"])
@pytest.mark.parametrize("person", ["steady", "beginner"])
def test_clean_laps_bring_none(car: str, person: str) -> None:
    samples = list(built_in(car, person))
    assert watched(samples) == [] and watched(samples, reference(car)) == []


def test_aids_and_absent_channels_switch_off_and_say_so() -> None:
    samples = list(built_in("Pellow R", "steady", *PLANTED))
    aided = [replace(s, assists=("abs", "traction")) for s in samples]
    assert {fault.fault for fault in watched(aided)} == {"off_track"}
    off = {event.name: event.lacks for event in only(run(aided), Detector)}
    assert off["lock_up"] == "abs (assist)" and off["wheelspin"] == "traction (assist)"
    bare = [replace(s, wheel_speed=None, yaw_rate=None) for s in samples]
    assert {fault.fault for fault in watched(bare)} == {"off_track"}
    off = {event.name: event.lacks for event in only(run(bare), Detector)}
    assert off["lock_up"] == off["wheelspin"] == "wheel_speed"
    assert off["rear_step_out"] == off["spin"] == "yaw_rate"
