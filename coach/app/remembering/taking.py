"""A recording taken into the memory: run through the same line as a drive, as fast as it goes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain

from coach.app.config import Judged, TakeOptions
from coach.app.console import Console
from coach.app.keeping import Keeping, keeping
from coach.app.line import Line, Sink
from coach.app.recalling import WAIT, Knows, Recalling
from coach.app.remembering.opening import is_there, memory_file, opened
from coach.app.remembering.which import labels_of
from coach.app.replay import Opened, Step, given, opened_for
from coach.app.stop import Stop
from coach.app.tables.reading import Laps, Reader
from coach.app.telling.numbers import counted, date_of
from coach.app.telling.progressbar import EACH, ProgressBar
from coach.engine.known import Known
from coach.store.recalled import Recalled
from coach.store.rows import SessionRow
from coach.vocabulary.errors import InputError, WorkError
from coach.vocabulary.laptime import lap_time
from coach.vocabulary.sample import Sample
from feeds.paths import on_one_line
from feeds.recording import RecalledLine, Recording

SAME_MOMENT = 1.0
"""s between the first samples of two drives that are one (choice): a driver has one wheel."""
ANSWERED = 10.0 * WAIT
"""s in which a memory has been asked and has answered, however busy the computer was (choice)"""
SAME_TIME = 0.0005
"""s: lap times that differ by less read the same."""


def take_recording(options: TakeOptions, console: Console, stop: Stop) -> str:
    """Keep what a recording holds, as if it had been driven here; returns what was kept.

    InputError for a recording that cannot be read or is kept already, WorkError where the memory cannot be written,
    KeyboardInterrupt where `stop` asks for the end; then no session of it is kept.
    """
    if options.name is not None:
        raise InputError("--name: names a lap that was handed on, and this is a recording: leave it out")
    judged = Judged(file=options.file, port=options.port, feed=options.feed, layout=options.layout)
    source = opened_for(judged, None, console, stop)
    beginning = [next(source.steps)]
    while beginning[-1].sample is None:  # what was recalled stands in front of the first sample
        beginning.append(next(source.steps))
    _check_new(options, source, beginning[-1], stop)
    source.steps = chain(beginning, source.steps)
    with ProgressBar(f"taking {on_one_line(options.file.name)}") as bar:
        said = bar.above(console)
        with keeping(options.memory, True, said) as kept:
            if kept is None:
                raise WorkError(f"nothing was taken of {on_one_line(options.file)}: the memory cannot be written")
            _drive(source, kept, said, bar, stop)
        source.close(said)
    numbers = [session.id for session in kept.sessions() if session.id is not None]
    if stop.asked:
        _forget(options, numbers)
        raise KeyboardInterrupt
    if kept.failure is not None:  # which was said
        raise WorkError(
            f"not all of {on_one_line(options.file)} was taken: mend that, forget what was taken, and take it again"
        )
    return _told(options, numbers)


def _drive(source: Opened, kept: Keeping, console: Console, bar: ProgressBar, stop: Stop) -> None:
    """Run it through the line, to its end or to where `stop` asks or the memory fails."""
    asking = None if _has_recalled(source.recording) else Recalling(_Maps(kept), console.say)
    watchers: list[Sink] = [kept] if asking is None else [kept, asking]
    line = Line(source.start.engine, source.start.planner, [], watchers)
    for number, _ in enumerate(given(line, _kept(source.steps, kept, asking))):
        if number % EACH == 0:
            bar.at(source.recording.share)
        if stop.asked or kept.failure is not None:
            return
    line.finish()


class _Maps:
    """The memory, asked for the circuit's map alone: corners have the same numbers in all sessions, and what was said
    in the drive stays what it was."""

    def __init__(self, memory: Knows) -> None:
        self._memory = memory

    def recall(self, driver: str | None, car: str | None, track: str | None) -> Recalled | None:
        """The map that is kept, None for none."""
        found = self._memory.recall(driver, car, track)
        known = None if found is None else found.known
        return None if known is None or known.circuit is None else Recalled(Known(circuit=known.circuit))


def _has_recalled(recording: Recording) -> bool:
    """Whether it was recorded with a memory: then it holds what that knew."""
    first: float | None = None
    for item in recording:
        first = item.received if first is None else first
        if isinstance(item, RecalledLine):
            return True
        if item.received - first > ANSWERED:
            return False
    return False


def _kept(timed: Iterable[Step], kept: Keeping, asking: Recalling | None) -> Iterator[Step]:
    """The steps, each sample kept before it is worked, and behind it what is recalled."""
    for step in timed:
        if step.sample is not None:
            kept.sample(step.sample, step.received)
        yield step
        answer = None if asking is None or step.sample is None else asking.ask(step.sample)
        if answer is not None:
            yield Step(step.received, recalled=answer)


def _check_new(options: TakeOptions, source: Opened, first: Step, stop: Stop) -> None:
    """Raises InputError where the drive, which begins with the sample of `first`, is kept already."""
    sample = first.sample
    if sample is None or not is_there(memory_file(options.memory)):
        return
    with opened(options.memory) as memory:
        rows = [row for row in memory.sessions() if _may_be(row, first.received, sample)]
        if rows and date_of(first.received) is None:
            times = _times(source, options, stop)
            rows = [row for row in rows if _begins_with(times, [lap.time for lap in memory.laps(row.id)])]
    if rows:
        raise InputError(
            f"{on_one_line(options.file)} is kept already, as session {rows[0].id}: nothing was taken; to take it "
            f"again, first `cornerword memory forget --session {rows[0].id}`"
        )


def _may_be(row: SessionRow, received: float, sample: Sample) -> bool:
    """Whether a session began then, with nothing that tells it from this one."""
    labels = ((row.track, sample.track), (row.car, sample.car), (row.driver, sample.driver))
    is_then = abs(row.begun - received) <= SAME_MOMENT
    return is_then and all(one == other for one, other in labels if one is not None and other is not None)


def _begins_with(times: list[float | None], kept: list[float | None]) -> bool:
    """Whether the laps of a session are the first of these; where the source's clock is no date, many begin at 0."""
    if len(kept) > len(times) or (times and not kept):
        return False
    pairs = zip(kept, times, strict=False)
    return all(a == b or (a is not None and b is not None and abs(a - b) < SAME_TIME) for a, b in pairs)


