"""The straight before a corner, where map and trace do not quite agree."""

from dataclasses import replace

from coach.planner.room import Room
from tests.planner.made_circuit import MARKS, lap_trace


def room(brake: float) -> Room:
    made = Room(0.5)
    made.know_corners((MARKS[0], replace(MARKS[1], brake=brake), MARKS[2]), lap_trace())
    return made


def test_the_straight_before_a_corner_may_end_a_little_behind_its_brake_point() -> None:
    """The trace is quiet up to 898 m; the map has the brakes elsewhere."""
    for brake in (860.0, 898.0, 920.0):
        approach = room(brake).approach(2)
        windows = room(brake).windows
        assert approach is not None and windows is not None
        assert (approach.stretch, approach.brake) == (0, brake)
        assert windows.stretches[0].end == 898.0


def test_a_corner_of_a_linked_run_is_approached_before_the_run() -> None:
    made = room(900.0)
    assert made.approach(3) == made.approach(2)
    assert made.approach(1) != made.approach(2)


def test_no_map_and_no_quiet_are_no_approach() -> None:
    assert Room(0.5).approach(1) is None
    assert room(900.0).approach(9) is None
