"""`progress`: what became of the last sessions of one driver, car and circuit."""

from __future__ import annotations

from coach.app.config import ProgressOptions
from coach.app.console import Console
from coach.app.kept import dated, with_some_channels
from coach.app.pagefiles import check_page, write_page
from coach.app.remembering.opening import opened
from coach.app.stop import Stop
from coach.app.telling.progressbar import ProgressBar
from coach.app.telling.progresstext import progress_text
from coach.review.model import KeptSession
from coach.review.progress import progress as progress_of
from coach.store.memory import Memory
from coach.store.rows import SessionRow
from coach.vocabulary.errors import InputError


def progress(options: ProgressOptions, console: Console, stop: Stop) -> str:
    """The view of a week; returns the text. InputError where there is no such session."""
    check_page(options.to)
    with opened(options.memory) as memory, ProgressBar("reading the memory") as bar:
        rows = _meant(memory, options)[: options.sessions]
        sessions: list[KeptSession] = []
        for row in bar.over(rows[::-1], len(rows)):
            if stop.asked:
                raise KeyboardInterrupt
            sessions.append(with_some_channels(memory, memory.session(row.id)))
    found = dated(progress_of(sessions))
    text = progress_text(found)
    if options.to is not None:
        from coach.debrief.page import progress_page

        text += "\n" + write_page(options.to, progress_page(found, None))
    return text


def _meant(memory: Memory, options: ProgressOptions) -> list[SessionRow]:
    """The sessions that are meant, the newest first: what is not named is that of the session kept last."""
    rows = [
        row
        for row in memory.sessions(options.driver, options.car, options.track)
        if row.laps  # one in which no lap ended tells nothing of progress
    ]
    if not rows:
        raise InputError(
            "the memory holds no such session with a lap: `cornerword memory sessions` lists what it holds"
        )
    last = max(rows, key=lambda row: row.id)  # a clock may have been wrong
    return [row for row in rows if (row.driver, row.car, row.track) == (last.driver, last.car, last.track)]
