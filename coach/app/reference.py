"""The reference lap from a file: the best clean lap of a recording, as the engine starts from it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from coach.app.stop import Stop
from coach.engine.start import CHOICES, EngineStart
from coach.engine.study import study
from coach.vocabulary.errors import FormatError, InputError
from coach.vocabulary.sample import Sample
from feeds import registry
from feeds.base import Datagram, Feed
from feeds.recording import Recording, open_recording

OF_THE_REFERENCE = ("reference", "origin", "circuit", "scatter", "usual", "choice", "driver", "warm")
"""What of a start belongs to its reference, and goes with it."""


def with_reference(start: EngineStart, name: str, stop: Stop | None = None) -> EngineStart:
    """`start`, with the best clean lap of the file `name` as its reference, its circuit's map and the scatter shown.

    Where there is no such file, "grip" and "patchwork" are the laps that a session makes of the driver's own.

    Raises InputError where there is no such file, no lap to use in it, or no recording at all, and KeyboardInterrupt
    where `stop` asks for the end meanwhile: an hour of laps takes some seconds to read.
    """
    if name in CHOICES and not Path(name).exists():
        made = EngineStart(start.version, start.source, start.phrases, choice=name)
        return replace(start, **{field: getattr(made, field) for field in OF_THE_REFERENCE})
    origin = Path(name).name
    try:
        studied = study(_samples(open_recording(name), stop), origin)
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


def _samples(recording: Recording, stop: Stop | None) -> Iterator[Sample]:
    feed = registry.create("generic" if recording.head is None else str(recording.head.get("source")))
    for item in recording:
        if stop is not None and stop.asked:
            raise KeyboardInterrupt
        if isinstance(item, Datagram):
            sample = _sample(feed, item.data)
            if sample is not None:
                yield sample


def _sample(feed: Feed, data: bytes) -> Sample | None:
    """None for a datagram that cannot be read: the lap it belongs to has a gap there, which the engine sees."""
    try:
        return feed.decode(data)
    except FormatError:
        return None
