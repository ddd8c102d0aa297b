"""Says a few known sentences aloud beside the terminal, where there is a voice; else the terminal has to do."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager

from coach.app import settings
from coach.app.config import Presenting
from coach.app.console import Console
from coach.app.stage import opened_voice
from coach.app.stop import Stop
from coach.playbook.load import load
from coach.vocabulary.events import Cue

Speak = Callable[[str], None]


@contextmanager
def aloud(sentences: Sequence[str], wanted: bool, console: Console, stop: Stop) -> Iterator[Speak]:
    """A way to say these sentences, which returns at once; without a voice, or where none is `wanted`, it does nothing.

    InputError for settings that are not right; KeyboardInterrupt where `stop` asks for the end meanwhile.
    """
    if not wanted:
        yield _silent
        return
    chosen = settings.read().voice
    with closing(opened_voice(Presenting(), chosen, load(), sentences, console.say, stop)) as voice:
        yield lambda text: voice.take(said(text))


def said(text: str, kind: str = "status") -> Cue:
    """A sentence as the voice takes it."""
    return Cue(
        t=0.0,
        lap=0,
        kind=kind,
        about=None,
        of=(),
        corner=None,
        text=text,
        spoken=True,
        starts=None,
        ends=None,
        deadline=None,
        why_not=None,
    )


def _silent(text: str) -> None:
    return None
