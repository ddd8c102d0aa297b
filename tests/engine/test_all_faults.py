"""Each fault of the contract has one judge, which says what it needs and where its physics is from."""

from __future__ import annotations

import inspect
import re
from collections import Counter

import pytest

from coach.engine.detectors import EITHER
from coach.engine.faults import FAMILIES, WATCHES
from coach.engine.faults.base import Family, Watch
from coach.vocabulary.faults import FAULTS
from coach.vocabulary.sample import Sample

CONTRACT = {
    **dict.fromkeys(("early_braking", "late_braking", "early_turn_in", "late_turn_in"), "m"),
    **dict.fromkeys(("narrow_entry", "narrow_exit", "missed_apex", "off_track"), "m"),
    **dict.fromkeys(("coasting", "late_throttle", "throttle_lift"), "s"),
    **dict.fromkeys(("lock_up", "wheelspin"), "slip"),
    **dict.fromkeys(("rear_step_out", "spin"), "rad"),
    **dict.fromkeys(("early_downshift", "early_upshift", "late_upshift"), "rev/min"),
    "soft_braking": "m/s2",
    "over_slowed": "m/s",
}
"""The 20 faults and the units of their sizes, copied from the contract's table."""
OTHER_UNITS = {"early_downshift": {"m/s"}}
"""The contract gives a second unit where no limit is known."""
JUDGES: tuple[Family | type[Watch], ...] = (*FAMILIES, *WATCHES)


def names(judge: Family | type[Watch]) -> str:
    return judge.name


def physics(judge: Family | type[Watch]) -> str:
    """The docstrings of the judge's file and class."""
    made = judge if inspect.isclass(judge) else type(judge)
    module = inspect.getmodule(made)
    assert module is not None
    return f"{module.__doc__}\n{made.__doc__}"


def test_the_set_of_faults_is_the_contracts() -> None:
    assert {kind.name: kind.unit for kind in FAULTS.values()} == CONTRACT


def test_each_fault_is_judged_by_exactly_one() -> None:
    assert Counter(fault for judge in JUDGES for fault in judge.faults) == Counter(dict.fromkeys(CONTRACT, 1))


def test_no_two_judges_share_a_name() -> None:
    assert max(Counter(map(names, JUDGES)).values()) == 1


@pytest.mark.parametrize("judge", JUDGES, ids=names)
def test_what_a_judge_needs_is_a_channel_or_one_of_several(judge: Family | type[Watch]) -> None:
    known = set(Sample.__slots__) | set(EITHER)
    assert set(judge.needs) <= known
    assert judge.off_with in (None, "abs", "traction", "gearbox", "clutch", "line"), "the contract's assists"


@pytest.mark.parametrize("judge", JUDGES, ids=names)
def test_a_judge_tells_its_channels_and_a_source(judge: Family | type[Watch]) -> None:
    text = physics(judge)
    assert re.search(r"\b[Cc]hannels?\b", text), "which channels it depends on"
    assert re.search(r"checks|SAE|ISO|common practice|contract|handbook|closed form", text), "where its physics is from"


@pytest.mark.parametrize("judge", JUDGES, ids=names)
def test_a_judge_names_its_faults_and_what_it_needs(judge: Family | type[Watch]) -> None:
    text = physics(judge)
    missing = [fault for fault in judge.faults if fault not in text]
    assert not missing
    words = {"road": "edge", "turning": "yaw_rate", "wheel_speed": "wheel_speed", "engine_speed": "engine[_ ]speed"}
    for channel in judge.needs:
        word = words.get(channel, channel)
        assert re.search(word, text), f"{channel} is needed and not told of"


@pytest.mark.parametrize("judge", JUDGES, ids=names)
def test_findings_are_in_the_vocabularys_unit(judge: Family | type[Watch]) -> None:
    """Read from the source: each unit that stands in the judge's file is one of its faults' or the contract's other."""
    module = inspect.getmodule(judge if inspect.isclass(judge) else type(judge))
    assert module is not None
    allowed = {unit for other in JUDGES if _file(other) == module.__name__ for f in other.faults for unit in _units(f)}
    given = set(re.findall(r'Finding\([^)]*?"(m|s|slip|rad|rev/min|m/s2|m/s)"', inspect.getsource(module), re.DOTALL))
    assert given <= allowed, f"{given - allowed} is no unit of {judge.faults}"


def _file(judge: Family | type[Watch]) -> str:
    return judge.__module__ if inspect.isclass(judge) else type(judge).__module__


def _units(fault: str) -> set[str]:
    return {FAULTS[fault].unit} | OTHER_UNITS.get(fault, set())
