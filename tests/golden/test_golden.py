"""Each fixture is replayed, and what it says is held against what must be said."""

from __future__ import annotations

from pathlib import Path

import pytest
from golden.case import FIXTURES, Case, alike, cases, has, kept, read_lines

from coach.vocabulary.faults import FAULTS

CASES = cases()
MOST_BYTES = 3_500_000


@pytest.fixture(scope="module", params=CASES, ids=lambda case: case.name)
def replayed(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Case, list]:
    case: Case = request.param
    return case, case.replay(tmp_path_factory.mktemp(case.name) / "events.jsonl")


def test_what_must_be_said_is_said(replayed: tuple[Case, list]) -> None:
    case, lines = replayed
    wanted = case.about["must_contain"]
    assert wanted, "a fixture that asks for nothing cannot fail"
    missing = [want for want in wanted if not any(has(line, want) for line in lines)]
    assert not missing


def test_what_must_not_be_said_is_not(replayed: tuple[Case, list]) -> None:
    case, lines = replayed
    found = [line for line in lines for unwanted in case.about.get("must_not_contain", []) if has(line, unwanted)]
    assert not found


def test_the_log_is_the_one_that_was_looked_at(replayed: tuple[Case, list]) -> None:
    """After a wanted change: `python -m golden.write` in tests/, and look at the difference."""
    case, lines = replayed
    mine = kept(lines)
    theirs = read_lines(case.said)
    assert theirs
    different = [(a, b) for a, b in zip(mine, theirs, strict=False) if not alike(a, b)]
    assert not different
    assert len(mine) == len(theirs)


def test_a_replay_of_the_same_recording_gives_the_same_bytes(tmp_path: Path) -> None:
    case = CASES[0]
    logs = [tmp_path / name for name in ("first.jsonl", "second.jsonl")]
    for log in logs:
        case.replay(log)
    assert logs[0].read_bytes() == logs[1].read_bytes()


def test_every_fault_has_a_fixture_that_asks_for_it() -> None:
    shown = {want["fault"] for case in CASES for want in case.about["must_contain"] if want["type"] == "fault"}
    assert shown == set(FAULTS)


def test_nearly_every_fault_is_asked_to_be_told() -> None:
    """All but those that cost nothing where a fixture shows them, end the drive, or share their corner's one cue."""
    cues = [want for case in CASES for want in case.about["must_contain"] if want["type"] == "cue"]
    told = {want.get("about") for want in cues}
    assert set(FAULTS) - told <= {"late_turn_in", "coasting", "wheelspin", "narrow_entry", "spin", "early_upshift"}


def test_fixtures_are_small_and_say_how_they_were_made() -> None:
    assert len(CASES) >= 12
    assert sum(file.stat().st_size for file in FIXTURES.rglob("*") if file.is_file()) < MOST_BYTES
    for case in CASES:
        assert case.about["about"] and case.about["made"]


def test_a_range_and_a_missing_key_are_told_apart() -> None:
    assert has({"type": "fault", "size": 0.5}, {"size": [0.4, 0.6]})
    assert not has({"type": "fault", "size": 0.7}, {"size": [0.4, 0.6]})
    assert not has({"type": "fault"}, {"size": [0.4, 0.6]})
    assert not has({"type": "lap", "clean": False}, {"type": "lap", "clean": True})
    assert alike({"a": [1.0, {"b": 2.0}]}, {"a": [1.0005, {"b": 2.0}]})
    assert not alike({"a": 1.0}, {"a": 1.01})
    assert not alike({"a": True}, {"a": 1})
