"""Windows' own calls, held against a fake of them: which, in what order, with what. No machine has run them."""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from typing import Any

import pytest
from wcag_contrast_ratio import rgb as contrast

from coach.overlay.native import windows
from coach.overlay.native.windows import LEAST_OPACITY, WindowCalls, WindowsEdge, pitch_at, window_calls
from coach.overlay.palette import DEFAULT, blend

HANDLE = 0x1_0000_BEEF
"""More than 32 bits hold: a handle is as wide as a pointer."""
STYLE_BEFORE = 0x100
"""WS_EX_WINDOWEDGE: what was there must stay"""
STYLE = 0x100 | 0x80000 | 0x20 | 0x80 | 0x08000000
"""winuser.h: WS_EX_LAYERED, WS_EX_TRANSPARENT, WS_EX_TOOLWINDOW, WS_EX_NOACTIVATE"""
SHOWN_ON_TOP = (HANDLE, -1, 0, 0, 0, 0, 0x1 | 0x2 | 0x10 | 0x20 | 0x40)
"""HWND_TOPMOST; SWP_NOSIZE, NOMOVE, NOACTIVATE, FRAMECHANGED, SHOWWINDOW"""
ON_TOP = (HANDLE, -1, 0, 0, 0, 0, 0x1 | 0x2 | 0x10)


class Call:
    """A function of a library as ctypes has it: takes no more than its declared types do."""

    def __init__(self, name: str, log: list[tuple[Any, ...]], answer: Callable[[], int]) -> None:
        self.name, self.log, self.answer = name, log, answer
        self.argtypes: list[Any] = []
        self.restype: Any = None

    def __call__(self, *arguments: Any) -> int:
        assert self.restype is not None, f"{self.name} has no result declared: 64 bits would be cut off"
        assert len(arguments) == len(self.argtypes), self.name
        for kind, given in zip(self.argtypes, arguments, strict=True):
            kind.from_param(given)  # TypeError where ctypes would raise it
            if isinstance(given, int):
                width = 8 * ctypes.sizeof(kind)
                assert -(1 << (width - 1)) <= given < 1 << width, f"{self.name} would cut {given:#x} to {width} bits"
        self.log.append((self.name, *arguments))
        return self.answer()


class Fake:
    """A user32 in which the calls in `failing` fail with an error code, and the style is `style`."""

    def __init__(self, failing: dict[str, int] | None = None, style: int = STYLE_BEFORE) -> None:
        self.log: list[tuple[Any, ...]] = []
        self.failing = failing or {}
        self.error = 5
        """ERROR_ACCESS_DENIED, left over from someone else's call"""
        answers = {
            "ShowWindow": 0,  # it was hidden before: no failure
            "GetWindowLongPtrW": style,
            "SetWindowLongPtrW": style,
            "SetLayeredWindowAttributes": 1,
            "SetWindowPos": 1,
        }
        for name, answer in answers.items():
            setattr(self, name, Call(name, self.log, lambda name=name, answer=answer: self._run(name, answer)))

    def _run(self, name: str, answer: int) -> int:
        if name in self.failing:
            self.error = self.failing[name]
            return 0
        return answer

    def clear(self) -> None:
        self.error = 0

    def edge(self, opacity: float = 0.9) -> tuple[WindowsEdge, list[str]]:
        lines: list[str] = []
        calls = WindowCalls(self, self.clear, lambda: self.error)
        return WindowsEdge(calls, opacity, lines.append, lambda: HANDLE), lines


def test_the_window_gets_its_style_while_hidden_then_its_opacity_then_its_place_on_top() -> None:
    fake = Fake()
    edge, lines = fake.edge()
    edge.adopt()
    assert fake.log == [
        ("ShowWindow", HANDLE, 0),
        ("GetWindowLongPtrW", HANDLE, -20),
        ("SetWindowLongPtrW", HANDLE, -20, STYLE),
        ("SetLayeredWindowAttributes", HANDLE, 0, 230, 2),
        ("SetWindowPos", *SHOWN_ON_TOP),
    ]
    assert lines == []


def test_a_lift_puts_it_on_top_where_it_is_without_the_keyboard() -> None:
    fake = Fake()
    edge, _ = fake.edge()
    edge.adopt()
    fake.log.clear()
    edge.lift()
    edge.lift()
    assert fake.log == [("SetWindowPos", *ON_TOP)] * 2


def test_sdl_shows_it_without_the_keyboard() -> None:
    edge, _ = Fake().edge()
    assert edge.hints() == {"SDL_WINDOW_NO_ACTIVATION_WHEN_SHOWN": "1"}


def test_each_window_that_is_opened_gets_it_anew() -> None:
    fake = Fake()
    edge, _ = fake.edge()
    edge.adopt()
    first = list(fake.log)
    edge.adopt()
    assert fake.log == first + first


