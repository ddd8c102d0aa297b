"""Which habit becomes a topic, how it ends, and what is told of it meanwhile: the bounds."""

import pytest

from coach.planner.planner import Planner
from coach.vocabulary.events import Advice, Event, Fault
from tests.planner.made_circuit import fault, planner, playbook
from tests.planner.session import advice, cues, held_back, late, practise, said

Found = dict[tuple[int, int], str | Fault]


def quiet_planner(**talk: object) -> Planner:
    """Corrections and topics alone."""
    return planner(book=playbook(**({"reminders": False, "summary_every": 0, "focus": False, "praise": False} | talk)))


def costing(seconds: float, *laps: int, name: str = "late_throttle", corner: int = 1) -> Found:
    return {(lap, corner): fault(name, net=seconds, cost=seconds) for lap in laps}


def turned(events: list[Event]) -> list[tuple[int, str]]:
    """Lap and beginning of each advice."""
    return [(event.lap, event.text.split(" in turn")[0].split(":")[0]) for event in events if isinstance(event, Advice)]


def test_a_habit_that_costs_next_to_nothing_a_lap_is_no_topic() -> None:
    """0.04 s in every second lap is 0.02 s a lap, less than a finding must cost to be spoken."""
    assert advice(practise(quiet_planner(), 4, costing(0.04, 1, 3))) == []
    assert len(advice(practise(quiet_planner(), 4, costing(0.04, 1, 2, 3, 4)))) == 1


def test_what_is_self_inflicted_is_a_topic_though_it_costs_nothing_if_nothing_else_is() -> None:
    assert turned(practise(quiet_planner(), 3, costing(0.0, 1, 2, 3, name="lock_up"))) == [(2, "working on lock up")]


@pytest.mark.parametrize(("cost", "first"), [(0.4, "working on lock up"), (0.1, "working on late throttle")])
def test_what_is_self_inflicted_goes_before_the_dearest_unless_it_is_cheap(cost: float, first: str) -> None:
    found = costing(cost, 1, 2, name="lock_up") | costing(0.5, 1, 2, corner=3)
    assert turned(practise(quiet_planner(), 3, found)) == [(2, first)]


def test_a_topic_that_was_stuck_is_left_alone_for_ten_laps() -> None:
    """Coasting is mended on lap 12; the other still comes up, but was given up on lap 8."""
    found = late(*range(1, 24)) | costing(0.1, *range(1, 10), name="coasting", corner=3)
    events = practise(quiet_planner(), 24, found)
    assert turned(events) == [
        (2, "working on late throttle"),
        (8, "late throttle does not get better"),
        (8, "working on coasting"),
        (12, "coasting is mended"),
        (18, "working on late throttle"),
    ]
    assert (15, "left for now") in held_back(events)


def test_each_of_several_corners_has_to_stay_clean_twice() -> None:
    """Turn two has it for the last time on lap 4, turn one on lap 3: clean in both, twice each, on lap 6."""
    found = late(1, 2, 3) | late(1, 2, 3, 4, corner=2)
    assert turned(practise(quiet_planner(), 8, found))[1:] == [(6, "late throttle is mended")]


def test_a_corner_where_it_still_comes_up_keeps_the_topic() -> None:
    found = late(1, 2, 3) | late(*range(1, 8), corner=2)
    assert turned(practise(quiet_planner(), 7, found)) == [(2, "working on late throttle")]


def test_who_mends_it_in_one_corner_and_makes_it_in_another_is_still_at_it() -> None:
    found = late(1, 2, 3) | late(5, 6, 7, 8, corner=3)
    events = practise(quiet_planner(), 8, found)
    assert turned(events) == [(2, "working on late throttle")]
    assert [cue.corner for cue in cues(events) if cue.of[0].lap > 5] == [3, 3, 3]


def test_a_wording_that_helped_stays() -> None:
    """On lap 5 the second wording is tried, lap 6 is clean: it has two tries again."""
    events = practise(quiet_planner(fade=False), 9, late(1, 2, 3, 4, 5, 7, 8, 9))
    assert [text for _, text in said(events)] == [
        *("Throttle sooner", "Throttle sooner", "Throttle sooner", "Throttle sooner"),
        *("Throttle a touch sooner", "Throttle a touch sooner", "Throttle a touch sooner"),
        "Throttle sooner",
    ]
