"""The espeak-ng library: the system's where there is one, else the one that the package espeakng-loader carries."""

from __future__ import annotations

import ctypes
import ctypes.util
import importlib
import os
import sys
from dataclasses import dataclass
from typing import Any

from coach.vocabulary.errors import WorkError

SYSTEM, WHEEL = "system", "wheel"
SOURCES = (SYSTEM, WHEEL)
"""Where a library may come from, the preferred first."""

_SONAME = "libespeak-ng.so.1"


@dataclass(frozen=True, slots=True)
class Library:
    """`handle`: what ctypes loaded. `data`: the folder of its voices, None where the library knows it by itself."""

    handle: Any
    source: str
    data: bytes | None


def load(source: str) -> Library:
    """Load one into this process, where others then find it too. Raises WorkError where there is none.

    With the wheel's, the environment variable that tells a library where its voices are is set as well.
    """
    try:
        return _system() if source == SYSTEM else _wheel()
    except (ImportError, OSError) as error:
        message = f"espeak-ng: no library ({error}); install espeak-ng, or pip install espeakng-loader"
        raise WorkError(message) from error


def _system() -> Library:
    # The search runs other programs and takes 50 ms, so the name that Linux has for it is tried as it is.
    name = _SONAME if sys.platform.startswith("linux") else ctypes.util.find_library("espeak-ng")
    if name is None:
        raise OSError("none is installed")
    return Library(ctypes.CDLL(name, mode=ctypes.RTLD_GLOBAL), SYSTEM, None)


def _wheel() -> Library:
    loader = importlib.import_module("espeakng_loader")
    data = loader.get_data_path()
    os.environ["ESPEAK_DATA_PATH"] = data
    return Library(ctypes.CDLL(loader.get_library_path(), mode=ctypes.RTLD_GLOBAL), WHEEL, os.fsencode(data))
