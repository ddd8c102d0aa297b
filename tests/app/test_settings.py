"""The file of settings: what stands in it, what goes before it, and what is said where it is wrong."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from coach.app import settings
from coach.app.cli import main, parser
from coach.app.config import DemoOptions, DriveOptions, Options, Presenting, ReplayOptions, checked
from coach.app.settings import (
    ColourTable,
    OverlaySettings,
    Settings,
    VoiceSettings,
    placing_file,
    read,
    settings_file,
    window_file,
)
from coach.overlay.palette import DEFAULT, Palette
from coach.toml.reading import LARGEST
from coach.vocabulary.errors import CornerwordError, FormatError, InputError


def written(folder: Path, content: str | bytes) -> Path:
    path = folder / "settings.toml"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def test_every_key_of_the_voice_is_read(tmp_path: Path) -> None:
    path = written(
        tmp_path, '[voice]\nspeaker = "de"\nwords_a_minute = 150\nvolume = 0.5\ndevice = "Head phones, left"\n'
    )
    assert read(path) == Settings(
        voice=VoiceSettings(speaker="de", words_a_minute=150, volume=0.5, device="Head phones, left")
    )


@pytest.mark.parametrize("content", ["", "[voice]\n", "# nothing yet\n", "[voice]\nvolume = 1\n"])
def test_any_key_may_be_left_out(content: str, tmp_path: Path) -> None:
    voice = read(written(tmp_path, content)).voice
    assert (voice.speaker, voice.words_a_minute, voice.device) == (None, None, None)


def test_no_file_is_all_as_it_comes_and_one_that_is_named_must_be_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(settings, "settings_file", lambda: tmp_path / "none" / "settings.toml")
    assert read() == Settings()
    with pytest.raises(InputError) as caught:
        read(tmp_path / "mine.toml")
    where = f"settings {tmp_path / 'mine.toml'}"
    assert str(caught.value) == f"{where}: cannot be read (No such file or directory); name a TOML file"


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have other folders for it")
def test_the_users_own_file_is_where_the_system_keeps_such_things(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """XDG Base Directory Specification."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert settings_file() == tmp_path / "cornerword" / "settings.toml"
    settings_file().parent.mkdir()
    settings_file().write_text("[voice]\nvolume = 0.25\n")
    assert read().voice.volume == 0.25


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("[voice]\nvolume = 1.5\n", "voice.volume: a number of 1 or less is needed, not 1.5"),
        ("[voice]\nvolume = nan\n", "voice.volume: a finite number is needed, not nan"),
        ('[voice]\nvolume = "loud"\n', "voice.volume: a number is needed, not 'loud'"),
        ("[voice]\nvolume = true\n", "voice.volume: a number is needed, not true"),
        ("[voice]\nwords_a_minute = 20\n", "voice.words_a_minute: a number of 80 or more is needed, not 20"),
        ("[voice]\nwords_a_minute = 175.5\n", "voice.words_a_minute: a whole number is needed, not 175.5"),
        ('[voice]\ndevice = ""\n', "voice.device: text with at least 1 character is needed"),
        ("[voice]\nvolum = 1\n", "voice.volum: no key is called 'volum' here; did you mean volume?"),
        ("[voices]\n", "voices: no key is called 'voices' here; did you mean voice?"),
        ("voice = 1\n", "voice: a table is needed, not 1"),
        ("[voice\n", "not TOML: Expected ']' at the end of a table declaration (at line 1, column 7)"),
        (b"[voice]\nspeaker = '\xff'\n", "not UTF-8 text at byte 19; save it as UTF-8"),
        (b"#" * (LARGEST + 1), "over 1 MB"),
        ("a = " + "[" * 30_000, "not TOML: "),
        ("[overlay]\ndistance = 0.1\n", "overlay.distance: a number of 0.2 or more is needed, not 0.1"),
        ("[overlay]\npixel = 3\n", "overlay.pixel: a number of 2 or less is needed, not 3"),
        ("[overlay]\nopacity = 86\n", "overlay.opacity: a number of 1 or less is needed, not 86"),
        ("[overlay]\nsize = 12\n", "overlay.size: text of 12 arcmin is too small to be read: 20 or more are needed"),
        ("[overlay]\nsize = inf\n", "overlay.size: a finite number is needed, not inf"),
        ("[overlay]\npixel = 1.5\n", "overlay.size: text of 30 arcmin is 5 px high at 0.7 m on pixels of 1.5 mm, but"),
        ("[overlay]\ntext = 0\n", "overlay.text: true or false is needed, without quotes, not 0"),
        (
            "[overlay]\nwindow = 'corner'\n",
            "overlay.window: 'corner' is none of its values; choose from edge, window, ",
        ),
        (
            "[overlay.colours]\nahed = '#fff'\n",
            "overlay.colours.ahed: no key is called 'ahed' here; did you mean ahead?",
        ),
        ("[overlay.colours]\nahead = 'blue'\n", "overlay.colours.ahead: 'blue' is no colour: write # and two digits "),
        ("[overlay.colours]\nahead = '#56b4e'\n", "overlay.colours.ahead: '#56b4e' is no colour: "),
        ("[overlay.colours]\nahead = '#56b4e9ff'\n", "overlay.colours.ahead: '#56b4e9ff' is no colour: "),
        ("[overlay.colours]\nahead = 5682409\n", "overlay.colours.ahead: text in quotes is needed, not 5682409"),
        (
            "[overlay.colours]\nplain = '#777777'\n",
            "overlay.colours.plain: #777777 has a contrast of 3.21:1 on the plate over a white ground (90% opaque), ",
        ),
        ("[overlay]\nopacity = 0.5\n", "overlay.opacity: plain #e2e6ec has a contrast of 2.82:1 on the plate over a "),
        (
            "[overlay.colours]\nahead = '#00ff00'\nbehind = '#ffaaaa'\n",
            "overlay.colours.behind: #ffaaaa differs from ahead (#00ff00) by ",
        ),
    ],
)
def test_what_is_wrong_is_one_line_with_file_and_key(content: str | bytes, says: str, tmp_path: Path) -> None:
    path = written(tmp_path, content)
    with pytest.raises(FormatError) as caught:
        read(path)
    assert str(caught.value).startswith(f"settings {path}: {says}")
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 300 + len(str(path))


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(CornerwordError, match=r"cannot be read \(Is a directory\)"):
        read(tmp_path)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"volume": "2"}, "--volume: needs a number from 0 to 1, not '2'"),
        ({"volume": "nan"}, "--volume: needs a number from 0 to 1, not 'nan'"),
        ({"words_a_minute": "20"}, "--words-a-minute: needs words a minute, 80 to 450, not '20'"),
        ({"speaker": ""}, "--speaker: needs the name of one of the synthesiser's voices, not ''"),
        ({"sound_device": ""}, "--sound-device: needs the name of a sound device, or a part of it, not ''"),
    ],
)
@pytest.mark.parametrize("verb", [DriveOptions, ReplayOptions, DemoOptions])
def test_the_command_line_is_checked_alike(verb: type[Options], given: dict[str, str], says: str) -> None:
    with pytest.raises(InputError) as caught:
        checked(verb, {"file": "drive.cwrec", **given} if verb is ReplayOptions else given)
    assert str(caught.value) == says


