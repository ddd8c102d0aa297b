"""`pupils`: several pupils' memories side by side, for an instructor."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from pathlib import Path

from coach.app.config import PupilsOptions
from coach.app.console import Console, plain
from coach.app.kept import with_some_channels
from coach.app.pagefiles import check_page, write_page
from coach.app.remembering.opening import opened
from coach.app.stop import Stop
from coach.app.telling.progressbar import ProgressBar
from coach.app.telling.pupilstext import pupils_text
from coach.review.model import KeptSession
from coach.review.pupils import pupils as pupils_of
from coach.store.rows import SessionRow
from coach.vocabulary.errors import CornerwordError, InputError
from feeds.paths import on_one_line

SESSIONS = 7
"""of each pupil the last so many: a week, as in `progress` (choice)"""
SHOWN = 40
"""characters of a circuit's name within a sentence"""


@dataclass(frozen=True, slots=True)
class _Pupil:
    """One driver of one file. `name`: as the stream names the driver, else the file's own."""

    name: str
    file: Path
    rows: tuple[SessionRow, ...]


def pupils(options: PupilsOptions, console: Console, stop: Stop) -> str:
    """The pupils side by side; returns the text. A file that does not serve is left out with one line that says why;
    InputError where none serves."""
    check_page(options.to)
    with ProgressBar("reading the pupils' memories") as bar:
        said = bar.above(console)
        found = [pupil for file in _once(options.files) for pupil in _in(file, said)]
        if not found:
            raise InputError(
                "none of the files holds a session with a lap: give memories, as `memory copy` writes them"
            )
        track = _track(options.track, found)
        meant = [pupil for pupil in found if any(row.track == track for row in pupil.rows)]
        by_name: dict[str, list[KeptSession]] = {}
        for name, pupil in bar.over(_named(meant).items(), len(meant)):
            by_name[name] = _sessions(pupil, track, stop, said)
    klass = pupils_of({name: sessions for name, sessions in by_name.items() if sessions}, track)
    text = pupils_text(klass)
    if options.to is not None:
        from coach.debrief.page import pupils_page

        text += "\n" + write_page(options.to, pupils_page(klass, None))
    return text


def _once(files: tuple[Path, ...]) -> list[Path]:
    """A file that is named twice is one pupil all the same."""
    return list({file.absolute(): file for file in files}.values())


def _in(file: Path, console: Console) -> list[_Pupil]:
    """The drivers in a file, each with the sessions in which a lap ended, the newest first."""
    try:
        with opened(file) as memory:
            rows = [row for row in memory.sessions() if row.laps]
    except CornerwordError as error:
        console.say(f"left out: {error}")
        return []
    if not rows:
        console.say(f"left out: {on_one_line(file)} holds no session with a lap")
    by_driver: dict[str | None, list[SessionRow]] = defaultdict(list)
    for row in rows:
        by_driver[row.driver].append(row)
    return [_Pupil(driver or file.stem, file, tuple(rows)) for driver, rows in by_driver.items()]


def _track(wanted: str | None, found: list[_Pupil]) -> str | None:
    """The circuit that is meant: the one that most of the pupils drive, of those the one driven last."""
    tracks = {row.track for pupil in found for row in pupil.rows}
    if wanted is not None:
        if wanted in tracks:
            return wanted
        known = ", ".join(sorted(plain(track, SHOWN) for track in tracks if track is not None)) or "none with a name"
        raise InputError(f"--track: nobody drove {plain(wanted, SHOWN)}: in the files are {known}")
    pupils_on = Counter(track for pupil in found for track in {row.track for row in pupil.rows})
    last = {row.track: row.begun for row in sorted((r for p in found for r in p.rows), key=lambda row: row.begun)}
    return max(pupils_on, key=lambda track: (track is not None, pupils_on[track], last[track]))


def _named(found: list[_Pupil]) -> dict[str, _Pupil]:
    """The pupils by name; where two have the same, each with the file's name behind, and in full if need be."""
    many = Counter(pupil.name for pupil in found)
    named: dict[str, _Pupil] = {}
    for pupil in found:
        name = pupil.name if many[pupil.name] == 1 else f"{pupil.name} ({on_one_line(pupil.file.stem)})"
        if name in named:
            name = f"{pupil.name} ({on_one_line(pupil.file)})"
        named[name] = pupil
    return named


def _sessions(pupil: _Pupil, track: str | None, stop: Stop, console: Console) -> list[KeptSession]:
    """A pupil's last sessions on the circuit, the oldest first."""
    meant = [row for row in pupil.rows if row.track == track][:SESSIONS]
    found = []
    try:
        with opened(pupil.file) as memory:
            for row in reversed(meant):
                if stop.asked:
                    raise KeyboardInterrupt
                found.append(with_some_channels(memory, memory.session(row.id)))
    except CornerwordError as error:
        console.say(f"left out: {error}")
        return []
    return found
