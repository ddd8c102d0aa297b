"""`export`: the channels of a recording as a table for other programs, with lap, distance and delta beside them."""

from __future__ import annotations

import contextlib
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field

from coach.app.config import ExportOptions
from coach.app.console import Console
from coach.app.intake import Intake, nothing_read
from coach.app.newfile import check_free
from coach.app.start import SessionStart
from coach.app.stop import Stop
from coach.app.tables.columns import DELTA, DISTANCE, LAP, RECEIVED, TEXTS, Cell, Columns, Row
from coach.app.tables.kinds import KINDS, Table
from coach.app.tables.reading import Laps, Reader, Stretch, say_before, start_for
from coach.app.telling.numbers import counted, size_of
from coach.vocabulary.errors import InputError, WorkError
from coach.vocabulary.events import Delta, Event, Moment
from coach.vocabulary.sample import CHANNELS
from feeds.base import Datagram
from feeds.paths import on_one_line
from feeds.recording import Recording, open_recording

HELD = 1.0
"""s of the source's time that a row waits for a delta of its own: a lap's events wait up to 0.25 s for its time."""
MOST_LABELS = 10_000
"""different texts that one channel may have; more are no labels, and would not fit into a table of them (choice)."""


@dataclass(slots=True)
class _Seen:
    """What a first reading finds: the channels that ever came, and the texts in them, in the order of their coming."""

    present: dict[str, None] = field(default_factory=dict)
    labels: dict[str, dict[str, None]] = field(default_factory=dict)


class _Knowing:
    """A watcher that keeps what the engine says of a sample: lap, distance, and the delta that is of its time."""

    def __init__(self) -> None:
        self.moment: Moment | None = None
        self.deltas: deque[Delta] = deque()

    def take(self, event: Event) -> None:
        """Take in one event."""
        if isinstance(event, Moment):
            self.moment = event
        elif isinstance(event, Delta):
            self.deltas.append(event)


def export(options: ExportOptions, console: Console, stop: Stop) -> str:
    """Write the table; returns what is in it.

    InputError for a file, laps or a kind of table that do not serve, WorkError where the disk fails, KeyboardInterrupt
    where `stop` asks for the end; then nothing is left of the new file.
    """
    kind = KINDS.get(options.to.suffix.lower())
    if kind is None:
        endings = list(KINDS)
        known = f"{', '.join(endings[:-1])} or {endings[-1]}"
        raise InputError(
            f"{on_one_line(options.to)}: its ending says what is written: give a name that ends in {known}"
        )
    stretch = None if options.laps is None else Stretch.of(options.laps)
    check_free(options.to)
    recording = open_recording(options.file, options.port)
    say_before(recording, console)
    start = start_for(recording, options, stop)
    seen = _seen(recording, start, stop)
    columns = Columns(seen.present, (RECEIVED, LAP, DISTANCE, DELTA))
    labels = [list(seen.labels.get(column.name, ())) for column in columns.columns]
    table: Table | None = None
    count = 0
    try:
        table = kind(options.to, columns.columns, labels)
        for cells in _rows(recording, start, columns, stretch, stop):
            table.add(cells)
            count += 1
        table.finish()
    except BaseException as error:
        if table is not None:
            with contextlib.suppress(Exception):
                table.close()
        if not isinstance(error, FileExistsError):
            options.to.unlink(missing_ok=True)
        if isinstance(error, OSError):
            name = on_one_line(options.to)
            raise WorkError(
                f"{name} could not be written, {error.strerror or error}: make room, or name another place"
            ) from error
        raise
    if recording.truncated is not None:
        console.say(recording.truncated)
    size = size_of(options.to.stat().st_size)
    part = "" if stretch is None else f" of {stretch.name}"
    return f"{on_one_line(options.to)}: {counted(count, 'row')}{part}, {counted(len(labels), 'column')}, {size}\n"


def _seen(recording: Recording, start: SessionStart, stop: Stop) -> _Seen:
    seen = _Seen()
    intake = Intake(start.new_feed(), lambda line: None)
    for item in recording:
        if stop.asked:
            raise KeyboardInterrupt
        sample = intake.read(item) if isinstance(item, Datagram) else None
        if sample is None:
            continue
        for name in CHANNELS:
            value = getattr(sample, name)
            if value is None:
                continue
            seen.present.setdefault(name)
            if name in TEXTS:
                texts = seen.labels.setdefault(name, {})
                texts.setdefault(value if isinstance(value, str) else " ".join(value))
                if len(texts) > MOST_LABELS:
                    raise InputError(
                        f"{on_one_line(recording.path)}: `{name}` changes more than {MOST_LABELS:,} times, so it is no "
                        "label: correct the layout that reads it"
                    )
    if not intake.samples:
        raise InputError(nothing_read(recording.path, start.feed, intake))
    return seen


def _rows(
    recording: Recording, start: SessionStart, columns: Columns, stretch: Stretch | None, stop: Stop
) -> Iterator[list[Cell]]:
    """A row for each sample that the engine keeps: duplicates and late ones are left out."""
    knowing, laps = _Knowing(), Laps()
    reader = Reader(start, [knowing, laps])
    waiting: deque[Row] = deque()
    for item in recording:
        if stop.asked:
            raise KeyboardInterrupt
        knowing.moment = None
        reader.take(item)
        sample, moment = reader.sample, knowing.moment
        if sample is None:
            continue
        is_paused = moment is None and bool(sample.paused)
        if moment is None and not is_paused:
            continue
        lap = laps.open_lap
        if stretch is not None:
            stretch.see(lap)
            if stretch.over:
                break
            if not stretch.begun:
                knowing.deltas.clear()
                continue
        distance = None if moment is None else moment.distance
        waiting.append(Row(sample, item.received, lap, distance))
        _settle(waiting, knowing.deltas)
        while waiting and not 0.0 <= sample.t - waiting[0].sample.t <= HELD:
            yield columns.cells(waiting.popleft())
    reader.finish()
    _settle(waiting, knowing.deltas)
    for row in waiting:
        yield columns.cells(row)
    if stretch is not None:
        stretch.check(recording.path)


def _settle(waiting: deque[Row], deltas: deque[Delta]) -> None:
    """Give each delta to the row of its time."""
    while deltas:
        delta = deltas.popleft()
        for row in reversed(waiting):
            if row.sample.t == delta.t:
                row.delta = delta.delta
                break