def test_what_the_command_line_takes_the_settings_take(tmp_path: Path) -> None:
    """The ends of each range."""
    for words, volume in ((80, 0.0), (450, 1.0)):
        path = written(tmp_path, f"[voice]\nwords_a_minute = {words}\nvolume = {volume}\n")
        options = checked(DriveOptions, {"words_a_minute": str(words), "volume": str(volume)})
        voice = read(path).voice
        assert (options.words_a_minute, options.volume) == (voice.words_a_minute, voice.volume) == (words, volume)


def test_every_verb_that_speaks_has_the_options() -> None:
    names = ["--volume", "--words-a-minute", "--speaker", "--sound-device", "--settings"]
    for verb in (["drive"], ["replay", "drive.cwrec"], ["demo"]):
        given = vars(parser().parse_args([*verb, *(part for name in names for part in (name, "1"))]))
        assert {given[name.strip("-").replace("-", "_")] for name in names} == {"1"}


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    """Some editors begin each file with one."""
    assert read(written(tmp_path, b"\xef\xbb\xbf[voice]\nvolume = 0.5\n")).voice.volume == 0.5


def test_every_key_of_the_overlay_is_read(tmp_path: Path) -> None:
    content = (
        "[overlay]\ndistance = 0.65\npixel = 0.2\nsize = 24\nopacity = 0.95\ntext = true\ntimes = false\n"
        'window = "window"\nmonitor = "DP-2"\n[overlay.colours]\nahead = "#66CCFF"\nplate = "#000000"\n'
    )
    colours = ColourTable(ahead="#66CCFF", plate="#000000")
    assert read(written(tmp_path, content)).overlay == OverlaySettings(
        distance=0.65,
        pixel=0.2,
        size=24.0,
        opacity=0.95,
        text=True,
        times=False,
        window="window",
        monitor="DP-2",
        colours=colours,
    )
    assert colours.palette() == Palette(ahead=(0x66, 0xCC, 0xFF), plate=(0, 0, 0))


