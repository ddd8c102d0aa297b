"""A new file, never over one that is there."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from coach.vocabulary.errors import InputError, WorkError
from feeds.paths import on_one_line


def check_free(file: Path) -> None:
    """Raises InputError where no new file can be made there: before any work."""
    name = on_one_line(file)
    try:
        if file.exists() or file.is_symlink():
            raise InputError(_exists(file))
        if not file.parent.is_dir():
            raise InputError(f"cannot write {name}: there is no folder {on_one_line(file.parent)}, make it")
    except OSError as error:  # too long a name, or a folder that may not be looked into
        raise InputError(f"cannot write {name} ({error.strerror}): choose another name") from None


def write_new(file: Path, content: str | bytes) -> None:
    """Write it, text as UTF-8. InputError where the file is there meanwhile, WorkError where the disk refuses; then
    nothing is left of it."""
    data = content.encode() if isinstance(content, str) else content
    try:
        out = file.open("xb")
    except FileExistsError:
        raise InputError(_exists(file)) from None
    except OSError as error:
        raise WorkError(_no_place(file, error)) from error
    try:
        with out:
            out.write(data)
    except BaseException as error:
        with suppress(OSError):
            file.unlink()
        if isinstance(error, OSError):
            raise WorkError(_no_place(file, error)) from error
        raise


def _no_place(file: Path, error: OSError) -> str:
    return f"cannot write {on_one_line(file)} ({error.strerror}): make room, or name another place"


def _exists(file: Path) -> str:
    return f"{on_one_line(file)} exists already: choose another name, or move it away"
