"""What is opened beside a session, and what is said where it cannot be."""

from __future__ import annotations

import io
import time
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from coach.app import settings, stage
from coach.app.config import Presenting
from coach.app.console import Console
from coach.app.stage import Prompter, staged
from coach.app.stop import Stop
from coach.overlay.look import Look
from coach.overlay.palette import Palette
from coach.overlay.placing import Placing
from coach.planner.phrases import Phrases
from coach.planner.playbook import Playbook
from coach.playbook.load import languages, load
from coach.vocabulary.errors import FormatError, InputError, WorkError
from coach.vocabulary.events import CornerMark, Corners, Cue, Fault, Run
from coach.vocabulary.faults import FAULTS
from tests.planner.made_circuit import lap_trace
from voice import lengths
from voice.open import RATE

PLAYBOOK = load()


class FakeVoice:
    def __init__(self) -> None:
        self.table = lengths.load()
        self.closed = False
        self.wanted: list[list[str]] = []

    def take(self, event: object) -> None:
        return None

    def want(self, phrases: Iterable[str]) -> None:
        self.wanted.append(list(phrases))

    def close(self) -> None:
        self.closed = True


class Opening:
    """Stands in for `open_voice`, and notes what it was asked for."""

    def __init__(self) -> None:
        self.voice = FakeVoice()
        self.phrases: list[str] = []
        self.asked: dict[str, Any] = {}

    def __call__(self, phrases: Iterable[str], **asked: Any) -> FakeVoice:
        self.phrases, self.asked = list(phrases), asked
        return self.voice


@pytest.fixture
def opening(monkeypatch: pytest.MonkeyPatch) -> Opening:
    made = Opening()
    monkeypatch.setattr(stage, "open_voice", made)
    return made


def test_nothing_asked_for_opens_nothing() -> None:
    said = io.StringIO()
    with staged(Presenting(voice=False, overlay=False), PLAYBOOK, Console(said), Stop()) as opened:
        assert (list(opened.sinks), list(opened.watchers), opened.window, opened.table) == ([], [], None, None)
    assert said.getvalue() == ""


def test_a_voice_hears_what_is_logged_and_gives_its_lengths_and_is_closed(opening: Opening) -> None:
    with staged(Presenting(overlay=False), PLAYBOOK, Console(io.StringIO()), Stop()) as opened:
        assert opened.sinks[0] is opening.voice
        assert opened.table is opening.voice.table
        assert not opening.voice.closed
    assert opening.voice.closed


def test_only_what_names_no_corner_is_waited_for_and_the_lengths_of_all_are_asked_for(opening: Opening) -> None:
    with staged(Presenting(overlay=False), PLAYBOOK, Console(io.StringIO()), Stop()):
        phrases = Phrases(PLAYBOOK)
        assert opening.phrases == phrases.anywhere()
        assert set(opening.asked["later"]) == set(phrases.all())


def test_the_lengths_of_corners_with_names_are_asked_for_too(opening: Opening) -> None:
    named = replace(PLAYBOOK, corners={"Brack Mere": {3: "the quarry"}, "elsewhere": {1: "the barn"}})
    with staged(Presenting(overlay=False), named, Console(io.StringIO()), Stop()):
        later = set(opening.asked["later"])
    assert {"Throttle sooner, the quarry", "Throttle sooner, the barn", "Throttle sooner, turn three"} <= later


def test_as_nothing_is_set_the_voice_is_the_languages_own(opening: Opening) -> None:
    with staged(Presenting(overlay=False), PLAYBOOK, Console(io.StringIO()), Stop()):
        asked = opening.asked
    assert (asked["voice"], asked["rate"], asked["volume"], asked["device"]) == ("en-us", RATE, 1.0, None)
    german = replace(PLAYBOOK, language=replace(PLAYBOOK.language, voice="de"))
    with staged(Presenting(overlay=False), german, Console(io.StringIO()), Stop()):
        assert opening.asked["voice"] == "de"


