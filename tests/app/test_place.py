"""`place` at the command line: what is said and written; test_place_window.py has it on real windows."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from coach.app import place as module
from coach.app import settings
from coach.app.cli import main
from coach.overlay.look import Look
from coach.overlay.placing import Placing, load, save


class Window:
    """Stands in for the window: the person at it does what `chosen` says."""

    opened: list[tuple[Placing, Look]]
    chosen: Placing | None

    def __init__(self, placing: Placing, look: Look, say: Callable[[str], None]) -> None:
        self.opened.append((placing, look))

    def run(self, until: Callable[[], bool]) -> Placing | None:
        assert not until()
        return self.chosen


@pytest.fixture
def window(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> type[Window]:
    """Nothing of this machine's settings is read or written."""
    monkeypatch.setattr(settings, "settings_file", lambda: tmp_path / "own" / "settings.toml")
    monkeypatch.setattr(module, "PlacerWindow", Window)
    Window.opened, Window.chosen = [], Placing("left", 0.25, 0.75, 42.0)
    return Window


def test_what_was_chosen_is_written_beside_the_settings(
    window: type[Window], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["place"]) == 0
    file = tmp_path / "own" / "overlay.toml"
    assert load(file) == Placing("left", 0.25, 0.75, 42.0)
    out, err = capsys.readouterr()
    assert out == f"{file}: monitor left, 25 % across, 75 % down, 42 arcmin\n"
    assert err == module.HELP + "\n" and "\n" not in module.HELP
    assert main(["place"]) == 0
    assert [placing for placing, _ in window.opened] == [Placing(), Placing("left", 0.25, 0.75, 42.0)]


def test_another_file_may_be_named(window: type[Window], tmp_path: Path) -> None:
    save(tmp_path / "mine.toml", Placing(size=50.0))
    assert main(["place", "--placing", str(tmp_path / "mine.toml")]) == 0
    assert window.opened[0][0] == Placing(size=50.0)
    assert load(tmp_path / "mine.toml").size == 42.0
    assert not (tmp_path / "own").exists()


def test_left_nothing_is_written(window: type[Window], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    window.chosen = None
    assert main(["place"]) == 0
    assert capsys.readouterr().out == "the overlay stays as it was: main monitor, 50 % across, 2 % down, 30 arcmin\n"
    assert not (tmp_path / "own").exists()


def test_it_looks_as_the_settings_say_and_as_in_a_drive(window: type[Window], tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text('[overlay]\ndistance = 0.9\nopacity = 0.95\ntimes = false\n[overlay.colours]\nplate = "#000010"\n')
    assert main(["place", "--settings", str(file)]) == 0
    assert main(["place", "--settings", str(file), "--no-voice"]) == 0
    (_, heard), (_, read) = window.opened
    assert (heard.distance, heard.opacity, heard.times, heard.spoken) == (0.9, 0.95, False, True)
    assert heard.palette.plate == (0, 0, 16)
    assert not read.spoken and read.words, "where nothing sounds, words show"


def test_what_the_settings_say_before_it_is_told(
    window: type[Window], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "mine.toml"
    file.write_text('[overlay]\nsize = 60\nmonitor = "other"\nwindow = "screen"\n')
    assert main(["place", "--settings", str(file)]) == 0
    assert capsys.readouterr().err.splitlines()[1:] == [
        "overlay.monitor = 'other' in your settings goes before this: leave it out there",
        "overlay.size = 60 in your settings goes before this: leave it out there",
        "overlay.window = 'screen' in your settings: this is for the one over the simulator",
    ]
    file.write_text('[overlay]\nsize = 42\nmonitor = "left"\nwindow = "edge"\n')
    assert main(["place", "--settings", str(file)]) == 0
    assert capsys.readouterr().err.splitlines()[1:] == []


@pytest.mark.parametrize(
    ("options", "content", "says"),
    [
        (
            (),
            "size = 500\n",
            "placing {file}: size: a number from 20 to 120 (arcmin of a character's height) is needed",
        ),
        (("--settings", "{file}"), "[overlay]\nsize = 5\n", "settings {file}: overlay.size: "),
        (("--playbook", "{file}"), "nonsense = 1\n", "playbook {file}: nonsense: "),
    ],
)
def test_a_file_that_is_not_right_is_told_before_any_window(
    options: tuple[str, ...],
    content: str,
    says: str,
    window: type[Window],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    file = tmp_path / "own" / "overlay.toml"
    if options:
        file = tmp_path / "mine.toml"
    file.parent.mkdir(exist_ok=True)
    file.write_text(content)
    assert main(["place", *(option.format(file=file) for option in options)]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err.startswith("cornerword: " + says.format(file=file)) and err.count("\n") == 1
    assert window.opened == []


def test_a_disk_that_refuses_is_told(window: type[Window], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "own").write_text("in the way of the folder")
    assert main(["place"]) == 1
    assert f"cornerword: placing {tmp_path / 'own' / 'overlay.toml'}: not written (" in capsys.readouterr().err


def test_without_a_screen_one_line_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(settings, "settings_file", lambda: tmp_path / "settings.toml")
    monkeypatch.setenv("SDL_VIDEODRIVER", "nonsense")
    assert main(["place"]) == 1
    line = "cornerword: no screen (nonsense not available): nothing can be placed; start it from a desktop\n"
    assert capsys.readouterr() == ("", line)


def test_help_tells_of_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["place", "--help"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Place and size the overlay before driving, by mouse, keyboard or game controller." in out
    assert "overlay.toml" in out
