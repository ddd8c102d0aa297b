"""A recording that is run through the line once more, to be looked at as a kept session is."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from coach.app.config import DebriefOptions, Judged
from coach.app.console import Console
from coach.app.line import Line
from coach.app.replay import Opened, Step, given, opened_for
from coach.app.stop import Stop
from coach.app.telling.numbers import DATED
from coach.app.telling.progressbar import EACH, ProgressBar
from coach.review.collector import Collector
from coach.review.model import KeptSession
from coach.vocabulary.errors import InputError
from feeds.paths import on_one_line


def redriven(options: DebriefOptions, file: Path, console: Console, stop: Stop) -> KeptSession:
    """A recording, run fast through the same line as a replay; its last session in which a lap ended.

    InputError for a file, or a reference, that does not serve.
    """
    judged = Judged(
        file=file,
        port=options.port,
        feed=options.feed,
        layout=options.layout,
        reference=options.reference,
        memory=options.memory,
    )
    collector = Collector()
    with ProgressBar(f"reading {on_one_line(file.name)}") as bar:
        said = bar.above(console)
        source = opened_for(judged, None, said, stop)
        line = Line(source.start.engine, source.start.planner, [], [collector])
        for _ in given(line, _seen(source, collector, bar, stop)):
            pass
        line.finish()
        source.close(said)
    sessions = collector.sessions
    if not sessions:
        raise InputError(f"{on_one_line(file)} holds no session: nothing in it says that a drive began")
    driven = [session for session in sessions if session.laps] or sessions
    if len(sessions) > 1:
        console.say(f"there are {len(sessions)} sessions in {on_one_line(file)}: this is the last in which a lap ended")
    return driven[-1]


def _seen(source: Opened, collector: Collector, bar: ProgressBar, stop: Stop) -> Iterator[Step]:
    """The steps, each shown to the collector before it is given, and each session dated by when it came."""
    for number, step in enumerate(source.steps):
        if stop.asked:
            raise KeyboardInterrupt
        if number % EACH == 0:
            bar.at(source.recording.share)
        if step.sample is not None:
            collector.see(step.sample)
        yield step
        if collector.sessions:
            session = collector.sessions[-1]
            if session.begun is None and step.received >= DATED:
                session.begun = step.received
            session.ended = None if session.begun is None else step.received
