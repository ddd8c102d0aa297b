"""What broke a parser once, or is odd, goes through it again."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fuzz.targets import CORPUS, targets

TARGETS = targets()
KEPT = sorted(path for path in CORPUS.glob("*/*") if path.is_file())
LARGEST = 100_000
"""bytes of a kept input: they are tried each time"""


def test_there_is_something_for_each_target() -> None:
    assert {"generic", "recording", "capture", "frames"} <= set(TARGETS)
    assert {path.parent.name for path in KEPT} <= set(TARGETS), "a folder of the corpus has no target"


@pytest.mark.parametrize("path", KEPT, ids=[f"{path.parent.name}/{path.name}" for path in KEPT])
def test_kept_inputs(path: Path) -> None:
    data = path.read_bytes()
    assert len(data) <= LARGEST
    TARGETS[path.parent.name].check(data)


@pytest.mark.parametrize("name", sorted(TARGETS))
def test_seeds(name: str) -> None:
    for seed in TARGETS[name].seeds:
        TARGETS[name].check(seed)