def test_the_settings_go_before_the_playbook_and_the_command_line_before_both(opening: Opening, tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text('[voice]\nspeaker = "en"\nwords_a_minute = 150\nvolume = 0.0\ndevice = "left"\n')
    with staged(Presenting(overlay=False, settings=path), PLAYBOOK, Console(io.StringIO()), Stop()):
        asked = opening.asked
        assert (asked["voice"], asked["rate"], asked["volume"], asked["device"]) == ("en", 150, 0.0, "left")
    said = Presenting(overlay=False, settings=path, speaker="de", words_a_minute=160, volume=0.5, sound_device="right")
    with staged(said, PLAYBOOK, Console(io.StringIO()), Stop()):
        asked = opening.asked
        assert (asked["voice"], asked["rate"], asked["volume"], asked["device"]) == ("de", 160, 0.5, "right")


@pytest.mark.parametrize("voice", [True, False])
def test_settings_that_are_wrong_open_nothing(voice: bool, opening: Opening, tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("[voice]\nvolume = 7\n")
    options = Presenting(voice=voice, overlay=False, settings=path)
    with pytest.raises(FormatError, match=r"mine\.toml: voice\.volume: "):
        staged(options, PLAYBOOK, Console(io.StringIO()), Stop()).__enter__()
    with pytest.raises(InputError, match="cannot be read"):
        staged(Presenting(settings=tmp_path / "none"), PLAYBOOK, Console(io.StringIO()), Stop()).__enter__()
    assert opening.asked == {}


@pytest.mark.parametrize(("takes", "lines"), [(0.0, 0), (0.2, 1)])
def test_phrases_that_take_long_are_worth_a_line(takes: float, lines: int, monkeypatch: pytest.MonkeyPatch) -> None:
    def open_voice(*_: object, **__: object) -> FakeVoice:
        time.sleep(takes)
        return FakeVoice()

    monkeypatch.setattr(stage, "open_voice", open_voice)
    monkeypatch.setattr(stage, "WORTH_A_LINE", 0.1)
    said = io.StringIO()
    with staged(Presenting(overlay=False), PLAYBOOK, Console(said), Stop()):
        time.sleep(0.2)  # so that a line that is not taken back would come
    assert said.getvalue() == lines * "making the voice's phrases ready, some seconds\n"


def test_a_screen_that_is_not_there_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    from coach.overlay import overlay

    def open_overlay(*_: object, **__: object) -> None:
        raise WorkError("no screen: the overlay is off")

    monkeypatch.setattr(overlay, "open_overlay", open_overlay)
    said = io.StringIO()
    with staged(Presenting(voice=False), PLAYBOOK, Console(said), Stop()) as opened:
        assert opened.window is None
        assert list(opened.watchers) == []
    assert said.getvalue() == "no screen: the overlay is off\n"


class Window(NamedTuple):
    """With what `open_overlay` was called, in its order."""

    say: Callable[[str], None]
    look: Look
    placing: Placing
    kind: str
    remember: Path | None


@pytest.fixture
def windows(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[Window]:
    """Each window that is opened, in place of a real one; the user's own folder is an empty one."""
    from coach.overlay import overlay

    made: list[Window] = []

    def open_overlay(*given: Any) -> Window:
        made.append(Window(*given))
        return made[-1]

    monkeypatch.setattr(overlay, "open_overlay", open_overlay)
    monkeypatch.setattr(settings, "settings_file", lambda: tmp_path / "own" / "settings.toml")
    return made


def opened_with(windows: list[Window], playbook: Playbook = PLAYBOOK, **options: Any) -> Window:
    with staged(Presenting(voice=False, **options), playbook, Console(io.StringIO()), Stop()):
        return windows[-1]


@pytest.mark.parametrize("spoken", [True, False])
def test_a_window_watches_everything_and_knows_whether_cues_sound(
    spoken: bool, opening: Opening, windows: list[Window]
) -> None:
    with staged(Presenting(voice=spoken), PLAYBOOK, Console(io.StringIO()), Stop()) as opened:
        assert [opened.window, *opened.watchers] == [windows[0], windows[0]]
        assert bool(opened.sinks) is spoken
    assert windows[0].look.spoken is spoken


def test_as_nothing_is_set_the_overlay_is_the_usual_one(windows: list[Window]) -> None:
    usual = opened_with(windows)
    assert usual.look == Look(spoken=False, words=usual.look.words)
    assert (usual.placing, usual.kind, usual.remember) == (Placing(), "edge", None)


def test_the_words_are_the_playbooks_short_ones(windows: list[Window]) -> None:
    words = opened_with(windows).look.words
    assert words == {fault: wording.short for fault, wording in PLAYBOOK.language.wordings.items()}
    assert len(words) == len(FAULTS)


def test_words_that_cannot_be_read_in_a_look_are_left_out(windows: list[Window]) -> None:
    """Four of them, very long ones, and letters that the font has not; the others stay."""
    wordings = dict(PLAYBOOK.language.wordings)
    bad = {"spin": "A bit more margin", "coasting": "Donaudampfschifffahrt unterbrechen", "lock_up": "ブレーキ"}
    for fault, short in bad.items():
        wordings[fault] = replace(wordings[fault], short=short)
    book = replace(PLAYBOOK, language=replace(PLAYBOOK.language, wordings=wordings))
    assert set(FAULTS) - set(opened_with(windows, book).look.words) == set(bad)


def test_the_settings_go_before_what_was_placed_and_the_command_line_before_both(
    windows: list[Window], tmp_path: Path
) -> None:
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "overlay.toml").write_text('monitor = "LEFT"\nacross = 0.25\ndown = 0.75\nsize = 40.0\n')
    placed = Placing("LEFT", 0.25, 0.75, 40.0)
    assert opened_with(windows).placing == placed
    mine = tmp_path / "own" / "settings.toml"
    mine.write_text(
        "[overlay]\ndistance = 0.9\npixel = 0.31\nsize = 25\nopacity = 1.0\ntext = true\ntimes = false\n"
        'window = "screen"\nmonitor = "RIGHT"\ncolours = { ahead = "#66ccff" }\n'
    )
    settled = opened_with(windows)
    assert settled.placing == Placing("RIGHT", 0.25, 0.75, 25.0)
    look = settled.look
    assert (look.distance, look.pitch, look.opacity, look.text, look.times) == (0.9, 0.31, 1.0, True, False)
    assert look.palette == Palette(ahead=(0x66, 0xCC, 0xFF))
    assert (settled.kind, settled.remember) == ("screen", None)
    said = opened_with(windows, monitor="TOP", text=False, full_screen=True)
    assert (said.placing.monitor, said.look.text, said.look.times, said.kind) == ("TOP", False, False, "screen")


@pytest.mark.parametrize("setting", ['[overlay]\nwindow = "window"\n', '[overlay]\nwindow = "screen"\n'])
def test_an_ordinary_window_remembers_where_it_was_left_in_a_file_of_its_own(
    setting: str, windows: list[Window], tmp_path: Path
) -> None:
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "settings.toml").write_text(setting)
    (tmp_path / "own" / "overlay.toml").write_text("size = 45\n")
    made = opened_with(windows, window=True)
    assert (made.kind, made.placing.size) == ("window", 45.0)
    assert made.remember == tmp_path / "own" / "window.json"
    assert opened_with(windows).remember == (made.remember if '"window"' in setting else None)
    full = opened_with(windows, full_screen=True)
    assert (full.kind, full.remember) == ("screen", None)


@pytest.mark.parametrize(
    ("file", "content", "says"),
    [
        ("settings.toml", '[overlay.colours]\nplain = "#777777"\n', "7:1 is needed"),
        ("settings.toml", "[overlay]\nsize = 12.5\n", "text of 12.5 arcmin is too small"),
        ("overlay.toml", "size = 12.5\n", "size: a number from 20"),
    ],
)
def test_a_wrong_colour_or_size_opens_neither_overlay_nor_voice(
    file: str, content: str, says: str, opening: Opening, windows: list[Window], tmp_path: Path
) -> None:
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / file).write_text(content)
    with pytest.raises(FormatError, match=says):
        staged(Presenting(), PLAYBOOK, Console(io.StringIO()), Stop()).__enter__()
    assert (windows, opening.asked) == ([], {})


