"""What is opened beside a session, and what is said where it cannot be."""

from __future__ import annotations

import io
import time
from collections.abc import Callable

import pytest

from coach.app import stage
from coach.app.config import Presenting
from coach.app.console import Console
from coach.app.stage import staged
from coach.app.stop import Stop
from coach.engine.faults import FAMILIES, WATCHES
from coach.planner.wording import WORDINGS, all_phrases
from coach.vocabulary.errors import WorkError
from voice import lengths


class FakeVoice:
    def __init__(self) -> None:
        self.table = lengths.load()
        self.closed = False

    def take(self, event: object) -> None:
        return None

    def close(self) -> None:
        self.closed = True


def test_nothing_asked_for_opens_nothing() -> None:
    said = io.StringIO()
    with staged(Presenting(voice=False, overlay=False), Console(said), Stop()) as opened:
        assert (list(opened.sinks), list(opened.watchers), opened.window, opened.table) == ([], [], None, None)
    assert said.getvalue() == ""


def test_a_voice_hears_what_is_logged_and_gives_its_lengths_and_is_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    voice = FakeVoice()
    asked: list[list[str]] = []

    def open_voice(phrases: list[str], **_: object) -> FakeVoice:
        asked.append(phrases)
        return voice

    monkeypatch.setattr(stage, "open_voice", open_voice)
    with staged(Presenting(overlay=False), Console(io.StringIO()), Stop()) as opened:
        assert list(opened.sinks) == [voice]
        assert opened.table is voice.table
        assert not voice.closed
    assert voice.closed
    assert asked == [all_phrases()]


@pytest.mark.parametrize(("takes", "lines"), [(0.0, 0), (0.2, 1)])
def test_phrases_that_take_long_are_worth_a_line(takes: float, lines: int, monkeypatch: pytest.MonkeyPatch) -> None:
    def open_voice(*_: object, **__: object) -> FakeVoice:
        time.sleep(takes)
        return FakeVoice()

    monkeypatch.setattr(stage, "open_voice", open_voice)
    monkeypatch.setattr(stage, "WORTH_A_LINE", 0.1)
    said = io.StringIO()
    with staged(Presenting(overlay=False), Console(said), Stop()):
        time.sleep(0.2)  # so that a line that is not taken back would come
    assert said.getvalue() == lines * "making the voice's phrases ready, some seconds\n"


def test_a_screen_that_is_not_there_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    from coach.overlay import overlay

    def open_overlay(*_: object, **__: object) -> None:
        raise WorkError("no screen: the overlay is off")

    monkeypatch.setattr(overlay, "open_overlay", open_overlay)
    said = io.StringIO()
    with staged(Presenting(voice=False), Console(said), Stop()) as opened:
        assert opened.window is None
        assert list(opened.watchers) == []
    assert said.getvalue() == "no screen: the overlay is off\n"


@pytest.mark.parametrize("spoken", [True, False])
def test_a_window_watches_everything_and_knows_whether_cues_sound(
    spoken: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    from coach.overlay import overlay

    window = object()
    asked: list[dict[str, object]] = []
    monkeypatch.setattr(overlay, "open_overlay", lambda say, **given: asked.append(given) or window)
    monkeypatch.setattr(stage, "open_voice", lambda *_, **__: FakeVoice())
    with staged(Presenting(voice=spoken), Console(io.StringIO()), Stop()) as opened:
        assert opened.window is window
        assert list(opened.watchers) == [window]
        assert len(opened.sinks) == spoken
    assert asked == [{"spoken": spoken}]


def test_the_end_can_be_asked_for_while_phrases_are_rendered(monkeypatch: pytest.MonkeyPatch) -> None:
    def open_voice(*_: object, stopped: Callable[[], bool], **__: object) -> FakeVoice:
        assert not stopped()
        stop.asked = True
        assert stopped()
        raise KeyboardInterrupt

    stop = Stop()
    monkeypatch.setattr(stage, "open_voice", open_voice)
    with pytest.raises(KeyboardInterrupt), staged(Presenting(overlay=False), Console(io.StringIO()), stop):
        pass


def test_what_can_be_said_is_rendered_ahead_and_its_length_is_in_the_shipped_table() -> None:
    phrases = all_phrases()
    table = lengths.load().lengths
    assert set(phrases) <= set(table)
    for judge in (*FAMILIES, *WATCHES):
        for fault in judge.faults:
            assert WORDINGS[fault].full in phrases
            assert f"{WORDINGS[fault].full}, turn forty" in phrases
