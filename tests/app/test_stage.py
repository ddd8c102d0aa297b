"""What is opened beside a session, and what is said where it cannot be."""

from __future__ import annotations

import io
import time
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from coach.app import stage
from coach.app.config import Presenting
from coach.app.console import Console
from coach.app.stage import Prompter, staged
from coach.app.stop import Stop
from coach.planner.phrases import Phrases
from coach.playbook.load import languages, load
from coach.vocabulary.errors import FormatError, InputError, WorkError
from coach.vocabulary.events import CornerMark, Corners, Cue, Fault, Run
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


@pytest.mark.parametrize("spoken", [True, False])
def test_a_window_watches_everything_and_knows_whether_cues_sound(
    spoken: bool, opening: Opening, monkeypatch: pytest.MonkeyPatch
) -> None:
    from coach.overlay import overlay

    window = object()
    asked: list[dict[str, object]] = []
    monkeypatch.setattr(overlay, "open_overlay", lambda say, **given: asked.append(given) or window)
    with staged(Presenting(voice=spoken), PLAYBOOK, Console(io.StringIO()), Stop()) as opened:
        assert opened.window is window
        assert list(opened.watchers) == [window]
        assert bool(opened.sinks) is spoken
    assert asked == [{"spoken": spoken}]


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
