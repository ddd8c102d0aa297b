"""`cut`: some laps of a recording, as a recording of their own with the same head."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from coach.app.config import CutOptions
from coach.app.console import Console
from coach.app.intake import nothing_read
from coach.app.newfile import check_free
from coach.app.start import SessionStart
from coach.app.stop import Stop
from coach.app.tables.reading import Laps, Reader, Stretch, say_before, start_for, state_of
from coach.app.telling.numbers import counted, span_of
from coach.vocabulary.errors import InputError
from coach.vocabulary.events import Lap
from coach.vocabulary.laptime import lap_time
from feeds.base import Datagram
from feeds.paths import on_one_line
from feeds.recording import (
    ActionLine,
    EndLine,
    Item,
    RecalledLine,
    Recording,
    RecordingWriter,
    SilenceLine,
    open_recording,
)

LEAD = 10.0
"""s before the first lap's line that are kept: the line is then crossed in the cut too, and the engine knows the
stream's channels and rate by then (choice)."""
RUN_OUT = 10.0
"""s behind the last lap's line: its last corner is judged at the exit, and priced on the straight behind (choice)."""
_SAME = 0.0005
"""s: lap times that differ by less read the same."""


@dataclass(slots=True)
class _Part:
    """The items `first` to `last` of a recording, counted from 0, and the laps that ended in the stretch that is
    meant. `name` is what it is called; `has_line`: the source tells where it crosses the line."""

    first: int
    last: int
    name: str
    has_line: bool = False
    laps: list[Lap] = field(default_factory=list)


def cut(options: CutOptions, console: Console, stop: Stop) -> str:
    """Write the laps to a new recording; returns what is in it.

    InputError for a file or laps that do not serve, KeyboardInterrupt where `stop` asks for the end; then nothing is
    left of the new file.
    """
    stretch = Stretch.of(options.laps)
    check_free(options.to)
    recording = open_recording(options.file, options.port)
    say_before(recording, console)
    start = start_for(recording, options, stop)
    part = _found(recording, start, stretch, stop)
    writer = RecordingWriter(options.to, _head_of(recording, start, options))
    try:
        with writer:
            kept, seconds = _copied(recording, part, writer, stop)
        again = _laps_in(options.to, start, stop)
    except BaseException:
        options.to.unlink(missing_ok=True)
        raise
    if recording.truncated is not None:
        console.say(recording.truncated)
    return _text(options, part, kept, seconds, again, start.engine.reference is None)


def _found(recording: Recording, start: SessionStart, stretch: Stretch, stop: Stop) -> _Part:
    """Where the laps are, with some seconds before and behind."""
    laps = Laps()
    reader = Reader(start, [laps])
    lead: deque[tuple[int, float]] = deque()
    part = _Part(0, -1, stretch.name)
    since = 0
    ends: float | None = None
    for number, item in enumerate(recording):
        if stop.asked:
            raise KeyboardInterrupt
        if ends is not None and not 0.0 <= item.received - ends <= RUN_OUT:
            break
        reader.take(item)
        sample = reader.sample
        if sample is not None and not part.has_line:
            part.has_line = sample.lap is not None or sample.lap_distance is not None
        was_begun, was_over = stretch.begun, stretch.over
        stretch.see(laps.open_lap)
        if not was_begun:
            lead.append((number, item.received))
            if item.received < lead[0][1]:  # another run of a stream whose own clock is all there is
                lead = deque([(number, item.received)])
            while item.received - lead[0][1] > LEAD:
                lead.popleft()
            if stretch.begun:
                part.first, since = lead[0][0], len(laps.ended)
        if stretch.over and not was_over:
            ends = item.received
        part.last = number
    else:
        reader.finish()
    if not reader.intake.samples:
        raise InputError(nothing_read(recording.path, start.feed, reader.intake))
    stretch.check(recording.path)
    part.laps = [lap for lap in laps.ended[max(since - 1, 0) :] if stretch.first <= lap.lap <= stretch.last]
    return part


def _head_of(recording: Recording, start: SessionStart, options: CutOptions) -> dict[str, Any]:
    """The recording's own head; what the command line says that the stream is made of goes before it."""
    if recording.head is None:
        return start.head()
    if options.feed is None and options.layout is None:
        return recording.head
    return recording.head | start.head()


def _copied(recording: Recording, part: _Part, writer: RecordingWriter, stop: Stop) -> tuple[int, float]:
    """Write the items and the end; returns how many datagrams, over how many s."""
    count, first, last = 0, 0.0, 0.0
    recalled: RecalledLine | None = None
    for number, item in enumerate(recording):
        if stop.asked:
            raise KeyboardInterrupt
        if number < part.first:
            recalled = item if isinstance(item, RecalledLine) else recalled
            continue
        if number > part.last:
            break
        if number == part.first and recalled is not None:  # the laps were driven with what it says
            writer.recalled(item.received, recalled.recalled)
        _put(writer, item)
        first = item.received if number == part.first else first
        last = item.received
        count += isinstance(item, Datagram)
    writer.close(last)
    return count, last - first


def _put(writer: RecordingWriter, item: Item) -> None:
    if isinstance(item, Datagram):
        writer.datagram(item.received, item.data)
    elif isinstance(item, ActionLine):
        writer.action(item.received, item.action, item.by)
    elif isinstance(item, RecalledLine):
        writer.recalled(item.received, item.recalled)
    elif isinstance(item, SilenceLine):
        writer.silence(item.received)
    else:
        assert isinstance(item, EndLine)  # `close` writes one


def _laps_in(path: Path, start: SessionStart, stop: Stop) -> list[Lap]:
    laps = Laps()
    reader = Reader(start, [laps])
    for item in open_recording(path):
        if stop.asked:
            raise KeyboardInterrupt
        reader.take(item)
    reader.finish()
    return laps.ended


def _text(options: CutOptions, part: _Part, kept: int, seconds: float, again: list[Lap], is_bare: bool) -> str:
    """What was cut, lap by lap beside what a replay of the cut makes of it."""
    to, name = on_one_line(options.to), on_one_line(options.file)
    lines = [f"{to}: {part.name} of {name}, {counted(kept, 'datagram')} over {span_of(seconds)}"]
    by_end = {round(lap.t, 4): lap for lap in again}
    differ = 0
    if part.laps:
        lines.append("  lap        time   in the cut")
    for lap in part.laps:
        found = by_end.get(round(lap.t, 4))
        time = None if found is None else found.time
        is_timed = time == lap.time or (time is not None and lap.time is not None and abs(time - lap.time) < _SAME)
        is_same = is_timed and found is not None and found.why_not == lap.why_not
        differ += not is_same
        state = f"   {state_of(found)}, not {state_of(lap)}" if found is not None and is_timed and not is_same else ""
        renamed = "" if found is None or found.lap == lap.lap else f"   lap {found.lap} there"
        lines.append(f"{lap.lap:5d}  {lap_time(lap.time):>10}   {lap_time(time):>10}{renamed}{state}")
    if differ and not part.has_line:
        lines.append("The stream tells neither lap nor distance, so a replay lays the line where the driving begins.")
    elif differ:
        lines.append("Where they differ, the whole recording judged the lap by what came before the cut.")
    if is_bare:
        lines.append("The reference is the best clean lap up to then, so what came before the cut is not measured by.")
    return "\n".join(lines) + "\n"
