"""The X servers that the tests of the window use, one for each test."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from tests.overlay.xserver import COMPOSITED, DESKTOPS, XServer, missing, x_server


def opened(desktop: str, factory: pytest.TempPathFactory) -> Iterator[XServer]:
    """With CI_SCREEN=1 it must be there."""
    lacking = missing(desktop)
    if lacking:
        assert os.environ.get("CI_SCREEN") != "1", f"{', '.join(lacking)} not installed: apt-get install them"
        pytest.skip(f"{', '.join(lacking)} not installed")
    with x_server(factory.mktemp("x"), desktop) as server:
        yield server


@pytest.fixture
def x(tmp_path_factory: pytest.TempPathFactory) -> Iterator[XServer]:
    """An X server with nothing beside it."""
    yield from opened("bare", tmp_path_factory)


@pytest.fixture(params=list(DESKTOPS))
def desktop(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[XServer]:
    """One of each kind of desktop."""
    yield from opened(request.param, tmp_path_factory)


@pytest.fixture(params=COMPOSITED)
def composited(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[XServer]:
    """Each that has a compositor."""
    yield from opened(request.param, tmp_path_factory)


@pytest.fixture
def managed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[XServer]:
    """One with a window manager."""
    yield from opened("openbox", tmp_path_factory)
