"""What the tests of the real command share."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from coach.app.cli import main
from tests.real.command import spoken_for


@pytest.fixture(scope="session")
def expected(practice_file: Path, tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    log = tmp_path_factory.mktemp("expected") / "events.jsonl"
    assert main(["replay", "--fast", "--events", str(log), str(practice_file)]) == 0
    found = spoken_for(log)
    assert [json.loads(line)["type"] for line in found].count("lap") == 5
    assert any('"fault"' in line for line in found) and any('"cue"' in line for line in found)
    return found
