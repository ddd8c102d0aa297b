"""Replay: a recording through the same line, paced as it came or as fast as it goes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import ExitStack, closing
from dataclasses import dataclass
from itertools import chain

from coach.app.beside import beside
from coach.app.config import ReplayOptions
from coach.app.console import Console, Notices
from coach.app.eventlog import EventLog
from coach.app.intake import Intake
from coach.app.line import Line, Sink
from coach.app.stage import staged
from coach.app.start import SessionStart, fresh, from_head
from coach.app.stop import Stop
from coach.app.summary import Summary
from coach.engine.start import mismatch
from coach.vocabulary.errors import FormatError, InputError, WorkError
from coach.vocabulary.sample import Sample
from feeds import registry
from feeds.base import Datagram
from feeds.pacing import paced
from feeds.recording import ActionLine, EndLine, Item, Recording, SilenceLine, open_recording


@dataclass(slots=True)
class Step:
    """One thing that a recording makes happen at `received` (s): a sample, an action, or (neither) a silence."""

    received: float
    sample: Sample | None = None
    action: str | None = None


def steps(items: Iterable[Item], intake: Intake) -> Iterator[Step]:
    """What the lines of a recording come to; datagrams that cannot be read are counted by `intake`."""
    for item in items:
        if isinstance(item, Datagram):
            sample = intake.read(item)
            if sample is not None:
                yield Step(item.received, sample=sample)
        elif isinstance(item, ActionLine):
            yield Step(item.received, action=item.action)
        elif isinstance(item, (SilenceLine, EndLine)):
            yield Step(item.received)


def replay(options: ReplayOptions, console: Console, stop: Stop) -> str:
    """Replay a recording; returns the summary. InputError for a file, or a reference, that does not serve."""
    recording = open_recording(options.file)
    if recording.headless is not None:
        console.say(recording.headless)
    start = _start(recording, options, stop)
    intake = Intake(registry.create(start.feed), console.say)
    read = steps(recording, intake)
    first = next((step for step in read if step.sample is not None), None)
    if first is None or first.sample is None:
        raise InputError(_nothing_read(options, start, intake))
    wrong = mismatch(start.engine, first.sample)
    if wrong is not None and options.reference is not None:
        raise InputError(f"--reference: {wrong}")
    summary = Summary()
    timed: Iterable[Step] = chain([first], read)
    with ExitStack() as opened:
        sinks: list[Sink] = [summary, Notices(console)]
        log = None
        if options.events is not None:
            log = opened.enter_context(closing(EventLog(options.events, lambda line: None)))
            sinks.append(log)
        if options.fast:
            _run(Line(start.engine, start.planner, sinks), timed, log, stop)
        else:
            stage = opened.enter_context(staged(options, console, stop))
            line = Line(start.engine, start.planner, [*sinks, console, *stage.sinks], stage.watchers)
            beside(stage.window, lambda: _run(line, paced(timed, sleep=stop.sleep), log, stop))
    if log is not None and log.failure is not None:
        raise WorkError(f"{log.failure}: make room, or name another file")
    intake.tell(float("inf"))
    if recording.truncated is not None:
        console.say(recording.truncated)
    return summary.text()


def _run(line: Line, timed: Iterable[Step], log: EventLog | None, stop: Stop) -> None:
    for step in timed:
        if stop.asked or (log is not None and log.gone):
            break
        if step.sample is not None:
            line.push(step.sample, step.received)
        elif step.action is not None:
            line.act(step.action)
        else:
            line.silence(step.received)
        if log is not None:
            log.tick()
    line.finish()


def _start(recording: Recording, options: ReplayOptions, stop: Stop) -> SessionStart:
    if recording.head is None:
        return fresh("generic", options.reference, options.focus, stop)
    try:
        return from_head(recording.head, options.reference, options.focus, stop)
    except FormatError as error:
        raise FormatError(f"{options.file}: {error}") from error


def _nothing_read(options: ReplayOptions, start: SessionStart, intake: Intake) -> str:
    causes = ", ".join(f"{number} {cause}" for cause, number in intake.dropped.by_cause().items())
    what = f"none of its datagrams could be read ({causes})" if causes else "it holds no datagram"
    return f'{options.file}: {what}: give a recording of the feed "{start.feed}"'
