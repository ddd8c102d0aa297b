"""`memory give`, `take` and `copy`: laps, and all that is kept, from one computer to another."""

from __future__ import annotations

import numpy as np

from coach.app.config import CopyOptions, GiveOptions, TakeOptions
from coach.app.console import Console
from coach.app.newfile import check_free, write_new
from coach.app.remembering.keptlap import kept_lap
from coach.app.remembering.lapfile import ENDING, HandedLap, is_lap_file, lap_bytes, read_lap
from coach.app.remembering.naming import checked_name
from coach.app.remembering.opening import made, opened
from coach.app.remembering.taking import take_recording
from coach.app.remembering.which import described, labels_of, lap_of, names, ways_to_use
from coach.app.stop import Stop
from coach.app.telling.lines import wrapped
from coach.app.telling.numbers import counted, size_of
from coach.engine.lap import GridLap
from coach.store.memory import Memory
from coach.store.rows import LapRow
from coach.vocabulary.errors import InputError
from feeds.paths import on_one_line


def give(options: GiveOptions, console: Console, stop: Stop) -> str:
    """Write a lap to a new file. InputError for a lap without channels, or a file that is there."""
    name = on_one_line(options.file)
    if not options.file.name.lower().endswith(ENDING):
        raise InputError(f"{name}: a lap file's name ends in {ENDING}: write {name}{ENDING}")
    check_free(options.file)
    with opened(options.memory, console) as memory:
        row = lap_of(memory, options.lap)
        lap, _ = kept_lap(memory, row)
        data = lap_bytes(lap)
    write_new(options.file, data)
    return f"{name}: {described(row)}, {labels_of(row.track, row.car, row.driver)}, {size_of(len(data))}\n"


def take(options: TakeOptions, console: Console, stop: Stop) -> str:
    """Take a lap that was handed on, or a recording, into the memory, which is made where there is none. InputError
    for what cannot be read, or is there already."""
    if not is_lap_file(options.file):
        return take_recording(options, console, stop)
    lap = read_lap(options.file)
    with made(options.memory, console) as memory:
        there = _same(memory, lap)
        if there is not None:
            raise InputError(f"{on_one_line(options.file)} is kept already, as {described(there)}: nothing was taken")
        taken = names(memory)
        label = None
        if options.name is not None:
            label = checked_name(options.name, taken, "--name")
        elif lap.name is not None and lap.name.strip():
            label = _own_name(lap.name, taken)
        number = memory.add_lap(lap.grid, lap.driver, label, lap.clean, lap.known)
        row = lap_of(memory, str(number))
    what = wrapped(f"Taken: {described(row)}, {labels_of(row.track, row.car, row.driver)}.")
    return "\n".join([*what, *ways_to_use(row)]) + "\n"


def copy(options: CopyOptions, console: Console, stop: Stop) -> str:
    """Write the whole memory to a new file, whoever writes to it meanwhile."""
    check_free(options.file)
    with opened(options.memory, console) as memory:
        memory.copy(options.file)
        count = len(memory.sessions())
    size = size_of(options.file.stat().st_size)
    return f"{on_one_line(options.file)}: {counted(count, 'session')}, {size}\n"


def _own_name(name: str, taken: list[str]) -> str:
    """The name that is in the file. InputError where it cannot be one here, which says how to give another."""
    try:
        return checked_name(name, taken, "the lap's name")
    except InputError as error:
        raise InputError(f"{str(error).partition(': choose')[0]}: choose another one with --name") from error


def _same(memory: Memory, lap: HandedLap) -> LapRow | None:
    """The same lap, if it is kept: handed on before, or the driver's own that comes back."""
    sessions = memory.sessions(None, lap.grid.car, lap.grid.track)
    rows = [*memory.laps(), *(row for session in sessions for row in memory.laps(session.id))]
    near = (row for row in rows if row.whole and row.time is not None and abs(row.time - lap.grid.total) < 0.001)
    return next((row for row in near if _equal(memory.grid(row.id), lap.grid)), None)


def _equal(one: GridLap, other: GridLap) -> bool:
    same = (one.length, one.car, one.track) == (other.length, other.car, other.track)
    return same and np.array_equal(one.time, other.time) and _channels_equal(one, other)


def _channels_equal(one: GridLap, other: GridLap) -> bool:
    return one.channels.keys() == other.channels.keys() and all(
        np.array_equal(column, other.channels[name]) for name, column in one.channels.items()
    )
