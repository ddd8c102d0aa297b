"""File names in messages."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from coach.app.config import ReplayOptions, checked
from coach.vocabulary.errors import InputError
from feeds.paths import on_one_line
from feeds.recording import RecordingWriter


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("laps/Ru\xe9 \u6771 1.cwrec", "laps/Ru\xe9 \u6771 1.cwrec"),
        ("back\\slash", "back\\slash"),
        ("a\nb\r\x1b[2J", "a\\nb\\r\\x1b[2J"),
        ("a\u2028b", "a\\u2028b"),
        (os.fsdecode(b"\xff.cwrec"), "\\udcff.cwrec"),
    ],
)
def test_what_cannot_be_printed_is_escaped(name: str, shown: str) -> None:
    assert on_one_line(name) == on_one_line(Path(name)) == shown


def test_a_file_that_would_be_overwritten_is_named_on_one_line(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="are the same file") as caught:
        checked(ReplayOptions, {"file": tmp_path / "a\nb", "events": str(tmp_path / "a\nb")})
    assert str(caught.value).isprintable()


def test_a_recording_that_cannot_be_made_is_named_on_one_line(tmp_path: Path) -> None:
    (tmp_path / "a\nb").touch()
    for path in (tmp_path / "a\nb", tmp_path / "no\nfolder" / "a.cwrec"):
        with pytest.raises(InputError) as caught:
            RecordingWriter(path, {})
        assert str(caught.value).isprintable()
