"""The verbs that listen: `drive` coaches a live stream, `record` only writes it to a file."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path

from coach.app import buttonfile, settings
from coach.app.beside import beside
from coach.app.config import DriveOptions, Listening, RecordOptions
from coach.app.console import Console, Notices
from coach.app.eventlog import EventLog
from coach.app.line import Sink
from coach.app.live import RECEIVE_BUFFER, Clock, listen
from coach.app.presses import pressed
from coach.app.session import Session, ended
from coach.app.stage import staged
from coach.app.start import SessionStart, fresh
from coach.app.stop import Stop
from coach.app.summary import Summary
from coach.controls.bindings import Bindings
from coach.playbook.load import load
from feeds import registry
from feeds.clock import steady_wall_clock
from feeds.passon import PassOn
from feeds.recording import RecordingWriter
from feeds.udp import UdpReceiver


def drive(options: DriveOptions, console: Console, stop: Stop) -> str:
    """Coach a live stream until the end is asked for; returns the summary."""
    playbook = load(options.playbook)
    settings.read(options.settings)  # what is wrong in them is said before any work
    bindings = buttonfile.read() if options.buttons else Bindings()
    start = fresh(options.feed, options.reference, options.focus, stop, playbook).alternating(options.alternate)
    summary = Summary()
    sinks: list[Sink] = [summary, console, Notices(console)]
    with ExitStack() as opened:
        receiver, clock = opened.enter_context(_listening(options))
        passing = opened.enter_context(PassOn(options.pass_on, (options.host, receiver.port)))
        feed = registry.create(options.feed)
        if options.events is not None:
            log = EventLog(options.events, lambda line: console.say(f"{line}; the session goes on without it"))
            sinks.append(opened.enter_context(closing(log)))
        stage = opened.enter_context(staged(options, playbook, console, stop))
        start = start.speaking(stage.table)
        sinks += stage.sinks
        recorder = None if options.record is None else _recorder(options.record, start)
        coached = Session(start, sinks, recorder, console, stage.watchers, passing)
        if passing.addresses:
            console.say(f"passing the stream on to {', '.join(passing.addresses)}")
        session = opened.enter_context(ended(coached, clock))
        presses = opened.enter_context(pressed(bindings, console))
        beside(stage.window, lambda: listen(options.feed, feed, receiver, clock, session, console, stop, presses))
    return summary.text()


def record(options: RecordOptions, console: Console, stop: Stop) -> str:
    """Write a live stream to a recording until the end is asked for; returns the closing line."""
    start = fresh(options.feed, None, ())
    with _listening(options) as (receiver, clock):
        feed = registry.create(options.feed)
        began = clock()
        with ended(Session(start, [], _recorder(options.file, start), console), clock) as session:
            listen(options.feed, feed, receiver, clock, session, console, stop)
        seconds = clock() - began
    if session.failure is not None:
        raise session.failure
    return f"{options.file}: {session.recorded} datagrams recorded in {seconds:.0f} s\n"


def _recorder(path: Path, start: SessionStart) -> RecordingWriter:
    return RecordingWriter(path, start.head())


@contextmanager
def _listening(options: Listening) -> Iterator[tuple[UdpReceiver, Clock]]:
    clock = steady_wall_clock()
    with UdpReceiver(options.host, options.port, RECEIVE_BUFFER, clock) as receiver:
        yield receiver, clock
