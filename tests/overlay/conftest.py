"""The X server that the tests of the window share."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from tests.overlay.xserver import PROGRAM, XServer, there, x_server


@pytest.fixture
def x(tmp_path_factory: pytest.TempPathFactory) -> Iterator[XServer]:
    """An X server of the test's own. With CI_SCREEN=1 it must be there."""
    if not there():
        assert os.environ.get("CI_SCREEN") != "1", f"{PROGRAM} is not installed: apt-get install xvfb"
        pytest.skip(f"{PROGRAM} is not installed")
    with x_server(tmp_path_factory.mktemp("x")) as server:
        yield server