def _times(source: Opened, options: TakeOptions, stop: Stop) -> list[float | None]:
    """The lap times in a recording."""
    laps = Laps()
    reader = Reader(source.start, [laps])
    with ProgressBar(f"comparing {on_one_line(options.file.name)}") as bar:
        for item in source.recording:
            bar.at(source.recording.share)
            if stop.asked:
                raise KeyboardInterrupt
            reader.take(item)
    reader.finish()
    return [lap.time for lap in laps.ended]


def _forget(options: TakeOptions, numbers: list[int]) -> None:
    with opened(options.memory) as memory:
        for number in numbers:
            memory.forget_session(number)


def _told(options: TakeOptions, numbers: list[int]) -> str:
    with opened(options.memory) as memory:
        rows = [row for row in reversed(memory.sessions()) if row.id in numbers]
    if not rows:
        return f"Nothing was taken of {on_one_line(options.file)}: no session begins in it.\n"
    return "".join(f"Taken: {_session(row)}.\n" for row in rows)


def _session(row: SessionRow) -> str:
    date = date_of(row.begun)
    when = "" if date is None else f" of {date}"
    best = "" if row.best is None else f", best {lap_time(row.best)}"
    what = labels_of(row.track, row.car, row.driver)
    return f"session {row.id}{when}, {what}, {counted(row.laps, 'lap')}, {row.clean} clean{best}"
