"""What was practised on one day is gone on with on another."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.planner.planner import Planner
from coach.planner.record import NOBODYS, OVER_NIGHT
from coach.planner.state import MOST, Practised, State
from coach.vocabulary.errors import FormatError
from coach.vocabulary.events import Event, Topic
from tests.planner.made_circuit import planner, playbook
from tests.planner.session import advice, begun, late, practise, said

QUIET = {"reminders": False, "summary_every": 0, "praise": False}
LATE = "late_throttle"


def state_of(events: list[Event]) -> dict[str, Any]:
    """What the last lap left behind, through a file's text."""
    kept = [event for event in events if isinstance(event, Practised)]
    found = json.loads(json.dumps(kept[-1].state))
    assert isinstance(found, dict)
    return found


def topics(events: list[Event]) -> list[str | None]:
    return [event.fault for event in events if isinstance(event, Topic)]


def day(laps: int, found: Any, state: dict[str, Any] | None = None, plan: Planner | None = None) -> list[Event]:
    """A day of its own, which begins with what is recalled."""
    return practise(planner(book=playbook(**QUIET)) if plan is None else plan, laps, found, state=state)


def test_yesterdays_topic_is_gone_on_with_and_said_once_at_the_line() -> None:
    first = day(4, late(1, 2, 3))
    assert topics(first)[-1] == LATE
    second = day(4, {}, state_of(first))
    assert topics(second)[:1] == [LATE]
    assert advice(second)[0].startswith("going on with late throttle in turn")
    assert [lap for lap, text in said(second, "summary")] == [2], "behind the first line"
    assert sum(text.startswith("working on") for text in advice(second)) == 0, "it was not chosen anew"


def test_without_a_state_nothing_is_known() -> None:
    plan = planner()
    assert plan.recall(None, None) == []
    assert topics(practise(plan, 1, {})) == []


def test_what_was_mended_yesterday_and_comes_up_again_has_come_back() -> None:
    first = day(7, late(1, 2, 3))
    assert any("is mended" in text for text in advice(first))
    state = state_of(first)
    assert state["mended"] == [LATE] and not state["topics"]
    second = day(4, late(1, 2), state)
    assert any("has come back" in text for text in advice(second))
    assert not any(text.startswith("working on") for text in advice(second))


def test_passes_of_both_days_count_together() -> None:
    """Two passes with it and one without on one day, two without on the other: mended, as three on one day would be."""
    one_day = practise(planner(book=playbook(**QUIET)), 6, late(1, 2))
    mended = next(event for event in one_day if isinstance(event, Practised) and event.state["mended"])
    second = day(4, {}, state_of(day(3, late(1, 2))))
    again = next(event for event in second if isinstance(event, Practised) and event.state["mended"])
    assert again.lap == mended.lap - 3


def test_what_it_gained_is_known_over_night_where_the_reference_is_the_same() -> None:
    state = state_of(day(4, late(1, 2, 3)))
    texts = advice(day(5, {}, state))
    assert any("is mended" in text and "s a lap" in text for text in texts)
    texts = advice(day(5, {}, state | {"reference": state["reference"] + 1.0}))
    assert any("is mended" in text and "s a lap" not in text for text in texts)


def test_a_state_is_small_and_the_same_for_the_same_day() -> None:
    found = {(lap, corner): LATE for lap in range(1, 13) for corner in (1, 2, 3, 4)}
    first, second = state_of(day(12, found)), state_of(day(12, found))
    assert first == second
    assert len(json.dumps(first)) < 4096
    assert all(len(turns) <= OVER_NIGHT for _, _, turns in first["trails"])


def test_it_goes_on_over_many_days() -> None:
    """Recalled and kept without a lap between: nothing but the count of laps changes, and that only once."""
    state = state_of(day(4, late(1, 2, 3)))
    plan = planner(book=playbook(**QUIET))
    begun(plan)
    plan.recall(state, None)
    again = plan._practised(0).state
    assert again["trails"] == state["trails"] and again["aside"] == state["aside"]
    assert [topic["fault"] for topic in again["topics"]] == [topic["fault"] for topic in state["topics"]]


