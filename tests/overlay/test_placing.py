"""The file of the overlay's place: saved whole or not at all, loaded the same, told of where it is wrong."""

from __future__ import annotations

import os
import stat
import sys
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.overlay import kept
from coach.overlay.placing import LARGEST, LEAST, Placing, load, save
from coach.vocabulary.errors import FormatError, InputError, WorkError

NAMES = st.one_of(
    st.none(),
    st.text(),
    st.sampled_from(['"', "'''", '"""', "\\", "a\nb\r\n\tc", "\x00\x1f\x7f\x85\u2028", "DP-1", "", "#", "\U0001f5a5"]),
)
SHARES = st.floats(0.0, 1.0)
PLACINGS = st.builds(Placing, NAMES, SHARES, SHARES, st.floats(LEAST, LARGEST))


@given(placing=PLACINGS)
def test_what_is_saved_is_loaded_the_same(placing: Placing, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("placing") / "overlay.toml"
    save(path, placing)
    assert load(path) == placing
    assert os.listdir(path.parent) == ["overlay.toml"], "nothing is left beside it"


@given(placing=PLACINGS)
def test_what_is_saved_is_toml_for_others_too(placing: Placing, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("placing") / "overlay.toml"
    save(path, placing)
    read = tomllib.loads(path.read_text(encoding="utf-8"))
    assert read.pop("monitor", None) == placing.monitor
    assert read == {"across": placing.across, "down": placing.down, "size": placing.size}


@given(
    placing=st.builds(
        Placing, st.text(st.characters()), st.floats(), st.floats(), st.one_of(st.floats(), st.integers(-9, 999))
    )
)
def test_whatever_is_saved_can_be_loaded(placing: Placing, tmp_path_factory: pytest.TempPathFactory) -> None:
    """A file that the next drive refuses would be worse than a place that is a little off."""
    path = tmp_path_factory.mktemp("placing") / "overlay.toml"
    save(path, placing)
    loaded = load(path)
    assert 0.0 <= loaded.across <= 1.0 and 0.0 <= loaded.down <= 1.0 and LEAST <= loaded.size <= LARGEST


def test_no_file_is_the_usual_place(tmp_path: Path) -> None:
    assert load(tmp_path / "none" / "overlay.toml") == Placing()


@pytest.mark.parametrize(
    ("content", "placing"),
    [
        ("", Placing()),
        ("\ufeffdown = 1\n", Placing(down=1.0)),
        ("size = 20\nacross = 0\n", Placing(across=0.0, size=20.0)),
        ("monitor = 'left'\n", Placing("left")),
    ],
)
def test_any_key_may_be_left_out(content: str, placing: Placing, tmp_path: Path) -> None:
    path = tmp_path / "overlay.toml"
    path.write_text(content, encoding="utf-8")
    assert load(path) == placing


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"size = 19.9\n", "size: a number from 20 to 120 (arcmin of a character's height) is needed, not 19.9; mend"),
        (b"size = 300\n", "size: a number from 20 to 120 (arcmin of a character's height) is needed, not 300; mend"),
        (b"across = nan\n", "across: a number from 0, left, to 1, right is needed, not nan; mend"),
        (b"down = -0.1\n", "down: a number from 0, top, to 1, bottom is needed, not -0.1; mend"),
        (b"down = true\n", "down: a number from 0, top, to 1, bottom is needed, not True; mend"),
        (b'across = "left"\n', "across: a number from 0, left, to 1, right is needed, not 'left'; mend"),
        (b"monitor = 1\n", "monitor: a monitor's name in quotes is needed, not 1; mend"),
        (b"sise = 30\n", "no key is called 'sise' here; there are monitor, across, down, size"),
        (b'"a\\nb" = 30\n', "no key is called 'a\\nb' here; there are"),
        (b"size = \n", "not TOML: "),
        (b"a = " + b"[" * 30_000, "not TOML: "),
        (b"monitor = '\xff'\n", "not UTF-8 text at byte 11; save it as UTF-8"),
        (b"#" * 100_001, "over 100 kB, none is that large; is it another file?"),
    ],
)
def test_what_is_wrong_is_one_line_with_file_and_key(content: bytes, says: str, tmp_path: Path) -> None:
    path = tmp_path / "overlay.toml"
    path.write_bytes(content)
    with pytest.raises(FormatError) as caught:
        load(path)
    assert str(caught.value).startswith(f"placing {path}: {says}")
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 400 + len(str(path))


def test_a_folder_is_neither_read_nor_written(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="it is no ordinary file"):
        load(tmp_path)
    with pytest.raises(WorkError, match="not written, it is no ordinary file"):
        save(tmp_path, Placing())


@pytest.mark.skipif(sys.platform == "win32", reason="there are no named pipes in folders")
def test_a_pipe_is_not_waited_for_and_not_replaced(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(InputError, match="it is no ordinary file"):
        load(pipe)
    with pytest.raises(WorkError, match="it is no ordinary file"):
        save(pipe, Placing())
    assert stat.S_ISFIFO(pipe.stat().st_mode)


def test_a_name_that_no_file_can_have_is_told() -> None:
    with pytest.raises(WorkError, match="not written, no name of a file"):
        save(Path("a\0b"), Placing())
    try:
        assert load(Path("a\0b")) == Placing()  # from Python 3.12 on, such a file is simply not there
    except InputError as error:
        assert "no name of a file" in str(error)


def test_the_folder_is_made(tmp_path: Path) -> None:
    path = tmp_path / "one" / "two" / "overlay.toml"
    save(path, Placing("left", 0.25, 0.75, 40.0))
    assert load(path) == Placing("left", 0.25, 0.75, 40.0)


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    real, link = tmp_path / "real.toml", tmp_path / "link.toml"
    real.write_text("size = 40\n")
    try:
        link.symlink_to(real)
    except OSError:
        pytest.skip("this system lets nobody link")
    save(link, Placing(size=50.0))
    assert link.is_symlink()
    assert load(real) == Placing(size=50.0)


def test_a_disk_that_fails_is_one_line_and_the_old_file_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "overlay.toml"
    save(path, Placing(size=40.0))

    def full(_source: str, _target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(kept.os, "replace", full)
    with pytest.raises(WorkError) as caught:
        save(path, Placing(size=50.0))
    assert str(caught.value) == (f"placing {path}: not written (No space left on device); make room, or name another")
    assert load(path) == Placing(size=40.0)
    assert os.listdir(tmp_path) == ["overlay.toml"], "nothing is left beside it"


def test_a_folder_that_is_a_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(WorkError, match="not written"):
        save(tmp_path / "file" / "overlay.toml", Placing())
