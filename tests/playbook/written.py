"""A playbook's file for a test."""

from __future__ import annotations

from pathlib import Path

from coach.planner.playbook import Playbook
from coach.playbook.load import load


def loaded(folder: Path, content: str | bytes) -> Playbook:
    return load(str(written(folder, content)))


def written(folder: Path, content: str | bytes) -> Path:
    path = folder / "mine.toml"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path