def test_colours_that_are_not_named_are_the_usual_ones() -> None:
    assert Settings().overlay.colours.palette() == DEFAULT


def test_a_refusal_of_colours_is_one_line_and_exit_code_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By the whole command, before anything listens, speaks or is drawn."""
    path = written(tmp_path, '[overlay.colours]\nahead = "#008000"\nbehind = "#ff0000"\n')
    assert main(["demo", "--settings", str(path)]) == 2
    out, err = capsys.readouterr()
    says = f"cornerword: settings {path}: overlay.colours.ahead: #008000 has a contrast of 2.80:1 on "
    assert out == ""
    assert err.startswith(says)
    assert err.count("\n") == 1


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have other folders for it")
def test_where_the_overlay_was_placed_is_kept_beside_the_settings(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert placing_file() == tmp_path / "cornerword" / "overlay.toml"
    assert window_file() == tmp_path / "cornerword" / "window.json"


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"window": True, "full_screen": True}, "--window and --full-screen are two kinds of window: leave one out"),
        ({"overlay": False, "window": True}, "--window: with --no-overlay there is no window: leave one out"),
        ({"overlay": False, "full_screen": True}, "--full-screen: with --no-overlay there is no window: leave one out"),
        ({"overlay": False, "monitor": "DP-2"}, "--monitor: with --no-overlay there is no window: leave one out"),
        ({"monitor": ""}, "--monitor: needs the name of a monitor, not ''"),
    ],
)
@pytest.mark.parametrize("verb", [DriveOptions, ReplayOptions, DemoOptions])
def test_an_overlay_that_cannot_be_is_refused(verb: type[Options], given: dict[str, object], says: str) -> None:
    with pytest.raises(InputError) as caught:
        checked(verb, {"file": "drive.cwrec", **given} if verb is ReplayOptions else given)
    assert str(caught.value) == says


@pytest.mark.parametrize("verb", [["drive"], ["replay", "drive.cwrec"], ["demo"]])
def test_every_verb_with_an_overlay_has_its_options(verb: list[str]) -> None:
    kinds = {"drive": DriveOptions, "replay": ReplayOptions, "demo": DemoOptions}

    def options(*given: str) -> Presenting:
        named = vars(parser().parse_args([*verb, *given]))
        made = checked(kinds[named.pop("verb")], named)
        assert isinstance(made, Presenting)
        return made

    plain = options()
    assert (plain.text, plain.times, plain.window, plain.full_screen, plain.monitor) == (None, None, False, False, None)
    said = options("--no-text", "--no-times", "--window", "--monitor", "DP-2")
    assert (said.text, said.times, said.window, said.full_screen, said.monitor) == (False, False, True, False, "DP-2")
    assert options("--full-screen").full_screen
