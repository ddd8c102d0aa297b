"""The folder in which processes render: beside the cache where there is room, and swept of what a kill left there."""

from __future__ import annotations

import contextlib
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from coach.vocabulary.errors import WorkError

PREFIX = "work-"
LEFT_BEHIND = 3600.0
"""s after which a work folder is nobody's any more: rendering takes seconds."""
ROOM = 64_000_000
"""bytes that must be free beside the cache: what `render.PARALLEL` processes write at most, and then some."""


@contextmanager
def workshop(cache: Path) -> Iterator[Path]:
    """A folder of one's own, removed at the end. Raises WorkError where no folder can be made at all."""
    try:
        folder = _made(cache)
    except OSError as error:
        raise WorkError(f"voice: no folder to render in ({error.strerror or error}); make room on the disk") from error
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _made(cache: Path) -> Path:
    with contextlib.suppress(OSError):  # it cannot be written: the shelf tells it, and holds the sounds in memory
        cache.mkdir(parents=True, exist_ok=True)
        _sweep(cache)
        if shutil.disk_usage(cache).free >= ROOM:
            return Path(tempfile.mkdtemp(prefix=PREFIX, dir=cache))
    return Path(tempfile.mkdtemp(prefix="cornerword-voice-"))


def _sweep(cache: Path) -> None:
    old = time.time() - LEFT_BEHIND
    for left in cache.glob(PREFIX + "*"):
        with contextlib.suppress(OSError):  # another program has just removed its own, or sweeps too
            if left.stat().st_mtime < old:
                shutil.rmtree(left, ignore_errors=True)
