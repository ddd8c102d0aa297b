"""The file of settings: what stands in it, what goes before it, and what is said where it is wrong."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from coach.app import settings
from coach.app.cli import parser
from coach.app.config import DemoOptions, DriveOptions, Options, ReplayOptions, checked
from coach.app.settings import Settings, VoiceSettings, read, settings_file
from coach.playbook.tables import LARGEST
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
