import pytest

from coach.planner.waiting import Finding, Waiting
from coach.planner.worth import why_not, worth
from coach.vocabulary.events import Fault
from coach.vocabulary.faults import FAULTS
from tests.planner.made_circuit import fault

ANOTHER = "another cue for this corner"


def waiting(*faults: Fault) -> tuple[list[str], list[tuple[str, str]]]:
    """Names of those that wait, in order, and those that dropped out, with reasons."""
    held, out = Waiting(), []
    for found in faults:
        out += held.add(Finding(found, 0.0))
    return [finding.fault.fault for finding in held], [(finding.fault.fault, reason) for finding, reason in out]


@pytest.mark.parametrize(
    ("found", "reason"),
    [
        (fault("late_throttle", net=0.03), None),
        (fault("late_throttle", net=0.029), "costs nothing"),
        (fault("late_throttle", net=-0.2), "costs nothing"),
        (fault("late_throttle", net=None), "no reference to price it"),
        (fault("early_downshift", net=0.0), None),
        (fault("early_downshift", net=None, cost=None), None),
        (fault("no_such_fault"), "no wording for it"),
    ],
)
def test_what_is_never_spoken(found: Fault, reason: str | None) -> None:
    assert why_not(found, ()) == reason


def test_every_kind_judged_whatever_it_costs_may_be_spoken_without_a_price() -> None:
    free = {name for name in FAULTS if why_not(fault(name, net=None), ()) is None}
    assert free == {"early_downshift", "lock_up", "rear_step_out", "spin", "off_track"}


def test_only_faults_in_focus_are_coached() -> None:
    assert why_not(fault("late_throttle"), ("early_downshift",)) == "not in focus"
    assert why_not(fault("early_downshift"), ("early_downshift",)) is None


def test_worth_is_the_cost_then_the_net_then_nothing() -> None:
    assert worth(fault(cost=0.0, net=0.3)) == 0.0
    assert worth(fault(cost=None, net=0.3)) == 0.3
    assert worth(fault(cost=None, net=None)) == 0.0


def test_one_a_corner_pass_stays_the_costliest_in_either_order() -> None:
    dear, cheap = fault("late_throttle", cost=0.2), fault("coasting", cost=0.1)
    assert waiting(dear, cheap) == (["late_throttle"], [("coasting", ANOTHER)])
    assert waiting(cheap, dear) == (["late_throttle"], [("coasting", ANOTHER)])


def test_of_equals_the_first_stays() -> None:
    assert waiting(fault("coasting"), fault("late_throttle")) == (["coasting"], [("late_throttle", ANOTHER)])


def test_the_newest_finding_of_one_kind_at_one_corner_wins() -> None:
    kept, out = waiting(fault(lap=2, cost=0.5), fault(lap=3, cost=0.1))
    assert (kept, out) == (["late_throttle"], [("late_throttle", "a newer finding of the same")])


def test_corners_wait_side_by_side_the_costliest_first() -> None:
    first, second = fault("coasting", corner=1, cost=0.1), fault("late_throttle", corner=2, cost=0.3)
    assert waiting(first, second) == (["late_throttle", "coasting"], [])


def test_findings_on_straights_are_no_one_corner_pass() -> None:
    assert waiting(fault("off_track", corner=None), fault("late_upshift", corner=None))[1] == []
