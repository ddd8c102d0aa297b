"""What the driver sees and hears beside a session: the voice and the overlay, or one line for what cannot be."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol, TypeVar

from coach.app import seen, settings
from coach.app.beside import Window
from coach.app.config import Presenting
from coach.app.console import Console
from coach.app.line import Sink
from coach.app.seen import Opening
from coach.app.settings import VoiceSettings
from coach.app.stop import Stop
from coach.planner.phrases import Phrases, everything
from coach.planner.playbook import Playbook
from coach.vocabulary.errors import InputError, WorkError
from coach.vocabulary.events import Corners, Cue, Event, Run
from voice.lengths import LengthTable
from voice.open import RATE, open_voice
from voice.voice import Voice

if TYPE_CHECKING:
    from coach.overlay.overlay import Overlay

WORTH_A_LINE = 3.0
"""s of rendering that are worth a line: it takes about two at the first start, and none once the phrases are kept."""
COUNTS = range(1, 11)
"""Laps and minutes left whose phrases are prepared; of more, each is rendered when it is asked for."""
LOUDEST = 1.0
"""The volume if none is set: the level of the phrases themselves."""

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Stage:
    """`sinks` hear what is logged, `watchers` everything; `window` is drawn on the process's first thread.

    `table`: how long the voice takes to say its phrases, None without a voice.
    """

    sinks: Sequence[Sink] = ()
    watchers: Sequence[Sink] = ()
    window: Window | None = None
    table: LengthTable | None = None


class Wants(Protocol):
    """Something that has phrases ready when they are asked for."""

    def want(self, phrases: Iterable[str]) -> None:
        """Have these ready, in this order."""
        ...


class Prompter:
    """Has the voice prepare what it may have to say: what names a corner, once the circuit's corners are known, and
    behind that what has a number in it.

    A cue that is held back is one that may come again. What is spoken, the voice takes care of itself.
    """

    def __init__(self, voice: Wants, playbook: Playbook) -> None:
        self._voice, self._playbook = voice, playbook
        self._phrases = Phrases(playbook)

    def take(self, event: Event) -> None:
        """Look at one event."""
        if isinstance(event, Run):
            self._phrases = Phrases(self._playbook, event.track)
        elif isinstance(event, Corners):
            self._voice.want(self._phrases.at(mark.corner for mark in event.corners if mark.coached))
            self._voice.want(self._phrases.counted(COUNTS))
        elif isinstance(event, Cue) and not event.spoken:
            self._voice.want([event.text])


@contextmanager
def staged(options: Presenting, playbook: Playbook, console: Console, stop: Stop) -> Iterator[Stage]:
    """Open what `options` ask for, to say what is in `playbook`. KeyboardInterrupt where `stop` asks for the end while
    phrases are rendered; InputError for settings that are not right."""
    chosen = settings.read(options.settings)
    opening = seen.opening(options, chosen.overlay, playbook) if options.overlay else None
    with ExitStack() as opened:
        sinks: list[Sink] = []
        table = None
        if options.voice:
            voice = opened.enter_context(closing(_voice(options, chosen.voice, playbook, console, stop)))
            sinks, table = [voice, Prompter(voice, playbook)], voice.table
        window = None if opening is None else _window(console, opening)
        yield Stage(sinks=sinks, watchers=[] if window is None else [window], window=window, table=table)


def _voice(options: Presenting, chosen: VoiceSettings, playbook: Playbook, console: Console, stop: Stop) -> Voice:
    line = threading.Timer(WORTH_A_LINE, console.say, ["making the voice's phrases ready, some seconds"])
    line.daemon = True
    line.start()
    try:
        return opened_voice(
            options, chosen, playbook, Phrases(playbook).anywhere(), console.say, stop, everything(playbook)
        )
    finally:
        line.cancel()


def opened_voice(
    options: Presenting,
    chosen: VoiceSettings,
    playbook: Playbook,
    phrases: Iterable[str],
    tell: Callable[[str], None],
    stop: Stop,
    later: Iterable[str] = (),
) -> Voice:
    """A voice for these phrases, and for what may come `later`, as the command line, the settings and the playbook's
    language choose it, in this order.

    A language that has no voice here is spoken by the system's own, which is told; InputError for one asked for by name
    that there is not.
    """
    named = _first(options.speaker, chosen.speaker)

    def opened(speaker: str | None) -> Voice:
        return open_voice(
            phrases,
            later=later,
            tell=tell,
            voice=speaker,
            rate=_first(options.words_a_minute, chosen.words_a_minute) or RATE,
            volume=_volume(options, chosen),
            device=_first(options.sound_device, chosen.device),
            diagnostics=options.sound_log,
            stopped=lambda: stop.asked,
        )

    try:
        return opened(playbook.language.voice if named is None else named)
    except InputError as error:
        if named is not None or not str(error).startswith("voice: "):
            raise
        tell(f"{error}; the system's own voice speaks instead")  # the playbook's language has none here
        return opened(None)


def _volume(options: Presenting, chosen: VoiceSettings) -> float:
    volume = _first(options.volume, chosen.volume)
    return LOUDEST if volume is None else volume


def _first(*given: T | None) -> T | None:
    """The first that was given: the command line goes before the settings, and these before the playbook."""
    return next((one for one in given if one is not None), None)


def _window(console: Console, opening: Opening) -> Overlay | None:
    try:
        from coach.overlay.overlay import open_overlay  # a pygame that cannot be loaded costs the overlay alone

        return open_overlay(console.say, opening.look, opening.placing, opening.kind, opening.remember)
    except WorkError as error:
        console.say(str(error))
        return None
