"""The reference that is asked for by name: a file with it, one that the session makes, or a lap of the memory."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from itertools import chain, islice
from pathlib import Path

from coach.app.console import plain
from coach.app.intake import Intake, nothing_read
from coach.app.remembering.keptlap import kept_lap
from coach.app.remembering.lapfile import HandedLap, is_lap_file, read_lap
from coach.app.remembering.naming import reads_as_a_file
from coach.app.remembering.opening import opened
from coach.app.remembering.which import LABEL, find_lap, names, near
from coach.app.source import Source
from coach.app.stop import Stop
from coach.app.telling.progressbar import EACH, ProgressBar
from coach.engine.circuit import survey
from coach.engine.start import CHOICES, EngineStart
from coach.engine.study import Studied, study
from coach.vocabulary.errors import FormatError, InputError
from coach.vocabulary.sample import Sample
from feeds import registry
from feeds.base import Datagram
from feeds.paths import on_one_line
from feeds.recording import CapturedRecording, Recording, open_recording

OF_THE_REFERENCE = ("reference", "origin", "circuit", "scatter", "usual", "choice", "driver", "warm")
"""What of a start belongs to its reference, and goes with it."""

GENERIC = Source()
MOST_FILES = 1000
"""of a folder that are looked at for a name that comes near"""


def with_reference(
    start: EngineStart, name: str, stop: Stop | None = None, source: Source = GENERIC, memory: Path | None = None
) -> EngineStart:
    """`start`, with the lap that `name` means as its reference, its circuit's map and the scatter shown.

    A file goes first: the lap of a lap file, or the best clean lap of a recording. A recording says in its head what
    it is made of, and JSON lines are no packets of a layout; all else is read as what is driven, the `source`. Where
    there is no such file, "grip" and "patchwork" are the laps that a session makes of the driver's own. Any other name
    is a lap's in the `memory` (None: the user's own), or its number there.

    Raises InputError where there is none of all that, no lap to use in the file, or no recording at all, and
    KeyboardInterrupt where `stop` asks for the end meanwhile: an hour of laps takes some seconds to read.
    """
    try:
        if os.path.lexists(name):
            return _from_file(start, name, stop, source)
        if name in CHOICES:
            made = EngineStart(start.version, start.source, start.phrases, choice=name)
            return replace(start, **{field: getattr(made, field) for field in OF_THE_REFERENCE})
        return _from_memory(start, name, memory)
    except InputError as error:
        raise InputError(f"--reference: {error}") from error


def _from_file(start: EngineStart, name: str, stop: Stop | None, source: Source) -> EngineStart:
    path = Path(name)
    if is_lap_file(path):
        return _started(start, _studied(read_lap(path)), path.name)
    recording = open_recording(path)
    made_of = _made_of(recording, source)
    intake = Intake(registry.create(made_of.feed, made_of.layout), lambda line: None)
    samples = _samples(recording, intake, stop)
    first = next(samples, None)
    if first is None:
        raise InputError(nothing_read(recording.path, made_of.feed, intake))
    return _started(start, study(chain([first], samples), path.name), path.name)


def _from_memory(start: EngineStart, name: str, memory: Path | None) -> EngineStart:
    if reads_as_a_file(name):
        hint = near(name, _beside(name)) or "check the name"
        raise InputError(f"there is no file {on_one_line(name)}: {hint}")
    shown = plain(name, LABEL)
    try:
        kept = opened(memory)
    except FormatError:
        raise
    except InputError as error:
        close = near(name, [*CHOICES, *_beside(name)])
        why = f", and {error}" if close is None else f": {close}"
        raise InputError(f"there is no file {shown}{why}") from error
    with kept:
        row = find_lap(kept, name)
        if row is None:
            known = [*names(kept), *CHOICES, *_beside(name)]
            hint = near(name, known) or "`cornerword memory laps` lists the kept ones"
            raise InputError(f"there is no file {shown}, and no lap of that name or number is kept: {hint}")
        lap, origin = kept_lap(kept, row)
    return _started(start, _studied(lap), origin)


def _studied(lap: HandedLap) -> Studied:
    return Studied(lap.grid, survey(lap.grid, lap.circuit), lap.scatter, lap.usual, lap.driver, lap.warm)


def _started(start: EngineStart, studied: Studied, origin: str) -> EngineStart:
    return replace(
        start,
        reference=studied.reference,
        origin=origin,
        circuit=studied.circuit,
        scatter=studied.scatter,
        usual=studied.usual,
        choice=None,
        driver=studied.driver,
        warm=studied.warm,
    )


def _beside(name: str) -> list[str]:
    """Names of the files that a mistyped one may have meant, as they would be given."""
    folder = Path(name).parent
    found: list[str] = []
    with suppress(OSError, ValueError):  # a folder that is not there has nothing near
        found = [str(folder / path.name) for path in islice(folder.iterdir(), MOST_FILES) if path.is_file()]
    return found


def _made_of(recording: Recording, driven: Source) -> Source:
    """What the datagrams of a recording are made of."""
    if recording.head is not None:
        layout = recording.head.get("layout")
        return Source(str(recording.head.get("source")), layout if isinstance(layout, dict) else None)
    is_packets = recording.is_recording or isinstance(recording, CapturedRecording)
    return driven if is_packets or driven.feed != registry.LAYOUT else GENERIC


def _samples(recording: Recording, intake: Intake, stop: Stop | None) -> Iterator[Sample]:
    """What cannot be read is left out: the lap that it belongs to has a gap there, which the engine sees."""
    with ProgressBar(f"reading {on_one_line(recording.path.name)}") as bar:
        for number, item in enumerate(recording):
            if stop is not None and stop.asked:
                raise KeyboardInterrupt
            if number % EACH == 0:
                bar.at(recording.share)
            sample = intake.read(item) if isinstance(item, Datagram) else None
            if sample is not None:
                yield sample
