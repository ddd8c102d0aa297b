"""pygame, imported quietly: it greets on standard output, and warns of a module that it takes from setuptools."""

from __future__ import annotations

import os
import warnings
from importlib.metadata import PackageNotFoundError, distribution

from coach.vocabulary.errors import WorkError

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
_MEND = "run `pip uninstall pygame pygame-ce`, then install this package again"
_TWINS = ("pygame", "pygame-ce")


def installed_twice() -> str | None:
    """One line where pygame and pygame-ce are both installed: they write the same files, and the last one won."""
    for name in _TWINS:
        try:
            distribution(name)
        except PackageNotFoundError:
            return None
    return f"pygame and pygame-ce are both installed and overwrite each other: {_MEND}"


try:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pygame as pygame
except ImportError as error:
    raise WorkError(f"pygame cannot be loaded ({error}): {_MEND}") from error