def test_without_an_overlay_nobody_asks_where_it_was_placed(windows: list[Window], tmp_path: Path) -> None:
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "overlay.toml").write_text("size = 1.0\n")
    with staged(Presenting(voice=False, overlay=False), PLAYBOOK, Console(io.StringIO()), Stop()):
        assert windows == []


def test_the_end_can_be_asked_for_while_phrases_are_rendered(monkeypatch: pytest.MonkeyPatch) -> None:
    def open_voice(*_: object, stopped: Callable[[], bool], **__: object) -> FakeVoice:
        assert not stopped()
        stop.asked = True
        assert stopped()
        raise KeyboardInterrupt

    stop = Stop()
    monkeypatch.setattr(stage, "open_voice", open_voice)
    with (
        pytest.raises(KeyboardInterrupt),
        staged(Presenting(overlay=False), PLAYBOOK, Console(io.StringIO()), stop),
    ):
        pass


def mark(corner: int, coached: bool = True) -> CornerMark:
    return CornerMark(corner, "left", 1.0, 2.0, 3.0, 4.0, (3.0,), coached=coached)


def run(track: str | None) -> Run:
    return Run(0.0, 0, "0", "generic", track, None, None, "en-us-175")


def corners(*marks: CornerMark) -> Corners:
    return Corners(0.0, 0, "a-map", marks, lap_trace())


