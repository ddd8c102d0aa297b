"""What the verbs do with the stage: voice and window hear the session, and it is timed by the voice's own lengths."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from make_stream import Drive

from coach.app import demo, drive, replay
from coach.app.config import DemoOptions, DriveOptions, ReplayOptions
from coach.app.console import Console
from coach.app.session import Session
from coach.app.source import Source
from coach.app.stage import Stage
from coach.app.start import fresh, from_head
from coach.app.stop import Stop
from coach.vocabulary.events import Event, Moment, Run
from feeds.base import Feed
from voice.lengths import LengthTable

SLOW = LengthTable("slow-90-12345678", "made 1 slow", 90, {"Throttle sooner": 1.9, "Shift down later": 2.1})


class Heard(list[Event]):
    """A sink that keeps what it hears, and a window that is gone at once."""

    def take(self, event: Event) -> None:
        self.append(event)

    def run(self, until: Callable[[], bool]) -> None:
        return None


@contextmanager
def staged(voice: Heard, window: Heard) -> Iterator[Stage]:
    yield Stage(sinks=[voice], watchers=[window], window=window, table=SLOW)


@pytest.mark.parametrize("verb", ["drive", "demo", "replay"])
def test_the_voice_hears_what_is_logged_and_the_window_everything(
    verb: str, practice: Drive, tmp_path: Path, practice_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = practice.datagrams()[:20]
    short = tmp_path / "short.jsonl"
    short.write_bytes(b"\n".join(rows))

    def listen(name: str, feed: Feed, receiver: object, clock: object, session: Session, *_: object) -> int:
        for number, row in enumerate(rows):
            session.coach(feed.decode(row), 1000.0 + number)
        return len(rows)

    voice, window = Heard(), Heard()
    module: Any = {"drive": drive, "demo": demo, "replay": replay}[verb]
    monkeypatch.setattr(module, "staged", lambda *_: staged(voice, window))
    console, stop = Console(io.StringIO()), Stop()
    if verb == "replay":
        replay.replay(ReplayOptions(file=short), console, stop)
    else:
        monkeypatch.setattr(module, "listen", listen)
        if verb == "drive":
            drive.drive(DriveOptions(port=0), console, stop)
        else:
            demo.demo(DemoOptions(reference=str(practice_file)), console, stop)
    assert isinstance(voice[0], Run)
    assert voice[0].phrases == ("en-us-175" if verb == "replay" else SLOW.name)
    assert [event for event in voice if not event.logged] == []
    assert [event for event in window if event.logged] == voice
    assert sum(isinstance(event, Moment) for event in window) == len(rows)


def test_a_start_that_speaks_has_the_voices_lengths_and_its_head_too() -> None:
    start = fresh(Source(), None, ("late_throttle",))
    assert start.speaking(None) is start
    speaking = start.speaking(SLOW)
    again = from_head(speaking.head(), None, ())
    for one in (speaking, again):
        assert one.planner.lengths == SLOW.lengths
        assert (one.planner.phrases, one.engine.phrases) == (SLOW.name, SLOW.name)
        assert one.planner.focus == ("late_throttle",)
    assert start.planner.lengths != SLOW.lengths
