"""Monitors on an X server that has none: its RandR extension takes any (requests RRSetMonitor and RRDeleteMonitor)."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from Xlib.display import Display
from Xlib.ext import randr
from Xlib.protocol import rq


class _SetMonitor(rq.Request):
    """As randrproto.txt has it: python-xlib 0.33 cannot write its own."""

    _request = rq.Struct(
        rq.Card8("opcode"),
        rq.Opcode(43),
        rq.RequestLength(),
        rq.Window("window"),
        rq.Card32("name"),
        rq.Bool("primary"),
        rq.Bool("automatic"),
        rq.LengthOf("outputs", 2),
        rq.Int16("x"),
        rq.Int16("y"),
        rq.Card16("width"),
        rq.Card16("height"),
        rq.Card32("width_mm"),
        rq.Card32("height_mm"),
        rq.List("outputs", rq.Card32Obj),
    )


class Screens:
    """The monitors of a display. The first that is set takes the server's own place."""

    def __init__(self, display: Display) -> None:
        self._display = display
        self._root = display.screen().root
        self._free: list[int] = self._root.xrandr_get_screen_resources().outputs
        self._plugged: set[str] = set()
        self._outputs: dict[str, list[int]] = {}

    def set(
        self, name: str, at: tuple[int, int], size: tuple[int, int], mm: tuple[int, int], primary: bool = False
    ) -> None:
        """Plug one in, or change it: px and millimetres."""
        if name in self._plugged:
            self.unplug(name)
        self._plugged.add(name)
        outputs = self._outputs.setdefault(name, [] if self._outputs else self._free)
        _SetMonitor(
            display=self._display.display,
            opcode=self._display.display.get_extension_major(randr.extname),
            window=self._root,
            name=self._display.intern_atom(name),
            primary=primary,
            automatic=False,
            x=at[0],
            y=at[1],
            width=size[0],
            height=size[1],
            width_mm=mm[0],
            height_mm=mm[1],
            outputs=outputs,
        )
        self._display.sync()

    def unplug(self, name: str) -> None:
        """Take it away."""
        self._plugged.remove(name)
        self._root.xrandr_delete_monitor(self._display.intern_atom(name))
        self._display.sync()


@contextmanager
def screens(display: str) -> Iterator[Screens]:
    opened = Display(display)
    try:
        yield Screens(opened)
    finally:
        opened.close()
