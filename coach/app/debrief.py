"""`debrief`: where the seconds of one session are, as text, as a page, as pictures."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from coach.app.config import DebriefOptions
from coach.app.console import Console
from coach.app.kept import dated, with_some_channels
from coach.app.pagefiles import charts, check_page, write_page, write_pictures
from coach.app.remembering.opening import opened
from coach.app.stop import Stop
from coach.app.telling.debrieftext import debrief_text
from coach.app.telling.progressbar import ProgressBar
from coach.review.model import KeptSession
from coach.review.progress import progress
from coach.review.results import Progress, Review, Thing
from coach.review.review import review
from coach.store.memory import Memory
from coach.vocabulary.errors import InputError

EARLIER = 6
"""sessions before this one that a page shows beside it: a week with this one (choice)"""
LAPS = 8
"""clean laps of each of these whose channels are read: a page is to be there at once (choice)"""


@dataclass(slots=True)
class Looked:
    """A session, what was told after the one before it, and those that came before, the oldest first."""

    session: KeptSession
    told_before: list[Thing] = field(default_factory=list)
    earlier: list[KeptSession] = field(default_factory=list)


def debrief(options: DebriefOptions, console: Console, stop: Stop) -> str:
    """The debrief; returns the text. InputError for a session or a file that is not there or does not serve."""
    check_page(options.to, options.pictures)
    number = _number(options.what)
    if options.what is None or number is not None:
        _check_kept(options)
        looked = _kept(options, number, stop)
    else:
        from coach.app.redriven import redriven  # engine, planner and feeds: a kept session needs none of them

        looked = Looked(redriven(options, Path(options.what), console, stop))
    found = review(looked.session, looked.told_before)
    written = ""
    if options.to is not None:
        written += write_page(options.to, _page(looked, found, console))
    if options.pictures is not None:
        from coach.debrief.pictures import pictures

        written += write_pictures(options.pictures, pictures(looked.session, found), console)
    return debrief_text(looked.session, found) + (f"\n{written}" if written else "")


def _check_kept(options: DebriefOptions) -> None:
    """Raises InputError for an option that only a recording has."""
    for name in ("reference", "port", "feed", "layout"):
        if getattr(options, name) is not None:
            why = "stands beside the reference that it had" if name == "reference" else "is no stream to be read"
            raise InputError(f"--{name}: a kept session {why}: leave it out, or name a recording")


def _page(looked: Looked, found: Review, console: Console) -> str:
    from coach.debrief.page import debrief_page

    script = charts(console)
    return debrief_page(looked.session, found, _progress(looked), script)


def _progress(looked: Looked) -> Progress | None:
    if not looked.earlier:
        return None
    return dated(progress([*looked.earlier, looked.session]))


def _number(what: str | None) -> int | None:
    return int(what) if what is not None and what.isascii() and what.isdecimal() and len(what) < 19 else None


def _kept(options: DebriefOptions, number: int | None, stop: Stop) -> Looked:
    """The session `number`, or the one kept last that has a lap."""
    drawn = options.to is not None or options.pictures is not None
    with opened(options.memory) as memory, ProgressBar("reading the memory") as bar:
        if number is None:
            last = memory.latest()
            if last is None:
                raise InputError("the memory holds no session yet: `cornerword drive` keeps one, or name a recording")
            number = last.id
        looked = Looked(memory.session(number, grids=drawn))
        before = memory.before(number)
        if before is not None:
            looked.told_before = memory.things(before)
        if options.to is not None:
            looked.earlier = _earlier(memory, before, stop, bar)
        return looked


def _earlier(memory: Memory, before: int | None, stop: Stop, bar: ProgressBar) -> list[KeptSession]:
    """The sessions before, each with the channels of some laps: a page shows of them what progress needs."""
    found: list[KeptSession] = []
    while before is not None and len(found) < EARLIER:
        if stop.asked:
            raise KeyboardInterrupt
        bar.at(len(found) / EARLIER)
        found.append(with_some_channels(memory, memory.session(before), LAPS))
        before = memory.before(before)
    return found[::-1]
