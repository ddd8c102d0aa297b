"""Ctrl-C while a recording is worked through ends the work, and leaves no half a file behind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from make_stream import Drive

from coach.app import cut, export, inspect, recordings
from coach.app.config import CutOptions, ExportOptions, InspectOptions, RecordingsOptions, checked
from coach.app.console import Console
from coach.app.stop import Stop
from tests.app.recorded import recorded


class After(Stop):
    """Asks for the end when it has been looked at so many times."""

    def __init__(self, looks: int) -> None:
        self.left = looks
        super().__init__()

    @property
    def asked(self) -> bool:  # type: ignore[override]
        self.left -= 1
        return self.left < 0

    @asked.setter
    def asked(self, value: bool) -> None:
        pass


@pytest.fixture(scope="module")
def source(practice: Drive, tmp_path_factory: pytest.TempPathFactory) -> Path:
    drive = replace(practice, rows=[row for row in practice.rows[::5] if row["lap"] <= 2])
    return recorded(drive.rows, tmp_path_factory.mktemp("stopped") / "a.cwrec")


Work = Callable[[Path, Path, Stop], str]

WORKS: dict[str, Work] = {
    "cut": lambda file, to, stop: cut.cut(checked(CutOptions, {"file": file, "to": to, "laps": "1"}), Console(), stop),
    "export": lambda file, to, stop: export.export(checked(ExportOptions, {"file": file, "to": to}), Console(), stop),
    "inspect": lambda file, to, stop: inspect.inspect(checked(InspectOptions, {"file": file}), Console(), stop),
    "recordings": lambda file, to, stop: recordings.recordings(
        checked(RecordingsOptions, {"folder": file.parent}), Console(), stop
    ),
}
FILES = {"cut": "b.cwrec", "export": "b.npz"}


@pytest.mark.parametrize("looks", [0, 300, 900])
@pytest.mark.parametrize("verb", sorted(WORKS))
def test_it_ends_and_leaves_nothing(verb: str, looks: int, source: Path, tmp_path: Path) -> None:
    """After 300 looks each is in its first reading of the 500 or so lines; after 900 `export` is in its second."""
    to = tmp_path / FILES.get(verb, "none")
    stop = After(looks)
    if looks == 900 and verb in ("inspect", "recordings"):
        assert WORKS[verb](source, to, stop)
        return
    with pytest.raises(KeyboardInterrupt):
        WORKS[verb](source, to, stop)
    assert list(tmp_path.iterdir()) == []
