"""The verbs that listen: `drive` coaches a live stream, `record` only writes it to a file."""

from __future__ import annotations

from contextlib import ExitStack, closing
from pathlib import Path

from coach.app import buttonfile, settings
from coach.app.beside import beside
from coach.app.config import DriveOptions, RecordOptions
from coach.app.console import Console, Notices, Staged
from coach.app.eventlog import EventLog
from coach.app.following.sharing import shared
from coach.app.keeping import keeping
from coach.app.line import Sink
from coach.app.listening import listening
from coach.app.live import listen
from coach.app.presses import pressed
from coach.app.recalling import Recalling
from coach.app.session import Session, ended
from coach.app.source import chosen
from coach.app.stage import staged
from coach.app.start import SessionStart, fresh
from coach.app.stop import Stop
from coach.app.summary import Summary
from coach.controls.bindings import Bindings
from coach.playbook.load import load
from feeds.passon import PassOn
from feeds.recording import RecordingWriter


def drive(options: DriveOptions, console: Console, stop: Stop) -> str:
    """Coach a live stream until the end is asked for; returns the summary."""
    playbook = load(options.playbook)
    settings.read(options.settings)  # what is wrong in them is said before any work
    bindings = buttonfile.read() if options.buttons else Bindings()
    source = chosen(options.feed, options.layout)
    start = fresh(source, options.reference, options.focus, stop, playbook, memory=options.memory)
    start = start.alternating(options.alternate).at_stage(options.stage)
    summary = Summary()
    notices = Notices(console)
    sinks: list[Sink] = [console, notices]
    with ExitStack() as opened:
        receiver, clock = opened.enter_context(listening(options))
        sharing = opened.enter_context(shared(options, console))
        passing = opened.enter_context(PassOn(options.pass_on, (options.host, receiver.port)))
        feed = start.new_feed()
        if options.events is not None:
            log = EventLog(options.events, lambda line: console.say(f"{line}; the session goes on without it"))
            sinks.append(opened.enter_context(closing(log)))
        stage = opened.enter_context(staged(options, playbook, console, stop))
        start = start.speaking(stage.table)
        sinks += stage.sinks
        recorder = None if options.record is None else _recorder(options.record, start)
        share = None if sharing is None else sharing.share
        watchers: list[Sink] = [summary, Staged(console, notices), *stage.watchers]
        kept = opened.enter_context(keeping(options.memory, options.keep, console))
        recalling = None if kept is None else Recalling(kept, console.say)
        coached = Session(start, sinks, recorder, console, watchers, passing, share, kept, recalling)
        if passing.addresses:
            console.say(f"passing the stream on to {', '.join(passing.addresses)}")
        session = opened.enter_context(ended(coached, clock))
        presses = opened.enter_context(pressed(bindings, console))
        if sharing is not None:
            sharing.start(start, presses)
        beside(stage.window, lambda: listen(start.feed, feed, receiver, clock, session, console, stop, presses))
    return summary.text(kept)


def record(options: RecordOptions, console: Console, stop: Stop) -> str:
    """Write a live stream to a recording until the end is asked for; returns the closing line."""
    start = fresh(chosen(options.feed, options.layout), None, ())
    with listening(options) as (receiver, clock):
        feed = start.new_feed()
        began = clock()
        with ended(Session(start, [], _recorder(options.file, start), console), clock) as session:
            listen(start.feed, feed, receiver, clock, session, console, stop)
        seconds = clock() - began
    if session.failure is not None:
        raise session.failure
    return f"{options.file}: {session.recorded} datagrams recorded in {seconds:.0f} s\n"


def _recorder(path: Path, start: SessionStart) -> RecordingWriter:
    return RecordingWriter(path, start.head())
