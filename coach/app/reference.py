"""The reference lap from a file: the best clean lap of a recording, as the engine starts from it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import chain
from pathlib import Path

from coach.app.intake import Intake, nothing_read
from coach.app.source import Source
from coach.app.stop import Stop
from coach.engine.start import CHOICES, EngineStart
from coach.engine.study import study
from coach.vocabulary.errors import InputError
from coach.vocabulary.sample import Sample
from feeds import registry
from feeds.base import Datagram
from feeds.recording import CapturedRecording, Recording, open_recording

OF_THE_REFERENCE = ("reference", "origin", "circuit", "scatter", "usual", "choice", "driver", "warm")
"""What of a start belongs to its reference, and goes with it."""

GENERIC = Source()


def with_reference(start: EngineStart, name: str, stop: Stop | None = None, source: Source = GENERIC) -> EngineStart:
    """`start`, with the best clean lap of the file `name` as its reference, its circuit's map and the scatter shown.

    A recording says in its head what it is made of, and JSON lines are no packets of a layout; all else is read as
    what is driven, the `source`. Where there is no such file, "grip" and "patchwork" are the laps that a session makes
    of the driver's own.

    Raises InputError where there is no such file, no lap to use in it, or no recording at all, and KeyboardInterrupt
    where `stop` asks for the end meanwhile: an hour of laps takes some seconds to read.
    """
    if name in CHOICES and not Path(name).exists():
        made = EngineStart(start.version, start.source, start.phrases, choice=name)
        return replace(start, **{field: getattr(made, field) for field in OF_THE_REFERENCE})
    origin = Path(name).name
    try:
        recording = open_recording(name)
        made_of = _made_of(recording, source)
        intake = Intake(registry.create(made_of.feed, made_of.layout), lambda line: None)
        samples = _samples(recording, intake, stop)
        first = next(samples, None)
        if first is None:
            raise InputError(nothing_read(recording.path, made_of.feed, intake))
        studied = study(chain([first], samples), origin)
    except InputError as error:
        raise InputError(f"--reference: {error}") from error
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


def _made_of(recording: Recording, driven: Source) -> Source:
    """What the datagrams of a recording are made of."""
    if recording.head is not None:
        layout = recording.head.get("layout")
        return Source(str(recording.head.get("source")), layout if isinstance(layout, dict) else None)
    is_packets = recording.is_recording or isinstance(recording, CapturedRecording)
    return driven if is_packets or driven.feed != registry.LAYOUT else GENERIC


def _samples(recording: Recording, intake: Intake, stop: Stop | None) -> Iterator[Sample]:
    """What cannot be read is left out: the lap that it belongs to has a gap there, which the engine sees."""
    for item in recording:
        if stop is not None and stop.asked:
            raise KeyboardInterrupt
        sample = intake.read(item) if isinstance(item, Datagram) else None
        if sample is not None:
            yield sample
