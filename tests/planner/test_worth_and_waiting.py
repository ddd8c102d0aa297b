from dataclasses import replace

import pytest

from coach.planner.playbook import CarClass
from coach.planner.waiting import ANOTHER, Waiting
from coach.planner.wish import CORRECTION, PRAISE, STATUS, Rank, Wish
from coach.planner.worth import is_slight, why_not, worth
from coach.vocabulary.events import Fault
from coach.vocabulary.faults import FAULTS
from tests.planner.made_circuit import default, fault


def wish(found: Fault, rank: Rank = Rank.OTHER) -> Wish:
    return Wish(
        CORRECTION, rank, 0.0, ("made",), worth=worth(found), about=found.fault, corner=found.corner, lap=found.lap
    )


def waiting(*wishes: Wish) -> tuple[list[str | None], list[tuple[str | None, str]]]:
    """What those that wait are about, in order, and what dropped out, with reasons."""
    held, out = Waiting(), []
    for new in wishes:
        out += held.add(new)
    return [one.about for one in held], [(one.about, reason) for one, reason in out]


def reason(found: Fault, focus: tuple[str, ...] = (), car: CarClass | None = None) -> str | None:
    return why_not(found, focus, default(), car)


@pytest.mark.parametrize(
    ("found", "why"),
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
def test_what_is_never_spoken(found: Fault, why: str | None) -> None:
    assert reason(found) == why


def test_every_kind_judged_whatever_it_costs_may_be_spoken_without_a_price() -> None:
    free = {name for name in FAULTS if reason(fault(name, net=None)) is None}
    assert free == {"early_downshift", "lock_up", "rear_step_out", "spin", "off_track"}


def test_only_faults_in_focus_are_coached() -> None:
    assert reason(fault("late_throttle"), ("early_downshift",)) == "not in focus"
    assert reason(fault("early_downshift"), ("early_downshift",)) is None


def test_what_stands_in_no_group_is_not_coached_unless_asked_for() -> None:
    book = replace(default(), order=(("narrow_entry",),))
    assert why_not(fault("late_throttle"), (), book, None) == "not in the playbook's order"
    assert why_not(fault("narrow_entry"), (), book, None) is None
    assert why_not(fault("lock_up"), (), book, None) is None, "what comes before all else is coached too"
    assert why_not(fault("late_throttle"), ("late_throttle",), book, None) is None


def test_a_class_of_cars_says_what_is_too_little() -> None:
    car = CarClass("slow cars", ("pellow*",), {"late_throttle": 0.3}, net=0.1)
    small, large = replace(fault(), size=0.29), replace(fault(), size=0.3)
    assert reason(small, car=car) == "too little for slow cars"
    assert reason(large, car=car) is None
    assert reason(replace(fault("coasting", net=0.09), size=9.0), car=car) == "costs nothing"
    assert car.holds("Pellow S") and not car.holds("another")


def test_what_is_too_little_for_a_class_of_cars_is_no_clean_pass_either() -> None:
    car = CarClass("slow cars", ("pellow*",), {"late_throttle": 0.3}, net=0.1)
    assert is_slight(fault("coasting", net=0.09), car) and not is_slight(fault("coasting", net=0.09), None)
    assert is_slight(replace(fault(net=0.5), size=0.29), car)
    assert not is_slight(replace(fault(net=0.5), size=0.3), car)


def test_worth_is_the_cost_then_the_net_then_nothing() -> None:
    assert worth(fault(cost=0.0, net=0.3)) == 0.0
    assert worth(fault(cost=None, net=0.3)) == 0.3
    assert worth(fault(cost=None, net=-0.3)) == 0.0
    assert worth(fault(cost=None, net=None)) == 0.0


def test_one_a_corner_pass_stays_the_costliest_in_either_order() -> None:
    dear, cheap = wish(fault("late_throttle", cost=0.2)), wish(fault("coasting", cost=0.1))
    assert waiting(dear, cheap) == (["late_throttle"], [("coasting", ANOTHER)])
    assert waiting(cheap, dear) == (["late_throttle"], [("coasting", ANOTHER)])


def test_what_is_worked_on_goes_before_what_is_dearer() -> None:
    topic = wish(fault("late_throttle", cost=0.1), Rank.TOPIC)
    other = wish(fault("coasting", corner=2, cost=0.9))
    assert waiting(other, topic)[0] == ["late_throttle", "coasting"]
    assert waiting(wish(fault("coasting", cost=0.9)), topic) == (["late_throttle"], [("coasting", ANOTHER)])


def test_of_equals_the_first_stays() -> None:
    assert waiting(wish(fault("coasting")), wish(fault())) == (["coasting"], [("late_throttle", ANOTHER)])


def test_the_newest_finding_of_one_kind_at_one_corner_wins() -> None:
    kept, out = waiting(wish(fault(lap=2, cost=0.5)), wish(fault(lap=3, cost=0.1)))
    assert (kept, out) == (["late_throttle"], [("late_throttle", "a newer one of the same")])


def test_corners_wait_side_by_side_the_costliest_first() -> None:
    first, second = wish(fault("coasting", corner=1, cost=0.1)), wish(fault("late_throttle", corner=2, cost=0.3))
    assert waiting(first, second) == (["late_throttle", "coasting"], [])


def test_findings_on_straights_are_no_one_corner_pass() -> None:
    assert waiting(wish(fault("off_track", corner=None)), wish(fault("late_upshift", corner=None)))[1] == []


def test_of_praises_the_newest_is_said_but_every_answer() -> None:
    held = Waiting()
    assert held.add(Wish(PRAISE, Rank.PRAISE, 0.0, ("one",))) == []
    assert len(held.add(Wish(PRAISE, Rank.PRAISE, 1.0, ("two",)))) == 1
    assert held.add(Wish(STATUS, Rank.ASKED, 1.0, ("fuel",))) == []
    assert held.add(Wish(STATUS, Rank.ASKED, 1.0, ("laps",))) == []
    assert len(held.add(Wish(STATUS, Rank.ASKED, 2.0, ("laps",)))) == 1
    assert [one.texts[0] for one in held] == ["fuel", "laps", "two"]
