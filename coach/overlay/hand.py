"""Hears the hand: pygame's events of mouse, keyboard and game controllers, as gestures."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from coach.overlay.gestures import Button, Drag, Drop, Grab, Input, Key, Pad, Stick, Wheel
from coach.overlay.native.pointer import Pointer, pointer
from coach.overlay.toolkit import pygame

REPEAT_AFTER, REPEAT_EACH = 400, 40
"""ms that a key is held before it comes again, and between two times (choice: as desktops have them)."""
SETTLE = 0.3
"""s after the opening in which Enter does not count: it may be the one that the command was started with. As long after
a controller came, its buttons do not: SDL tells of each switch that is on (choice)."""

_KEYS = {
    pygame.K_LEFT: "left",
    pygame.K_RIGHT: "right",
    pygame.K_UP: "up",
    pygame.K_DOWN: "down",
    pygame.K_TAB: "tab",
    pygame.K_HOME: "home",
    pygame.K_RETURN: "return",
    pygame.K_KP_ENTER: "return",
    pygame.K_ESCAPE: "escape",
    pygame.K_PLUS: "+",
    pygame.K_EQUALS: "+",
    pygame.K_KP_PLUS: "+",
    pygame.K_MINUS: "-",
    pygame.K_KP_MINUS: "-",
}
"""Where plus needs Shift, its key counts without it too."""
_SIGNS = ("+", "-")
"""What a key may write, wherever the layout has it."""
_MAIN = 1
_ACROSS, _DOWN = 0, 1
"""The axes of the first stick, as SDL counts them on a pad."""

HEARD = (
    *(pygame.QUIT, pygame.WINDOWCLOSE, pygame.WINDOWEXPOSED, pygame.KEYDOWN),
    *(pygame.MOUSEBUTTONDOWN, pygame.MOUSEBUTTONUP, pygame.MOUSEWHEEL),
    *(pygame.JOYAXISMOTION, pygame.JOYHATMOTION, pygame.JOYBUTTONDOWN, pygame.JOYDEVICEADDED, pygame.JOYDEVICEREMOVED),
)
"""The events that it wants."""


class Hand:
    """`closed`: the window was. `exposed`: it must be drawn again; the caller takes that back.

    `say` takes a line for a controller that cannot be heard. `where` tells where the mouse is: what its events say of
    that is where it was in the window before the window moved.
    """

    def __init__(self, say: Callable[[str], None], where: Callable[[], Pointer] = pointer) -> None:
        self.closed = False
        self.exposed = True
        self._say, self._where = say, where
        self._began: float | None = None
        self._settled = float("-inf")
        """s: from when on the controllers' buttons count"""
        self._held = self._pressed = False
        """the mouse holds the plate, as its events say, and as the window system says"""
        self._stick = [0.0, 0.0]
        self._controllers: dict[int, pygame.joystick.JoystickType] = {}
        self._no_pads: set[int] = set()
        """numbers of those whose axes are pedals or a wheel: they would send the plate away"""
        pygame.key.set_repeat(REPEAT_AFTER, REPEAT_EACH)
        try:
            pygame.joystick.init()
            for index in range(pygame.joystick.get_count()):  # opening a window loses the events that tell of them
                self._open(index)
        except pygame.error as error:
            say(f"no game controller can be heard ({error}): mouse and keyboard do as well")

    def heard(self, now: float) -> Iterator[Input]:
        """What has come since the last call, at `now` s of any steady clock."""
        if self._began is None:
            self._began, self._settled = now, now + SETTLE
        for event in pygame.event.get():
            yield from self._gestures(event, now)
        if self._held:
            yield from self._carried()

    def close(self) -> None:
        """Let go of the controllers."""
        self._controllers.clear()
        pygame.joystick.quit()

    def _gestures(self, event: pygame.event.Event, now: float) -> Iterator[Input]:
        kind = event.type
        if kind in (pygame.QUIT, pygame.WINDOWCLOSE):
            self.closed = True
        elif kind == pygame.WINDOWEXPOSED:
            self.exposed = True
        elif kind == pygame.KEYDOWN:
            yield from self._typed(event, now)
        elif kind == pygame.MOUSEWHEEL:
            yield Wheel(event.y)
        elif kind == pygame.MOUSEBUTTONDOWN and event.button == _MAIN:
            at = self._where()
            self._held, self._pressed = True, at.pressed
            yield Grab(at.x, at.y, now)
        elif kind == pygame.MOUSEBUTTONUP and event.button == _MAIN and self._held:
            yield from self._carried()
            yield from self._let_go()
        else:
            yield from self._controlled(event, now)

    def _carried(self) -> Iterator[Input]:
        """The mouse is held: where it is now."""
        at = self._where()
        yield Drag(at.x, at.y)
        if self._pressed and not at.pressed:  # let go while another window was opened, so that no event came
            yield from self._let_go()
        self._pressed = at.pressed

    def _let_go(self) -> Iterator[Input]:
        if self._held:
            self._held = False
            yield Drop()

    def _typed(self, event: pygame.event.Event, now: float) -> Iterator[Input]:
        name = _KEYS.get(event.key) or (event.unicode if event.unicode in _SIGNS else None)
        early = self._began is not None and now - self._began < SETTLE
        if name is not None and not (name == "return" and early):
            yield Key(name, bool(event.mod & pygame.KMOD_SHIFT))

    def _controlled(self, event: pygame.event.Event, now: float) -> Iterator[Input]:
        kind = event.type
        if kind == pygame.JOYBUTTONDOWN and now >= self._settled:
            yield Button(event.button)
        elif kind == pygame.JOYHATMOTION:
            right, up = event.value
            yield Pad(right, -up)
        elif kind == pygame.JOYAXISMOTION and event.axis in (_ACROSS, _DOWN) and event.instance_id not in self._no_pads:
            self._stick[event.axis] = event.value
            yield Stick(*self._stick)
        elif kind == pygame.JOYDEVICEADDED:
            self._open(event.device_index)
            self._settled = now + SETTLE
        elif kind == pygame.JOYDEVICEREMOVED:
            self._controllers.pop(event.instance_id, None)
            self._stick = [0.0, 0.0]
            yield from (Stick(0.0, 0.0), Pad(0, 0))

    def _open(self, index: int) -> None:
        try:
            controller = pygame.joystick.Joystick(index)
            number = controller.get_instance_id()
        except pygame.error as error:
            self._say(f"a game controller cannot be heard ({error}): mouse and keyboard do as well")
            return
        self._controllers[number] = controller
        if not _is_pad(index):
            self._no_pads.add(number)


def _is_pad(index: int) -> bool:
    """Whether SDL knows it as a pad with sticks."""
    try:
        from pygame._sdl2 import controller  # not promised by pygame: without it, d-pad and buttons do

        controller.init()
        return bool(controller.is_controller(index))
    except (ImportError, pygame.error):
        return False
