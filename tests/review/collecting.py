"""What a drive comes to: samples or a file through the app's line, collected as the memory and the debrief do."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from coach.app.line import Line
from coach.app.source import Source
from coach.app.start import fresh
from coach.engine.start import EngineStart
from coach.engine.study import study
from coach.planner.start import PlannerStart
from coach.review.collector import Collector
from coach.review.model import KeptSession
from coach.vocabulary.sample import Sample
from feeds import registry
from feeds.base import Datagram
from feeds.recording import open_recording


def collected(samples: Iterable[Sample], engine: EngineStart | None = None) -> list[KeptSession]:
    """The sessions of a drive, coached by the default playbook."""
    start = fresh(Source(), None, ())
    return _through(samples, start.engine if engine is None else engine, start.planner)


def collected_file(drive: Path, reference: Path | None) -> list[KeptSession]:
    """The sessions of a recording or of JSON lines, held against the best clean lap of `reference`."""
    start = fresh(Source(), None if reference is None else str(reference), ())
    return _through(read(drive), start.engine, start.planner)


def begun(reference: Iterable[Sample]) -> EngineStart:
    """A start with the best clean lap of this drive as reference."""
    best = study(reference, "clean")
    return EngineStart(
        version="0",
        source="test",
        phrases="test",
        reference=best.reference,
        origin="clean",
        circuit=best.circuit,
        scatter=best.scatter,
        usual=best.usual,
        driver=best.driver,
        warm=best.warm,
    )


def read(drive: Path) -> Iterable[Sample]:
    """The samples of a file of generic datagrams."""
    feed = registry.create("generic")
    for item in open_recording(drive):
        if isinstance(item, Datagram):
            yield feed.decode(item.data)


def _through(samples: Iterable[Sample], engine: EngineStart, planner: PlannerStart) -> list[KeptSession]:
    collector = Collector()
    line = Line(engine, planner, [], [collector])
    received = 0.0
    for sample in samples:
        collector.see(sample)
        received = max(received, sample.t)
        line.push(sample, received)
    line.finish()
    return collector.sessions
