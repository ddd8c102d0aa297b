"""`recordings`: what is in a folder, one recording after the other."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from pathlib import Path

from coach.app.config import Made, RecordingsOptions
from coach.app.console import Console, plain
from coach.app.stop import Stop
from coach.app.tables.reading import Laps, Reader, start_for
from coach.app.telling.numbers import counted, date_of, size_of, span_of
from coach.vocabulary.errors import CornerwordError, InputError
from coach.vocabulary.laptime import lap_time
from feeds.base import Datagram
from feeds.paths import on_one_line
from feeds.recording import Recording, open_recording

ENDINGS = (".cwrec", ".jsonl", ".jsonl.gz", ".pcap", ".pcapng")
"""File names that are looked into."""
PROGRESS = 1.0
"""s of work after which a person is told how far it is, and again each time so much has gone by."""
LABEL = 60
"""characters of a track's name with the car's, or of a driver's, that are shown"""
LABELS = 2
"""tracks with their cars that are named; the rest are counted"""


@dataclass(slots=True)
class _Look:
    """What one file came to."""

    path: Path
    first: float | None = None
    last: float = 0.0
    datagrams: int = 0
    laps: Laps = field(default_factory=Laps)
    driver: str | None = None
    driven: list[str] = field(default_factory=list)
    samples: int = 0
    state: str = "whole"


class _Progress:
    """Says now and then which file is looked into."""

    def __init__(self, console: Console, files: int) -> None:
        self._console, self._files = console, files
        self._number, self._name = 0, ""
        self._told = time.monotonic()

    def begin(self, path: Path) -> None:
        """The next file."""
        self._number += 1
        self._name = on_one_line(path.name)

    def tell(self) -> None:
        """Say so where it takes long."""
        if time.monotonic() - self._told >= PROGRESS:
            self._told = time.monotonic()
            self._console.say(f"looking into {self._number} of {self._files}: {self._name}")


def recordings(options: RecordingsOptions, console: Console, stop: Stop) -> str:
    """List the recordings in a folder; returns the list. InputError where it is no folder that may be read."""
    paths = _in(options.folder)
    if not paths:
        endings = f"{', '.join(ENDINGS[:-1])} or {ENDINGS[-1]}"
        return f"There is no recording in {on_one_line(options.folder)}: no file there ends in {endings}.\n"
    progress = _Progress(console, len(paths))
    blocks = []
    for path in paths:
        progress.begin(path)
        blocks.append("\n".join(_described(path, stop, progress)))
    return "\n".join(blocks) + "\n"


def _in(folder: Path) -> list[Path]:
    name = on_one_line(folder)
    try:
        found = [path for path in folder.iterdir() if path.name.lower().endswith(ENDINGS) and path.is_file()]
    except FileNotFoundError:
        raise InputError(f"there is no folder {name}: check the name") from None
    except NotADirectoryError:
        raise InputError(f"{name} is no folder: name the folder, or say `cornerword inspect {name}`") from None
    except OSError as error:
        raise InputError(f"the folder {name} cannot be read, {error.strerror}: name another one") from None
    return sorted(found, key=lambda path: path.name)


def _described(path: Path, stop: Stop, progress: _Progress) -> list[str]:
    """The lines of one file; one that cannot be read says why, and holds up nothing."""
    name = on_one_line(path.name)
    try:
        size = size_of(path.stat().st_size)
        look = _looked(open_recording(path), stop, progress)
    except CornerwordError as error:
        return [name, f"  {plain(str(error), 200)}"]
    except OSError as error:
        return [name, f"  cannot be read, {error.strerror}"]
    if look.first is None:
        return [name, f"  {size}, {look.state}, no datagram in it"]
    when = date_of(look.first)
    parts = ([] if when is None else [when]) + [span_of(max(look.last - look.first, 0.0)), size, look.state]
    lines = [name, "  " + ", ".join(parts)]
    if not look.samples:
        return [*lines, f"  {counted(look.datagrams, 'datagram')} of an unknown kind: `inspect` it with --layout"]
    return [*lines, *_driven(look)]


def _driven(look: _Look) -> list[str]:
    labels = [plain(text, LABEL) for text in look.driven]
    more = [f"{len(labels) - LABELS} more"] if len(labels) > LABELS else []
    driver = f", {plain(look.driver, LABEL)}" if look.driver else ""
    clean = sum(lap.clean for lap in look.laps.ended)
    best = look.laps.best
    quickest = "" if best is None else f", best {lap_time(best.time)} (lap {best.lap})"
    return [
        "  " + "; ".join(labels[:LABELS] + more) + driver,
        f"  {counted(len(look.laps.ended), 'lap')}, {clean} clean{quickest}",
    ]


def _looked(recording: Recording, stop: Stop, progress: _Progress) -> _Look:
    look = _Look(recording.path)
    reader = Reader(start_for(recording, Made(feed=None), stop), [look.laps])
    for item in recording:
        if stop.asked:
            raise KeyboardInterrupt
        progress.tell()
        if isinstance(item, Datagram):
            look.datagrams += 1
            look.first = item.received if look.first is None else look.first
            look.last = item.received
        reader.take(item)
    reader.finish()
    look.driver, look.driven = reader.driver, reader.driven()
    look.samples = reader.intake.samples
    if recording.damage or (recording.is_recording and recording.head is None):
        look.state = "damaged"
    elif not recording.is_closed:
        look.state = "not closed"
    elif recording.left_out:
        look.state = "not all of it there"
    return look
