"""What the edge of the eye cannot have on a system is told once, and ends nothing."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing

import pytest

from coach.overlay.native import sdl, x11edge
from coach.overlay.native.edge import SdlEdge
from coach.overlay.native.x11 import X11
from coach.overlay.native.x11edge import X11Edge
from tests.overlay.xserver import XServer


@pytest.fixture
def connection(x: XServer, monkeypatch: pytest.MonkeyPatch) -> Iterator[X11]:
    monkeypatch.setenv("DISPLAY", x.display)
    with closing(X11()) as opened:
        yield opened


def test_without_x_fixes_the_overlay_goes_on_and_says_what_is_missing(
    connection: X11, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines: list[str] = []
    monkeypatch.setattr(X11, "guard_window", lambda _: 4711)
    monkeypatch.setattr(x11edge, "_LIBRARY", "libXfixes-that-is-not-there.so")
    x11edge._library.cache_clear()
    edge = X11Edge(connection, lines.append)
    for _ in range(2):
        edge.adopt()
        edge.lift()
    (line,) = lines
    assert line.startswith("clicks on the overlay do not reach what lies under it: libXfixes-that-is-not-there.so")


def test_only_a_compositor_brings_pixels_with_alpha(connection: X11) -> None:
    assert connection.alpha_visual() is not None
    assert not connection.composited()
    assert X11Edge(connection, print).hints() == {"SDL_X11_FORCE_OVERRIDE_REDIRECT": "1"}


def test_where_sdl_cannot_keep_it_on_top_a_line_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    lines: list[str] = []
    kept: list[bool] = []
    edge = SdlEdge(lines.append)
    monkeypatch.setattr(sdl, "keep_on_top", lambda: kept.append(True))
    edge.adopt()
    assert (kept, lines, edge.hints()) == ([True], [], {})

    def too_old() -> None:
        raise OSError("this SDL cannot keep a window on top")

    monkeypatch.setattr(sdl, "keep_on_top", too_old)
    edge.adopt()
    assert lines == ["the overlay may be covered by other windows: this SDL cannot keep a window on top"]
