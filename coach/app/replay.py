"""Replay: a recording through the same line, paced as it came or as fast as it goes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import ExitStack, closing
from dataclasses import dataclass
from itertools import chain, islice

from coach.app.beside import beside
from coach.app.config import Judged, ReplayOptions
from coach.app.console import Console, Notices, Staged
from coach.app.eventlog import EventLog
from coach.app.intake import Intake, nothing_read
from coach.app.line import Line, Sink
from coach.app.skip import Curtain, Place, Track, find
from coach.app.source import chosen
from coach.app.stage import Stage, staged
from coach.app.start import SessionStart, fresh, from_head
from coach.app.stop import Stop
from coach.app.summary import Summary
from coach.engine.start import mismatch
from coach.planner.playbook import Playbook
from coach.playbook.load import load
from coach.store.recalled import Recalled
from coach.vocabulary.actions import DRIVER
from coach.vocabulary.errors import FormatError, InputError, WorkError
from coach.vocabulary.sample import Sample
from feeds.base import Datagram
from feeds.pacing import paced
from feeds.recording import ActionLine, EndLine, Item, RecalledLine, Recording, SilenceLine, open_recording


@dataclass(slots=True)
class Step:
    """One thing that a recording makes happen at `received` (s): a sample, an action, what was recalled, or (none of
    them) a silence."""

    received: float
    sample: Sample | None = None
    action: str | None = None
    by: str = DRIVER
    recalled: Recalled | None = None


def steps(items: Iterable[Item], intake: Intake) -> Iterator[Step]:
    """What the lines of a recording come to; datagrams that cannot be read are counted by `intake`."""
    for item in items:
        if isinstance(item, Datagram):
            sample = intake.read(item)
            if sample is not None:
                yield Step(item.received, sample=sample)
        elif isinstance(item, ActionLine):
            yield Step(item.received, action=item.action, by=item.by)
        elif isinstance(item, RecalledLine):
            recalled = intake.recalled(item.recalled)
            if recalled is not None:
                yield Step(item.received, recalled=recalled)
        elif isinstance(item, (SilenceLine, EndLine)):
            yield Step(item.received)


def begun(made: Iterable[Step]) -> Iterator[Step]:
    """From the first sample on, before which nothing can happen; what was recalled before it stands in front."""
    recalled: Step | None = None
    left = iter(made)
    for step in left:
        if step.recalled is not None:
            recalled = step
        if step.sample is not None:
            yield from (one for one in (recalled, step) if one is not None)
            yield from left


@dataclass(slots=True)
class Opened:
    """A recording, what it starts from, and its steps from the first sample on, read as they are asked for."""

    recording: Recording
    start: SessionStart
    intake: Intake
    steps: Iterator[Step]

    def close(self, console: Console) -> None:
        """Say what is to be said of the reading, once it is over."""
        self.intake.tell(float("inf"))
        if self.recording.truncated is not None:
            console.say(self.recording.truncated)


def opened_for(options: Judged, playbook: Playbook | None, console: Console, stop: Stop) -> Opened:
    """Open a recording to be coached; `playbook` None: its own, or the default. InputError for a file, or a reference,
    that does not serve."""
    recording = open_recording(options.file, options.port)
    if recording.headless is not None:
        console.say(recording.headless)
    start = start_of(recording, options, options.reference, playbook, stop)
    intake = Intake(start.new_feed(), console.say)
    read = begun(steps(recording, intake))
    opening = list(islice(read, 1))
    if opening and opening[0].sample is None:
        opening += islice(read, 1)
    first = opening[-1].sample if opening else None
    if first is None:
        raise InputError(nothing_read(options.file, start.feed, intake))
    wrong = mismatch(start.engine, first)
    if wrong is not None and options.reference is not None:
        raise InputError(f"--reference: {wrong}")
    return Opened(recording, start, intake, chain(opening, read))


def replay(options: ReplayOptions, console: Console, stop: Stop) -> str:
    """Replay a recording; returns the summary. InputError for a file, or a reference, that does not serve."""
    playbook = None if options.playbook is None else load(options.playbook)
    source = opened_for(options, playbook, console, stop)
    start, timed = source.start.alternating(options.alternate).at_stage(options.stage), source.steps
    skipped = 0 if options.place is None else _steps_to(options.place, source.recording, start, stop)
    summary = Summary()
    with ExitStack() as opened:
        presented: list[Sink] = []
        log = None
        if options.events is not None:
            log = opened.enter_context(closing(EventLog(options.events, lambda line: None)))
            presented.append(log)
        stage = Stage()
        if not options.fast:
            stage = opened.enter_context(staged(options, start.planner.playbook, console, stop))
            presented += [console, *stage.sinks]
        curtain = Curtain(presented)
        notices = Notices(console)
        watchers: list[Sink] = [summary, Staged(console, notices), *stage.watchers]
        line = Line(start.engine, start.planner, [notices, curtain], watchers)
        _run(line, islice(timed, skipped), log, stop)
        curtain.rise()
        rest = timed if options.fast else paced(timed, sleep=stop.sleep)
        beside(stage.window, lambda: _run(line, rest, log, stop))
        line.finish()
    if log is not None and log.failure is not None:
        raise WorkError(f"{log.failure}: make room, or name another file")
    source.close(console)
    return summary.text()


def given(line: Line, timed: Iterable[Step]) -> Iterator[None]:
    """Give the steps to the line, one each time that it is asked on."""
    for step in timed:
        if step.sample is not None:
            line.push(step.sample, step.received)
        elif step.action is not None:
            line.act(step.action, step.by)
        elif step.recalled is not None:
            line.recall(step.recalled)
        else:
            line.silence(step.received)
        yield


def _steps_to(place: Place, recording: Recording, start: SessionStart, stop: Stop) -> int:
    """How many steps lie before the place, found by a replay that nobody hears. KeyboardInterrupt where `stop` asks."""
    track = Track()
    intake = Intake(start.new_feed(), lambda line: None)
    timed = begun(steps(recording, intake))
    return find(
        place, track, _stopped(given(Line(start.engine, start.planner, [], [track]), timed), stop), str(recording.path)
    )


def _stopped(driven: Iterator[None], stop: Stop) -> Iterator[None]:
    for _ in driven:
        if stop.asked:
            raise KeyboardInterrupt
        yield


def _run(line: Line, timed: Iterable[Step], log: EventLog | None, stop: Stop) -> None:
    for _ in given(line, _asked_for(timed, log, stop)):
        if log is not None:
            log.tick()


def _asked_for(timed: Iterable[Step], log: EventLog | None, stop: Stop) -> Iterator[Step]:
    for step in timed:
        if stop.asked or (log is not None and log.gone):
            break
        yield step


def start_of(
    recording: Recording, options: Judged, reference: str | None, playbook: Playbook | None, stop: Stop
) -> SessionStart:
    """What a recording starts from: its head, or the command line alone where it has none. What the command line says
    that the stream is made of goes before the head."""
    source = chosen(options.feed, options.layout)
    if recording.head is None:
        return fresh(source, reference, options.focus, stop, playbook, memory=options.memory)
    is_said = options.feed is not None or options.layout is not None
    head = recording.head | ({"source": source.feed, "layout": source.layout} if is_said else {})
    try:
        start = from_head(head, reference, options.focus, stop, playbook, memory=options.memory)
    except FormatError as error:
        raise FormatError(f"{recording.path}: {error}") from error
    return start.reading(source) if is_said else start
