"""What the voice's tests share: a synthesiser that misbehaves on request, and a device that is a file."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from voice.render import Renderer

FAKE = Path(__file__).with_name("fake_child.py")


@pytest.fixture
def fake(tmp_path: Path) -> FakeSynthesiser:
    """`fake("hang,good")` makes renderers whose first process hangs and whose later ones are good.

    `starts()` of it is how many processes there were.
    """
    return FakeSynthesiser(tmp_path)


class FakeSynthesiser:
    def __init__(self, folder: Path) -> None:
        self.counter = folder / "starts"

    def __call__(self, modes: str, stall: float = 10.0, parallel: int = 1) -> Callable[[int, Path], Renderer]:
        command = [sys.executable, "-S", str(FAKE), modes, str(self.counter)]
        return lambda rate, folder: Renderer(rate, folder, command=command, stall=stall, parallel=parallel)

    def starts(self) -> int:
        return self.counter.stat().st_size if self.counter.exists() else 0
