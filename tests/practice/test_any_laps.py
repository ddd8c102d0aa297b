"""Whatever is driven, each stage has a verdict, and the same laps give the same one."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.practice.evidence import Evidence
from coach.vocabulary.events import Fault, Mark, Passed, Stores
from coach.vocabulary.marks import MARKS
from coach.vocabulary.stages import STAGES

numbers = st.floats(-1e4, 1e4)
marks = st.builds(Mark, st.sampled_from(MARKS), numbers, st.none() | numbers, st.floats(0.0, 20.0))
passes = st.builds(
    Passed, numbers, st.integers(0, 9), st.integers(1, 4), st.booleans(), st.none() | numbers, st.tuples(marks, marks)
)
wild = st.none() | st.floats()
stores = st.builds(Stores, numbers, st.integers(0, 9), wild, wild, wild)
reasons = st.lists(st.sampled_from(["off_track", "spin", "reset", "in_lap", "standing_start", "new"]), max_size=2)
laps = st.tuples(st.none() | st.floats(0.0, 1e4), st.booleans(), reasons, st.none() | st.floats(0.0, 100.0))
names = st.sampled_from(["spin", "off_track", "coasting"])
faults = st.builds(Fault, numbers, st.integers(0, 9), names, st.none(), numbers)
happenings = st.lists(passes | stores | laps | faults | st.just("run"), max_size=40)


def driven(what: list[object]) -> Evidence:
    evidence = Evidence()
    for one in what:
        if isinstance(one, Passed):
            evidence.passed(one)
        elif isinstance(one, Stores):
            evidence.stores(one)
        elif isinstance(one, Fault):
            evidence.found(one)
        elif isinstance(one, tuple):
            evidence.lap_over(*one)
        else:
            evidence.new_run()
    return evidence


@settings(max_examples=60, deadline=None)
@given(happenings)
def test_every_stage_has_a_verdict_whatever_is_driven(what: list[object]) -> None:
    first, again = driven(what), driven(what)
    for stage in STAGES:
        found = first.verdict(stage)
        assert found == again.verdict(stage)
        assert found.evidence
        assert found.earned == (not found.lacking)
        assert all("nan" not in text and "inf" not in text for text in found.evidence)
    assert first.row.count <= sum(isinstance(one, tuple) for one in what)
