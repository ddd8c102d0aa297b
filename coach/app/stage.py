"""What the driver sees and hears beside a session: the voice and the overlay, or one line for what cannot be."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from coach.app.beside import Window
from coach.app.config import Presenting
from coach.app.console import Console
from coach.app.line import Sink
from coach.app.stop import Stop
from coach.planner.wording import all_phrases
from coach.vocabulary.errors import WorkError
from voice.lengths import LengthTable
from voice.open import open_voice
from voice.voice import Voice

if TYPE_CHECKING:
    from coach.overlay.overlay import Overlay

WORTH_A_LINE = 2.0
"""s of rendering that are worth a line: it takes about ten at the first start, and none once the phrases are kept."""


@dataclass(frozen=True, slots=True)
class Stage:
    """`sinks` hear what is logged, `watchers` everything; `window` is drawn on the process's first thread.

    `table`: how long the voice takes to say its phrases, None without a voice.
    """

    sinks: Sequence[Sink] = ()
    watchers: Sequence[Sink] = ()
    window: Window | None = None
    table: LengthTable | None = None


@contextmanager
def staged(options: Presenting, console: Console, stop: Stop) -> Iterator[Stage]:
    """Open what `options` ask for. KeyboardInterrupt where `stop` asks for the end while phrases are rendered."""
    with ExitStack() as opened:
        voice = opened.enter_context(closing(_voice(options, console, stop))) if options.voice else None
        window = _window(console, voice is not None) if options.overlay else None
        yield Stage(
            sinks=[] if voice is None else [voice],
            watchers=[] if window is None else [window],
            window=window,
            table=None if voice is None else voice.table,
        )


def _voice(options: Presenting, console: Console, stop: Stop) -> Voice:
    line = threading.Timer(WORTH_A_LINE, console.say, ["making the voice's phrases ready, some seconds"])
    line.daemon = True
    line.start()
    try:
        return open_voice(all_phrases(), tell=console.say, diagnostics=options.sound_log, stopped=lambda: stop.asked)
    finally:
        line.cancel()


def _window(console: Console, spoken: bool) -> Overlay | None:
    try:
        from coach.overlay.overlay import open_overlay  # a pygame that cannot be loaded costs the overlay alone

        return open_overlay(console.say, spoken=spoken)
    except WorkError as error:
        console.say(str(error))
        return None
