"""The file of buttons: what is written is read back, and what is wrong in it is one line with the key."""

from __future__ import annotations

import os
import sys
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from coach.app import buttonfile
from coach.controls.bindings import Bindings
from coach.controls.button import Button
from coach.overlay.kept import quoted
from coach.vocabulary.errors import FormatError, InputError, WorkError
from tests.controls.buttons import ANY_BINDINGS

DEVICE = "03000000" + "ab" * 12
GOOD = f'[[button]]\naction = "mark"\ndevice = "{DEVICE}"\nkind = "button"\nnumber = 3\n'


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(buttonfile, "settings_file", lambda: tmp_path / "own" / "settings.toml")
    (tmp_path / "own").mkdir()
    return tmp_path / "own" / "buttons.toml"


def refused(path: Path, text: str) -> str:
    path.write_text(text)
    with pytest.raises(FormatError) as raised:
        buttonfile.read()
    line = str(raised.value)
    start, end = f"buttons {path}: ", ", or remove them all with `cornerword buttons --clear`"
    assert line.startswith(start) and line.endswith(end) and "\n" not in line
    return line.removeprefix(start).removesuffix(end)


@given(bindings=ANY_BINDINGS)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=50, deadline=None)
def test_what_is_saved_is_read_back_in_its_order(path: Path, bindings: Bindings) -> None:
    assert buttonfile.save(bindings) == path
    found = buttonfile.read()
    assert list(found.actions.items()) == list(bindings.actions.items())
    assert [button.name for button in found.actions] == [button.name for button in bindings.actions]
    assert os.listdir(path.parent) == [path.name], "nothing is left beside it"


def test_the_text_is_toml_as_the_standard_library_reads_it() -> None:
    """TOML 1.0.0, by `tomllib`: quotes, a backslash and the delete character in a name."""
    odd = Button(DEVICE, "hat", 0, "up", 'a "b" \\ é')
    found = tomllib.loads(buttonfile.written(Bindings({odd: "status"})))
    assert found == {
        "button": [
            {"action": "status", "device": DEVICE, "name": odd.name, "kind": "hat", "number": 0, "direction": "up"}
        ]
    }
    assert tomllib.loads(f"a = {quoted(chr(127) + chr(10))}") == {"a": "\x7f\n"}


def test_no_file_binds_nothing_and_clearing_it_says_so(path: Path) -> None:
    assert buttonfile.read() == Bindings()
    assert buttonfile.clear() is False
    path.write_text("not TOML at all")
    assert buttonfile.clear() is True
    assert not path.exists()


def test_an_action_may_have_several_buttons(path: Path) -> None:
    path.write_text(GOOD + GOOD.replace("number = 3", "number = 4"))
    assert [button.number for button in buttonfile.read().of("mark")] == [3, 4]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (GOOD.replace("mark", "marc"), "button[0].action: no action is called 'marc'; did you mean mark?"),
        (GOOD.replace(DEVICE, "wheel"), "button[0].device: it has to look like ^[0-9a-f]{32}$, not 'wheel'"),
        (GOOD.replace("= 3", '= "3"'), "button[0].number: a whole number is needed, not '3'"),
        (GOOD.replace("= 3", "= -1"), "button[0].number: a number of 0 or more is needed, not -1"),
        (GOOD.replace('"button"', '"buton"'), "button[0].kind: 'buton' is none of its values; did you mean button?"),
        (
            GOOD + 'direction = "up"\n',
            "button[0].direction: 'up' is no direction of a button; leave it out",
        ),
        (
            GOOD.replace('"button"', '"axis"') + 'direction = "up"\n',
            "button[0].direction: 'up' is no direction of an axis; give one of +, -",
        ),
        (GOOD.replace('"button"', '"hat"'), "button[0].direction: '' is no direction of a hat; give one of"),
        (GOOD + "colour = 1\n", "button[0].colour: no key is called 'colour' here; choose from action,"),
        (GOOD + GOOD.replace("mark", "repeat"), "button[1]: the same as button[0], which does mark; leave one out"),
        (GOOD.replace("[[button]]", "[button]"), "button: a list in [ ] is needed, not a table"),
        (GOOD.replace('action = "mark"\n', ""), "button[0].action: it is missing: write it"),
        (GOOD + "x", "not TOML: "),
        ("buttons = []", "buttons: no key is called 'buttons' here; did you mean button?"),
    ],
)
def test_what_is_wrong_is_named(path: Path, text: str, expected: str) -> None:
    assert refused(path, text).startswith(expected)


def test_a_file_that_cannot_be_read_or_written(path: Path) -> None:
    path.mkdir()
    with pytest.raises(InputError, match="cannot be read"):
        buttonfile.read()
    with pytest.raises(WorkError, match="cannot be written") as raised:
        buttonfile.save(Bindings({Button(DEVICE, "button", 1): "mark"}))
    assert str(path) in str(raised.value)
    assert os.listdir(path.parent) == [path.name], "nothing is left beside it"
    with pytest.raises(WorkError, match="cannot be written"):
        buttonfile.clear()


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_a_link_stays_one(path: Path, tmp_path: Path) -> None:
    kept = tmp_path / "kept.toml"
    path.symlink_to(kept)
    buttonfile.save(Bindings({Button(DEVICE, "button", 1): "mark"}))
    assert path.is_symlink() and 'action = "mark"' in kept.read_text()