def test_twice_is_as_good_as_once() -> None:
    state = state_of(day(4, late(1, 2, 3)))
    once, twice = planner(book=playbook(**QUIET)), planner(book=playbook(**QUIET))
    for plan in (once, twice):
        begun(plan)
        plan.recall(state, None)
    twice.recall(state, None)
    assert twice._practised(0) == once._practised(0)
    assert [topic.fault for topic in twice._focus.topics] == [topic.fault for topic in once._focus.topics] == [LATE]


def test_the_second_driver_takes_the_place_of_the_first() -> None:
    mine, theirs = state_of(day(4, late(1, 2, 3))), state_of(day(2, {}))
    plan = begun(planner(book=playbook(**QUIET)))
    assert topics(plan.recall(mine, None)) == [LATE]
    assert topics(plan.recall(theirs, None)) == [None]
    assert plan._practised(2).state["trails"] == []


def test_a_topic_that_is_asked_for_stays_and_one_that_is_not_coached_is_left() -> None:
    state = state_of(day(4, late(1, 2, 3)))
    focused = planner(focus=("coasting",), book=playbook(**QUIET))
    assert topics(focused.recall(state, None)) == []
    same = planner(focus=(LATE,), book=playbook(**QUIET))
    same.recall(state, None)
    assert [(topic.fault, topic.fixed) for topic in same._focus.topics] == [(LATE, True)]


def test_todays_own_topic_stays() -> None:
    state = state_of(day(4, late(1, 2, 3)))
    plan = planner(book=playbook(**QUIET))
    practise(plan, 4, {(lap, 3): "coasting" for lap in (1, 2, 3)})
    before = [topic.fault for topic in plan._focus.topics]
    assert before == ["coasting"]
    assert topics(plan.recall(state, None)) == []
    assert [topic.fault for topic in plan._focus.topics] == before
    turns = plan._record.trail(LATE, 1).turns
    assert turns and all(turn.source == NOBODYS and turn.lap <= 0 for turn in turns)


@pytest.mark.parametrize(
    "change",
    [
        {"version": 2},
        {"version": None},
        {"trails": None},
        {"trails": [[LATE, 1, [[0, 1, "dear", None, 0]]]]},
        {"trails": [[LATE, 1, [[0, 1, 0.1]]]]},
        {"trails": [[LATE, True, []]]},
        {"trails": [[[], 1, []]]},
        {"trails": [[LATE, 1, [[0, 1, float("nan"), None, 0]]]]},
        {"mended": "late_throttle"},
        {"mended": [[]]},
        {"aside": [[LATE, 1e9]]},
        {"aside": [[LATE, MOST + 1]]},
        {"slower": [None]},
        {"topics": [{"fault": LATE}]},
        {"topics": [3]},
        {"reference": "quick"},
        {"best": float("inf")},
    ],
)
def test_a_state_that_is_none_is_refused_in_one_line(change: dict[str, Any]) -> None:
    with pytest.raises(FormatError) as caught:
        planner().recall(State().to_json() | change, None)
    assert "\n" not in str(caught.value) and "practised" in str(caught.value)


def test_faults_of_a_later_version_are_passed_over() -> None:
    state = State().to_json() | {
        "trails": [["hopping", 1, [[0, 1, 0.1, None, 0]]]],
        "mended": ["hopping"],
        "aside": [["hopping", 3]],
        "topics": [{"fault": "hopping"}],
        "mood": "fine",
    }
    assert planner().recall(state, None) == []


@cache
def of_three_laps() -> tuple[Event, ...]:
    return tuple(day(3, late(1, 2)))


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5) | st.just(LATE),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=12,
)


@settings(max_examples=60, deadline=None)
@given(st.fixed_dictionaries({}, optional=dict.fromkeys(State().to_json(), values)))
def test_whatever_was_kept_is_read_or_refused(change: dict[str, Any]) -> None:
    """And what is read can be practised with."""
    state = state_of(list(of_three_laps()))
    try:
        day(1, late(1), state | change)
    except FormatError as error:
        assert "\n" not in str(error)


def test_a_new_reference_of_today_does_not_mix_with_laps_of_other_days() -> None:
    """Yesterday's lap 2 is no lap 2 of today: what it lost is not carried over to another reference."""
    state = state_of(day(4, late(1, 2, 3)))
    plan = begun(planner(book=playbook(**QUIET)))
    plan.recall(state, None)
    before = [replace(turn) for turn in plan._record.trail(LATE, 1).turns]
    plan._record.new_reference(2, 40.0)
    assert list(plan._record.trail(LATE, 1).turns) == before
