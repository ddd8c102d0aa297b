"""Drives that are kept, in the process of the test."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np
from make_stream import Drive

from coach.app.console import Console
from coach.app.intake import Intake
from coach.app.keeping import Keeping, keeping
from coach.app.line import Line
from coach.app.source import Source
from coach.app.start import fresh
from coach.engine.lap import GridLap
from coach.review.collector import Collector
from coach.review.model import KeptSession
from coach.vocabulary.sample import Sample
from feeds import registry
from feeds.base import Datagram

BEGAN = 1_700_000_000.0
"""s since 1970, when the source's clock stood at 0: 2023-11-14 in UTC."""
DAY = 86_400.0
DRIVER = "driver-a"


def same_lap(a: GridLap, b: GridLap) -> bool:
    """Bit for bit."""
    columns = zip((a.time, a.lateral, *a.channels.values()), (b.time, b.lateral, *b.channels.values()), strict=True)
    return (a.number, a.length, a.track, a.car, list(a.channels)) == (
        *(b.number, b.length, b.track, b.car),
        list(b.channels),
    ) and all(np.array_equal(x.view(np.int64), y.view(np.int64)) for x, y in columns)


def samples_of(drive: Drive, **labels: str | None) -> list[Sample]:
    """The drive's samples, with other labels where they are given."""
    intake = Intake(registry.create("generic", None), lambda line: None)
    found = [intake.read(Datagram(0.0, data)) for data in drive.datagrams()]
    return [replace(sample, **labels) if labels else sample for sample in found if sample is not None]  # type: ignore[arg-type]


@contextmanager
def kept_line(
    path: Path, said: list[str] | None = None, reference: Path | str | None = None, beside: Collector | None = None
) -> Iterator[tuple[Keeping, Callable[[Sample, float], None]]]:
    """A keeping, and what takes one sample through it and the line. `reference`: a file, or what is to be made;
    `beside`: sees the same."""
    out = io.StringIO()
    with keeping(path, True, Console(out)) as kept:
        assert kept is not None, out.getvalue()
        start = fresh(Source(), None if reference is None else str(reference), ())
        line = Line(start.engine, start.planner, [], [kept] if beside is None else [kept, beside])

        def push(sample: Sample, received: float) -> None:
            kept.sample(sample, received)
            line.push(sample, received)

        yield kept, push
        line.finish()
    if said is not None:
        said += out.getvalue().splitlines()


def keep(
    path: Path,
    samples: Iterable[Sample],
    began: float = BEGAN,
    said: list[str] | None = None,
    reference: Path | str | None = None,
) -> list[KeptSession]:
    """Drive them all; what the drive itself saw of its sessions, with the channels that a collector beside it saw."""
    beside = Collector()
    with kept_line(path, said, reference, beside) as (kept, push):
        for sample in samples:
            push(sample, began + sample.t)
    sessions = kept.sessions()
    for session, other in zip(sessions, beside.sessions, strict=True):
        for lap, seen in zip(session.laps, other.laps, strict=True):
            lap.grid = seen.grid
    return sessions
