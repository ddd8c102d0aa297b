"""What the voice's tests share: a synthesiser that misbehaves on request, and a device that is a file."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from coach.planner.phrases import Phrases
from coach.playbook.load import load
from voice.checks import Expected
from voice.render import Rendered, Renderer

FAKE = Path(__file__).with_name("fake_child.py")


@pytest.fixture
def fake(tmp_path: Path) -> FakeSynthesiser:
    """`fake("hang,good")` makes renderers whose first process hangs and whose later ones are good.

    `starts()` of it is how many processes there were.
    """
    return FakeSynthesiser(tmp_path)


@pytest.fixture(scope="session")
def english(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Rendered]:
    """Real speech: what the default voice says in English, with one corner for all and two counts."""
    phrases = Phrases(load())
    wanted = [*phrases.anywhere(), *phrases.counted([1, 2]), *phrases.at([3])]
    renderer = Renderer(175, tmp_path_factory.mktemp("english"))
    sounds: dict[str, Rendered] = {}
    facts = renderer.facts(None, lambda: False)
    assert renderer.render(wanted, facts, Expected(), sounds.update, lambda *_: None, lambda: False) == {}
    return sounds


class FakeSynthesiser:
    def __init__(self, folder: Path) -> None:
        self.counter = folder / "starts"

    def __call__(self, modes: str, stall: float = 10.0, parallel: int = 1) -> Callable[[int, Path], Renderer]:
        command = [sys.executable, "-S", str(FAKE), modes, str(self.counter)]
        return lambda rate, folder: Renderer(rate, folder, command=command, stall=stall, parallel=parallel)

    def starts(self) -> int:
        return self.counter.stat().st_size if self.counter.exists() else 0
