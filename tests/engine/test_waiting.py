"""What a watch found in a corner whose pass cannot be judged: told of that corner, and of no other one."""

from __future__ import annotations

from coach.engine.course import read_course
from coach.engine.faults.base import Finding
from coach.engine.passes import Now, PassWatcher
from coach.engine.scatter import Scatter
from coach.engine.shown import Shown
from coach.engine.tape import Tape
from coach.vocabulary.events import Fault
from coach.vocabulary.sample import Sample
from tests.engine.drives import learned

CORNER = 1
"""Index of the corner in which it happens."""


def watcher() -> PassWatcher:
    start = learned()
    assert start.reference is not None
    return PassWatcher(read_course(start.reference, start.circuit), True, True, Shown(), Scatter(), {})


def now(progress: float, lap: int = 2, stands_at: float | None = None) -> Now:
    """At 20 m/s from the line on, but for a moment at `stands_at` m."""
    tape = Tape()
    for metre in range(round(progress) + 1):
        stands = stands_at is not None and abs(metre - stands_at) < 1.0
        tape.append(metre / 20.0, float(metre), Sample(metre / 20.0, speed=0.2 if stands else 20.0))
    return Now(progress / 20.0, lap, tape, progress, None, 0.0, True, False)


def spin(distance: float, *phases: str) -> Finding:
    return Finding("spin", distance, distance / 20.0, 1.5, "rad", phases or ("exit", "straight"))


def test_a_spin_to_a_standstill_is_told_of_the_corner_it_was_in() -> None:
    w = watcher()
    here = w._bounds[CORNER]
    w.place(here.braking)
    assert w.happened(spin(here.apex), now(here.apex)) == []
    told = w.step(now(here.exit + 1.0, stands_at=here.apex), [])
    assert [(f.fault, f.corner) for f in told if isinstance(f, Fault)] == [("spin", here.mark.corner)]
    assert not w.due(here.exit + 2.0, here.exit / 20.0 + 0.1)


def test_so_it_is_where_the_lap_ends_first() -> None:
    w = watcher()
    last = w._bounds[-1]
    w.place(last.braking)
    assert w.happened(spin(last.apex), now(last.apex)) == []
    told = w.line(now(w._length, stands_at=last.apex), [])
    assert [(f.fault, f.corner) for f in told if isinstance(f, Fault)] == [("spin", last.mark.corner)]


def test_what_began_before_the_line_and_is_told_behind_it_was_in_the_last_corner() -> None:
    w = watcher()
    last = w._bounds[-1]
    w.place(0.0)
    for distance, phases, corner in (
        (-5.0, ("exit", "straight"), last.mark.corner),
        (-5.0, ("straight",), None),  # on the straight behind it
        (5.0, ("exit", "straight"), None),
    ):
        (told,) = w.happened(spin(distance, *phases), now(10.0))
        assert isinstance(told, Fault)
        assert (told.corner, told.lap) == (corner, 1 if distance < 0.0 else 2)
