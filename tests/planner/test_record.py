import pytest

from coach.planner.record import PASSES, Record
from coach.vocabulary.events import Fault, Passed
from tests.planner.made_circuit import fault


def passes(record: Record, turns: str, corner: int = 1, name: str = "late_throttle", cost: float = 0.2) -> Record:
    """One pass a letter, each on a lap of its own: H with the fault, c clean, - not judged."""
    for lap, turn in enumerate(turns, 1):
        if turn == "H":
            record.found(fault(name, corner, lap, net=cost + 0.1, cost=cost))
        record.passed(Passed(0.0, lap, corner, turn != "-", cost + 0.1 if turn == "H" else 0.05))
        record.lap_over(lap)
    return record


@pytest.mark.parametrize(
    ("turns", "habit"),
    [("H", False), ("HH", True), ("HcH", True), ("HcccH", True), ("HccccH", False), ("HHc", True), ("HHcc", False)],
)
def test_twice_in_five_passes_of_a_corner_is_a_habit_until_it_stays_away(turns: str, habit: bool) -> None:
    assert passes(Record(), turns).is_habit("late_throttle") is habit
    assert PASSES == 5


def test_passes_that_were_not_judged_are_no_clean_ones() -> None:
    record = passes(Record(), "H--H")
    assert [turn.hit for turn in record.trail("late_throttle", 1).turns] == [True, True]


def test_once_at_each_of_three_corners_is_a_habit_too() -> None:
    record = Record()
    for corner in (1, 2, 3):
        assert not record.is_habit("coasting")
        record.found(fault("coasting", corner, lap=1, cost=0.1))
        record.passed(Passed(0.0, 1, corner, True, 0.1))
    assert record.is_habit("coasting")
    record.lap_over(3)
    assert not record.is_habit("coasting"), "two laps ago"


def test_a_topics_price_is_cost_times_how_often() -> None:
    record = passes(Record(), "HcHc", corner=1, cost=0.2)
    passes(record, "HHHH", corner=2, cost=0.3)
    assert record.trail("late_throttle", 1).cost_a_lap == pytest.approx(0.1)
    assert record.cost_a_lap("late_throttle") == pytest.approx(0.1 + 0.3)
    assert record.corners("late_throttle") == [2, 1]


def test_two_findings_of_one_pass_are_one_pass() -> None:
    record = Record()
    record.found(fault(cost=0.1))
    record.found(fault(cost=0.3))
    record.passed(Passed(0.0, 1, 1, True, 0.3))
    record.found(fault(cost=0.2))  # of the same lap, found when the corner was over
    assert [(turn.hit, turn.cost) for turn in record.trail("late_throttle", 1).turns] == [(True, 0.3)]


def test_the_gain_is_what_the_corner_lost_less_times_how_often_it_did() -> None:
    """Net 0.30 s with it, 0.05 s without; it came up in two of three passes: 2/3 of 0.25 s a lap."""
    record = passes(Record(), "HcHccc")
    assert record.gain("late_throttle", 1) == pytest.approx(2 / 3 * 0.25)


def test_seconds_against_two_references_are_not_compared() -> None:
    record = passes(Record(), "HH")
    record.new_reference()
    passes(record, "ccc")
    assert record.gain("late_throttle", 1) is None


def test_what_belongs_to_no_corner_is_counted_by_laps() -> None:
    record = Record()
    for lap in (1, 2, 3):
        if lap < 3:
            record.found(Fault(0.0, lap, "late_upshift", None, 10.0, net=0.1, cost=0.1))
        record.lap_over(lap)
    assert [turn.hit for turn in record.trail("late_upshift", None).turns] == [True, True, False]


def test_a_finding_is_told_once_a_cue_spoke_of_it() -> None:
    record = passes(Record(), "HH")
    record.told(fault(lap=2))
    assert [turn.told for turn in record.trail("late_throttle", 1).turns] == [False, True]
