"""What a process does with one drive: make it, listen to it, score it."""

from __future__ import annotations

import gzip
import json
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from .drives import kept
from .jobs import Job
from .listen import Variant, listen
from .score import Score, score
from .truth import Usual, studied, truth_of


@dataclass(frozen=True, slots=True)
class Task:
    """One drive to be listened to, in each variant; what comes of it is kept in `keep`."""

    job: Job
    folder: Path
    variants: tuple[Variant, ...]
    keep: Path | None
    stale: bool


def work(task: Task) -> list[Score]:
    """The scores of one drive, one a variant."""
    job, reference = task.job, task.job.reference()
    drive, stream = kept(job, task.folder, task.stale), kept(reference, task.folder, task.stale).stream
    truth = truth_of(job.name, job.scatter, drive, _studied(reference, task.folder, task.stale))
    out = []
    for variant in task.variants:
        if task.keep is None:
            events = listen(drive.stream, stream, variant)
        else:
            stem = task.keep / f"{job.name}-{str(variant).replace(' ', '-').replace('%', 'percent')}"
            with gzip.open(f"{stem}.jsonl.gz", "wb", compresslevel=1) as file:
                events = listen(drive.stream, stream, variant, lambda data: _write(file, data))
            Path(f"{stem}.truth.json").write_text(json.dumps(truth.to_json(), indent=1), encoding="utf-8")
            lines = "".join(json.dumps(event) + "\n" for event in events)
            Path(f"{stem}.events.jsonl").write_text(lines, encoding="utf-8")
        out.append(score(events, truth))
    return out


def make(task: Task) -> str:
    """Make a drive, or find it made; returns its name."""
    kept(task.job, task.folder, task.stale)
    return task.job.name


def _write(file: gzip.GzipFile, data: bytes) -> None:
    file.write(data.rstrip(b"\n") + b"\n")


@lru_cache(maxsize=32)
def _studied(reference: Job, folder: Path, stale: bool) -> list[Usual]:
    return studied(kept(reference, folder, stale))
