"""One fixture: a recording, what it is, and what must be said.

replay_fixtures/NAME/about.toml    what it is, how it was made, lines that must and must not come
replay_fixtures/NAME/drive.*       the recording
replay_fixtures/NAME/said.jsonl    what its event log says, all but most of the running delta, looked at by eye
"""

from __future__ import annotations

import json
import tomllib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from coach.app.cli import main

FIXTURES = Path(__file__).parent.parent.parent / "replay_fixtures"
EACH = 50
"""Of the running delta, ten a second, `said.jsonl` keeps one in so many."""

Line = dict[str, Any]


@dataclass(frozen=True)
class Case:
    folder: Path

    @property
    def name(self) -> str:
        return self.folder.name

    @cached_property
    def about(self) -> dict[str, Any]:
        return tomllib.loads((self.folder / "about.toml").read_text(encoding="utf-8"))

    @property
    def said(self) -> Path:
        return self.folder / "said.jsonl"

    def replay(self, log: Path) -> list[Line]:
        """Every event of a replay, through the command itself; the log goes to the file `log`."""
        arguments = ["replay", "--fast", str(self.folder / self.about["recording"]), "--events", str(log)]
        if "reference" in self.about:
            arguments += ["--reference", str(self.folder / self.about["reference"])]
        assert main(arguments) == 0
        return read_lines(log)


def cases() -> list[Case]:
    return [Case(about.parent) for about in sorted(FIXTURES.glob("*/about.toml"))]


def read_lines(path: Path) -> list[Line]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def kept(lines: list[Line]) -> list[Line]:
    """What `said.jsonl` keeps: all but `run`, which names the version; at the end the running delta, thinned out."""
    deltas = [line for line in lines if line["type"] == "delta"]
    return [line for line in lines if line["type"] not in ("run", "delta")] + deltas[::EACH]


def has(line: Line, wanted: Line) -> bool:
    """Whether an event has all of `wanted`; a pair of numbers is a range."""
    for key, value in wanted.items():
        if key not in line:
            return False
        mine = line[key]
        if isinstance(value, list) and isinstance(mine, (int, float)):
            if not value[0] <= mine <= value[1]:
                return False
        elif mine != value:
            return False
    return True


def alike(mine: Any, theirs: Any) -> bool:
    """The same, numbers within 1e-3 (the contract's promise between machines)."""
    if isinstance(mine, bool) or isinstance(theirs, bool):
        return mine is theirs
    if isinstance(mine, (int, float)) and isinstance(theirs, (int, float)):
        return abs(mine - theirs) <= 1e-3
    if isinstance(mine, dict) and isinstance(theirs, dict):
        return mine.keys() == theirs.keys() and all(alike(mine[key], theirs[key]) for key in mine)
    if isinstance(mine, list) and isinstance(theirs, list):
        return len(mine) == len(theirs) and all(map(alike, mine, theirs))
    return bool(mine == theirs)