def test_no_style_at_all_is_no_failure() -> None:
    fake = Fake(style=0)
    edge, lines = fake.edge()
    edge.adopt()
    assert ("SetWindowLongPtrW", HANDLE, -20, STYLE & ~STYLE_BEFORE) in fake.log
    assert lines == []


@pytest.mark.parametrize(
    ("failing", "line", "left_out"),
    [
        ("GetWindowLongPtrW", "clicks may not go through it", "SetWindowLongPtrW"),
        ("SetWindowLongPtrW", "clicks may not go through it", None),
        ("SetLayeredWindowAttributes", "it is not transparent, or not seen at all", None),
        ("SetWindowPos", "it may be covered by the simulator's", None),
    ],
)
def test_a_call_that_fails_costs_one_line_and_the_others_go_on(failing: str, line: str, left_out: str | None) -> None:
    fake = Fake({failing: 1400})
    edge, lines = fake.edge()
    for _ in range(3):
        edge.adopt()
        edge.lift()
    assert lines == [f"the overlay's window: {line} (Windows: {failing} failed, error 1400)"]
    once = ["ShowWindow", "GetWindowLongPtrW", "SetWindowLongPtrW", "SetLayeredWindowAttributes", "SetWindowPos"]
    once = [name for name in once if name != left_out] + ["SetWindowPos"]
    assert [call[0] for call in fake.log] == once * 3


def test_the_whole_window_is_never_so_transparent_that_words_are_lost() -> None:
    """All that is dimmed stands at 3:1 or more (WCAG 2.2, 1.4.11) on every grey that may lie under the window, at the
    least opacity that the window can have; its dimmest is checked, the waterline of light 0.42 (choice)."""
    fake = Fake()
    fake.edge(0.2)[0].adopt()
    (alpha,) = (call[3] for call in fake.log if call[0] == "SetLayeredWindowAttributes")
    assert alpha == round(255 * LEAST_OPACITY)
    dim = blend(DEFAULT.plate, DEFAULT.plain, 0.42)

    def over(grey: int, colour: tuple[int, int, int]) -> tuple[float, ...]:
        return tuple((alpha * part + (255 - alpha) * grey) / 255 / 255 for part in colour)

    for grey in range(0, 256, 5):
        assert contrast(over(grey, dim), over(grey, DEFAULT.plate)) >= 3.0


@pytest.mark.parametrize(("opacity", "alpha"), [(0.95, 242), (1.0, 255), (7.0, 255)])
def test_the_opacity_is_the_persons(opacity: float, alpha: int) -> None:
    fake = Fake()
    fake.edge(opacity)[0].adopt()
    assert ("SetLayeredWindowAttributes", HANDLE, 0, alpha, 2) in fake.log


class Panels:
    """user32 and shcore, for one panel of `dpi`; `result` as an HRESULT, `monitor` None where there is none."""

    def __init__(self, dpi: int, result: int = 0, monitor: int | None = 0x1_0000_0007) -> None:
        self.dpi, self.result, self.monitor = dpi, result, monitor
        self.MonitorFromPoint = Asked(self._find)
        self.GetDpiForMonitor = Asked(self._dpi)
        self.asked: list[Any] = []

    def _find(self, point: Any, flags: int) -> int | None:
        self.asked.append((point.x, point.y, flags))
        return self.monitor

    def _dpi(self, monitor: int, kind: int, across: Any, down: Any) -> int:
        self.asked.append((monitor, kind))
        across._obj.value = down._obj.value = self.dpi
        return self.result


class Asked:
    """A function whose types can be declared."""

    def __init__(self, does: Callable[..., Any]) -> None:
        self._does = does
        self.argtypes: list[Any] = []
        self.restype: Any = None

    def __call__(self, *arguments: Any) -> Any:
        assert len(arguments) == len(self.argtypes)
        return self._does(*arguments)


def test_a_panels_own_pixels_are_asked_for() -> None:
    panels = Panels(109)
    assert pitch_at(-1920, 40, panels, panels) == pytest.approx(0.2330, abs=1e-4), "25.4 mm / 109"
    assert panels.asked == [(-1920, 40, 2), (0x1_0000_0007, 2)], "the nearest one; MDT_RAW_DPI"
    assert panels.MonitorFromPoint.restype is ctypes.c_void_p


@pytest.mark.parametrize("panels", [Panels(0), Panels(109, result=-2147024809), Panels(109, monitor=None)])
def test_a_panel_that_does_not_say_has_no_pitch(panels: Panels) -> None:
    assert pitch_at(0, 0, panels, panels) is None


@pytest.mark.skipif(windows.sys.platform == "win32", reason="of other systems")
def test_nothing_of_it_is_loaded_on_another_system() -> None:
    with pytest.raises(OSError, match="not Windows"):
        window_calls()
    with pytest.raises(OSError, match="not Windows"):
        windows.panel_pitch(0, 0)