def test_what_names_a_corner_is_asked_for_once_the_corners_are_known() -> None:
    voice = FakeVoice()
    prompter = Prompter(voice, PLAYBOOK)
    prompter.take(run(None))
    assert voice.wanted == []
    prompter.take(corners(mark(3), mark(4, coached=False), mark(7)))
    assert voice.wanted == [Phrases(PLAYBOOK).at([3, 7]), Phrases(PLAYBOOK).counted(range(1, 11))]
    assert "Throttle sooner, turn seven" in voice.wanted[0]
    assert "Ten minutes left" in {text.capitalize() for text in voice.wanted[1]}
    prompter.take(corners(mark(3), mark(8)))
    assert "Throttle sooner, turn eight" in voice.wanted[2]


def test_a_corner_is_asked_for_by_the_name_that_it_has_on_this_track() -> None:
    named = replace(PLAYBOOK, corners={"Brack Mere": {3: "the quarry"}})
    for track, name in (("Brack Mere", "the quarry"), ("elsewhere", "turn three"), (None, "turn three")):
        voice = FakeVoice()
        prompter = Prompter(voice, named)
        prompter.take(run(track))
        prompter.take(corners(mark(3)))
        assert f"Throttle sooner, {name}" in voice.wanted[0]


def test_a_cue_that_is_held_back_is_asked_for_and_one_that_is_spoken_is_the_voices_own_affair() -> None:
    voice = FakeVoice()
    prompter = Prompter(voice, PLAYBOOK)
    cue = Cue(1.0, 2, "status", None, (), None, "23 minutes left", False, None, None, None, "busy")
    prompter.take(cue)
    prompter.take(replace(cue, spoken=True, starts=1.0, ends=2.0))
    prompter.take(Fault(1.0, 2, "late_throttle", 3, 100.0))
    assert voice.wanted == [["23 minutes left"]]


@pytest.mark.parametrize("code", languages())
def test_what_can_be_said_has_its_length_in_the_shipped_table(code: str, tmp_path: Path) -> None:
    path = tmp_path / "playbook.toml"
    path.write_text(f'language = "{code}"\n')
    playbook = load(str(path))
    table = lengths.for_voice(playbook.language.voice)
    assert table.name == f"{playbook.language.voice}-{lengths.RATE}"
    assert set(Phrases(playbook).all()) <= set(table.lengths)


@pytest.mark.parametrize("named", [False, True])
def test_a_language_without_a_voice_here_is_spoken_by_the_systems_own_unless_it_was_asked_for_by_name(
    named: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str | None] = []

    def opening(phrases: Iterable[str], **wanted: Any) -> FakeVoice:
        asked.append(wanted["voice"])
        if wanted["voice"] is not None:
            raise InputError("voice: there is no 'de' here")
        return FakeVoice()

    monkeypatch.setattr(stage, "open_voice", opening)
    german = replace(PLAYBOOK, language=replace(PLAYBOOK.language, voice="de"))
    said = io.StringIO()
    options = Presenting(overlay=False, speaker="de" if named else None)
    if named:
        with pytest.raises(InputError, match="there is no 'de'"):
            staged(options, german, Console(said), Stop()).__enter__()
        assert asked == ["de"]
        return
    with staged(options, german, Console(said), Stop()):
        assert asked == ["de", None]
    assert said.getvalue() == "voice: there is no 'de' here; the system's own voice speaks instead\n"
