"""Small files that are kept for a person from one start to the next: written whole or not at all."""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from pathlib import Path


def write_whole(path: Path, content: bytes) -> None:
    """Write beside it and then move, so that nobody ever reads half of it. The folder is made; a link stays a link.

    OSError where the disk fails, and then what was there before is as it was.
    """
    target = path.resolve()
    target.parent.mkdir(parents=True, exist_ok=True)
    number, name = tempfile.mkstemp(prefix=target.name[:40], suffix=".part", dir=target.parent)
    try:
        with os.fdopen(number, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(name, target)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise


def quoted(text: str) -> str:
    """A basic string of TOML 1.0: JSON's escapes are among its own, but it wants U+007F escaped as well."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
