"""Makes the bench's drives, and keeps them: a drive costs a fortieth of its time, reading it again next to nothing."""

from __future__ import annotations

import ast
import gzip
import hashlib
import json
import os
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import feeds.car
from feeds.car.drive import Drive
from feeds.car.send import encode

from . import cast, circuits, planting
from .jobs import Job

PACKING = 1
"""gzip's level: the drives are read more often than kept"""
FORMAT = 2
"""of what is kept; another number makes all drives anew"""

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Kept:
    """One drive on the disk: `lap_times` s by lap, as the car's own clock has them; `planted` as the jobs know it."""

    stream: Path
    lap_times: dict[int, float]
    planted: list[dict[str, Any]]
    corners: list[dict[str, Any]]
    track_length: float
    width: float
    limit: float


def default_folder() -> Path:
    """Where drives are kept unless a folder is named."""
    return Path(tempfile.gettempdir()) / "cornerword-judgement"


def kept(job: Job, folder: Path, stale: bool = False) -> Kept:
    """The drive of `job`, made now unless `folder` has it; `stale`: one that an older car drove will do."""
    about = _place(job, folder, stale)
    stream = about.with_suffix(".jsonl.gz")
    if not about.exists():
        folder.mkdir(parents=True, exist_ok=True)
        _make(job, stream, about)
    held = json.loads(about.read_text(encoding="utf-8"))
    times = {int(lap): seconds for lap, seconds in held.pop("lap_times").items()}
    return Kept(stream=stream, lap_times=times, **held)


def is_kept(job: Job, folder: Path, stale: bool = False) -> bool:
    """Whether `folder` has the drive of `job`."""
    return _place(job, folder, stale).exists()


def _place(job: Job, folder: Path, stale: bool) -> Path:
    stem = f"{job.name}-{_own_key(job)}"
    about = folder / f"{stem}-{_car_sources()}.json"
    if stale and not about.exists():
        about = max(folder.glob(f"{stem}-*.json"), key=lambda path: path.stat().st_mtime, default=about)
    return about


def rows(path: Path) -> list[Row]:
    """A drive's datagrams, decoded."""
    with gzip.open(path, "rb") as file:
        return [json.loads(line) for line in file]


def _make(job: Job, stream: Path, about: Path) -> None:
    spec = job.spec()
    drive = Drive(spec)
    part = stream.with_name(f"{stream.name}.{os.getpid()}")
    with gzip.open(part, "wb", compresslevel=PACKING) as file:
        for row in drive:
            file.write(encode(row) + b"\n")
    part.replace(stream)
    mind = drive.mind
    held = {
        "lap_times": drive.lap_times,
        "planted": [{"kind": m.kind, "lap": m.lap, "corner": m.corner, "size": m.size} for m in spec.mistakes],
        "corners": [
            {
                "corner": marks.corner.number,
                "side": marks.corner.side,
                "brake": marks.brake,
                "turn_in": marks.corner.begins,
                "slow": marks.slow,
                "exit": marks.corner.ends,
            }
            for marks in mind.marks.values()
        ],
        "track_length": spec.circuit.length,
        "width": spec.circuit.width,
        "limit": spec.car.engine.limit,
    }
    part = about.with_name(f"{about.name}.{os.getpid()}")
    part.write_text(json.dumps(held), encoding="utf-8")
    part.replace(about)


def _own_key(job: Job) -> str:
    return hashlib.sha256(f"{FORMAT} {job} {_bench_sources()}".encode()).hexdigest()[:10]


@lru_cache(maxsize=1)
def _bench_sources() -> str:
    return _code(Path(str(module.__file__)) for module in (cast, circuits, planting))


@lru_cache(maxsize=1)
def _car_sources() -> str:
    files = sorted(Path(feeds.car.__path__[0]).glob("*.py"))
    return _code(path for path in files if path.name not in ("__main__.py", "send.py"))


def _code(files: Iterable[Path]) -> str:
    """A hash of the code without its words, so that another docstring or name makes no drive anew."""
    digest = hashlib.sha256()
    for path in files:
        tree = ast.parse(path.read_bytes())
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                node.value = ""
        digest.update(ast.dump(tree).encode())
    return digest.hexdigest()[:10]
