import json
from typing import Any

import pytest

from coach.planner.start import PlannerStart, read_focus
from coach.playbook.load import read
from coach.vocabulary.errors import FormatError, InputError
from tests.planner.made_circuit import default


def test_it_goes_into_a_recordings_head_and_comes_back() -> None:
    start = PlannerStart(
        default(), ("late_throttle",), {"Throttle sooner": 0.75}, "en-us-175", latest=2.0, stage="clean"
    )
    plain = json.loads(json.dumps(start.to_json()))
    assert PlannerStart.from_json(plain, read(plain["playbook"])) == start
    assert PlannerStart.from_json({}, default()) == PlannerStart(default())


def test_keys_of_later_versions_are_passed_over() -> None:
    assert PlannerStart.from_json({"weather": "dry", "focus": []}, default()) == PlannerStart(default())


@pytest.mark.parametrize(
    ("plain", "says"),
    [
        (None, "planner: an object is needed, not null"),
        ([], "planner: an object is needed, not list"),
        ({"focus": "late_throttle"}, "planner.focus: a list"),
        ({"focus": [1]}, "planner.focus: a list"),
        ({"focus": ["late_throtle"]}, "planner.focus: no fault is called 'late_throtle'; did you mean late_throttle?"),
        ({"stage": "line"}, "planner.stage: none is called 'line'; choose from learn, clean, pace, rehearse"),
        ({"stage": 2}, "planner.stage: the name of a stage is needed, not int"),
        ({"phrases": 3}, "planner.phrases"),
        ({"lengths": []}, "planner.lengths: an object"),
        ({"lengths": {"a": None}}, "planner.lengths['a']: seconds"),
        ({"lengths": {"a": float("inf")}}, "planner.lengths['a']: seconds"),
        ({"margin": -0.1}, "planner.margin: seconds, 0 or more, are needed, not -0.1"),
        ({"latest": True}, "planner.latest: seconds"),
        ({"lengths": {"a": 10**400}}, f"planner.lengths['a']: seconds, 0 or more, are needed, not 1{'0' * 39}"),
        ({"earliest": -(10**400)}, "planner.earliest: seconds"),
    ],
)
def test_a_wrong_head_names_the_key(plain: Any, says: str) -> None:
    with pytest.raises(FormatError) as caught:
        PlannerStart.from_json(plain, default())
    assert says in str(caught.value)


def test_a_focus_is_read_as_the_command_line_gives_it() -> None:
    assert read_focus("late_throttle, early_downshift,late_throttle") == ("late_throttle", "early_downshift")
    with pytest.raises(InputError, match="did you mean late_throttle"):
        read_focus("late_throtle")
    with pytest.raises(InputError, match="choose from early_braking"):
        read_focus("xyzzy")
    with pytest.raises(InputError, match="no fault is named"):
        read_focus(" ,")
