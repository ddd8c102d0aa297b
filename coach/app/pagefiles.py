"""Where pages and pictures go: new files, and what they need of the debrief's extra, read at the edge."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from contextlib import suppress
from importlib import resources
from pathlib import Path

from coach.app.console import Console
from coach.app.newfile import check_free, write_new
from coach.app.telling.numbers import size_of
from coach.store.naming import clean_text
from coach.vocabulary.errors import InputError, WorkError
from feeds.paths import on_one_line

INSTALL = "pip install 'cornerword[debrief]'"
SCALE = 2.0
"""pixels of a PNG for one of the SVG's: sharp in print at half the size (choice)"""
FONT = ("coach.overlay", "fonts", "DejaVuSans.ttf")
"""The font of the PNGs: ours, so that they look the same on every computer."""


def check_page(page: Path | None, folder: Path | None = None) -> None:
    """Raises InputError where a new page, or a new folder, cannot be made: before any work."""
    if page is not None:
        check_free(page)
    if folder is not None:
        check_free(folder)
    if page is not None and folder is not None and page.absolute() == folder.absolute():
        raise InputError(f"--to and --pictures are the same name, {on_one_line(page)}: choose two")


def charts(console: Console) -> str | None:
    """The charting library's script from its installed wheel; None, and one line, where it is not installed."""
    try:
        script = resources.files("plotly").joinpath("package_data", "plotly.min.js")
        return script.read_text(encoding="utf-8")
    except (ImportError, OSError):
        console.say(f"the charts of the page stand still: for those that zoom, {INSTALL}")
        return None


def write_page(page: Path, text: str) -> str:
    """Write it; returns the line that says so."""
    text = clean_text(text)
    write_new(page, text)
    return f"written: {on_one_line(page)}, {size_of(len(text.encode()))}\n"


def write_pictures(folder: Path, drawn: Mapping[str, str], console: Console) -> str:
    """Each as SVG and, where it can be made, PNG, all in a new folder or none; returns the line that says so."""
    try:
        folder.mkdir()
    except FileExistsError:
        raise InputError(f"{on_one_line(folder)} exists already: choose another name, or move it away") from None
    except OSError as error:
        raise WorkError(_no_place(folder, error)) from error
    try:
        kinds = _written(folder, {name: clean_text(picture) for name, picture in drawn.items()}, console)
    except OSError as error:
        _remove(folder)
        raise WorkError(_no_place(folder, error)) from error
    except BaseException:
        _remove(folder)
        raise
    return f"written: {on_one_line(folder)}, {len(drawn)} pictures as {kinds}\n"


def _written(folder: Path, drawn: Mapping[str, str], console: Console) -> str:
    for name, picture in drawn.items():
        (folder / f"{name}.svg").write_text(picture, encoding="utf-8", newline="\n")
    try:
        from resvg_py import svg_to_bytes
    except ImportError:
        console.say(f"the pictures are SVG alone: for PNG, {INSTALL}")
        return "SVG"
    with resources.as_file(resources.files(FONT[0]).joinpath(*FONT[1:])) as font:
        for name, picture in drawn.items():
            drawn_as = svg_to_bytes(
                svg_string=picture,
                background="#ffffff",
                zoom=SCALE,
                skip_system_fonts=True,
                font_files=[str(font)],
                font_family="DejaVu Sans",
                sans_serif_family="DejaVu Sans",
            )
            (folder / f"{name}.png").write_bytes(bytes(drawn_as))
    return "SVG and PNG"


def _remove(folder: Path) -> None:
    with suppress(OSError):
        shutil.rmtree(folder)


def _no_place(folder: Path, error: OSError) -> str:
    return f"cannot write {on_one_line(folder)} ({error.strerror}): make room, or name another place"
