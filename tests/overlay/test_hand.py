"""What pygame's events become. Mouse, keys and game controllers stand in SDL's own event queue here, put there by hand:
there is no device, and SDL's dummy window. test_place_window.py has a real mouse and keyboard; no real controller."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from coach.overlay import hand as module
from coach.overlay.gestures import Button, Drag, Drop, Grab, Input, Key, Pad, Stick, Wheel
from coach.overlay.hand import SETTLE, Hand
from coach.overlay.native.pointer import Pointer
from coach.overlay.toolkit import pygame

LATER = 10.0 + SETTLE
"""s: when Enter counts"""


class Rig:
    """A hand whose mouse is where the test puts it."""

    def __init__(self) -> None:
        self.mouse = Pointer(0, 0, False)
        self.lines: list[str] = []
        self.hand = Hand(self.lines.append, lambda: self.mouse)
        list(self.hand.heard(10.0))

    def post(self, kind: int, **what: Any) -> None:
        assert pygame.event.post(pygame.event.Event(kind, **what))

    def hears(self, kind: int | None = None, now: float = LATER, **what: Any) -> list[Input]:
        if kind is not None:
            self.post(kind, **what)
        return list(self.hand.heard(now))

    def key(self, code: int, text: str = "", mod: int = 0, now: float = LATER) -> list[Input]:
        return self.hears(pygame.KEYDOWN, now, key=code, unicode=text, mod=mod)


@pytest.fixture
def rig(monkeypatch: pytest.MonkeyPatch) -> Iterator[Rig]:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    pygame.display.init()
    pygame.display.set_mode((64, 64))
    pygame.event.clear()
    made = Rig()
    yield made
    made.hand.close()
    pygame.display.quit()


@pytest.mark.parametrize(
    ("code", "text", "name"),
    [
        (pygame.K_LEFT, "", "left"),
        (pygame.K_RIGHT, "", "right"),
        (pygame.K_UP, "", "up"),
        (pygame.K_DOWN, "", "down"),
        (pygame.K_TAB, "\t", "tab"),
        (pygame.K_HOME, "", "home"),
        (pygame.K_RETURN, "\r", "return"),
        (pygame.K_KP_ENTER, "\r", "return"),
        (pygame.K_ESCAPE, "\x1b", "escape"),
        (pygame.K_EQUALS, "=", "+"),
        (pygame.K_PLUS, "+", "+"),
        (pygame.K_KP_PLUS, "+", "+"),
        (pygame.K_MINUS, "-", "-"),
        (pygame.K_KP_MINUS, "-", "-"),
        (pygame.K_1, "+", "+"),
    ],
)
@pytest.mark.parametrize("shift", [False, True])
def test_keys(rig: Rig, code: int, text: str, name: str, shift: bool) -> None:
    assert rig.key(code, text, pygame.KMOD_LSHIFT if shift else 0) == [Key(name, shift)]


def test_other_keys_are_nothing(rig: Rig) -> None:
    assert rig.key(pygame.K_a, "a") == rig.key(pygame.K_F1) == rig.key(pygame.K_SPACE, " ") == []


def test_the_enter_that_started_the_command_does_not_end_it(rig: Rig) -> None:
    assert rig.key(pygame.K_RETURN, "\r", now=10.0 + SETTLE / 2) == []
    assert rig.key(pygame.K_ESCAPE, now=10.0 + SETTLE / 2) == [Key("escape")]
    assert rig.key(pygame.K_RETURN, "\r") == [Key("return")]


def test_the_mouse_is_followed_over_the_whole_desktop(rig: Rig) -> None:
    rig.mouse = Pointer(500, 40, True)
    assert rig.hears(pygame.MOUSEBUTTONDOWN, button=1, pos=(3, 4)) == [Grab(500, 40, LATER), Drag(500, 40)]
    rig.mouse = Pointer(900, 700, True)
    assert rig.hears() == [Drag(900, 700)]
    rig.mouse = Pointer(910, 710, False)
    assert rig.hears(pygame.MOUSEBUTTONUP, button=1, pos=(5, 5)) == [Drag(910, 710), Drop()]
    rig.mouse = Pointer(0, 0, False)
    assert rig.hears() == []


def test_a_press_shorter_than_a_frame_is_one(rig: Rig) -> None:
    rig.mouse = Pointer(500, 40, False)
    rig.post(pygame.MOUSEBUTTONDOWN, button=1, pos=(3, 4))
    gestures = rig.hears(pygame.MOUSEBUTTONUP, button=1, pos=(3, 4))
    assert gestures == [Grab(500, 40, LATER), Drag(500, 40), Drop()]


def test_a_release_that_nobody_told_of_lets_go(rig: Rig) -> None:
    rig.mouse = Pointer(500, 40, True)
    rig.hears(pygame.MOUSEBUTTONDOWN, button=1, pos=(3, 4))
    rig.mouse = Pointer(520, 40, False)
    assert rig.hears() == [Drag(520, 40), Drop()]
    assert rig.hears(pygame.MOUSEBUTTONUP, button=1, pos=(5, 5)) == []


@pytest.mark.parametrize("button", [2, 3, 4, 5])
def test_other_mouse_buttons_are_nothing(rig: Rig, button: int) -> None:
    for kind in (pygame.MOUSEBUTTONDOWN, pygame.MOUSEBUTTONUP):
        assert rig.hears(kind, button=button, pos=(3, 4)) == []


def test_the_wheel(rig: Rig) -> None:
    assert rig.hears(pygame.MOUSEWHEEL, x=0, y=-2) == [Wheel(-2)]


def test_a_controllers_buttons_and_d_pad(rig: Rig) -> None:
    """A d-pad's second number is upwards in pygame."""
    assert rig.hears(pygame.JOYBUTTONDOWN, instance_id=0, button=5) == [Button(5)]
    assert rig.hears(pygame.JOYHATMOTION, instance_id=0, hat=0, value=(-1, 1)) == [Pad(-1, -1)]
    assert rig.hears(pygame.JOYHATMOTION, instance_id=0, hat=0, value=(0, 0)) == [Pad(0, 0)]


def test_a_switch_that_is_on_when_a_controller_comes_does_not_count(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    assert rig.hears(pygame.JOYBUTTONDOWN, 10.0 + SETTLE / 2, instance_id=0, button=0) == []
    monkeypatch.setattr(pygame.joystick, "Joystick", FakeController)
    rig.hears(pygame.JOYDEVICEADDED, LATER, device_index=1)
    assert rig.hears(pygame.JOYBUTTONDOWN, LATER + SETTLE / 2, instance_id=101, button=0) == []
    assert rig.hears(pygame.JOYBUTTONDOWN, LATER + SETTLE, instance_id=101, button=0) == [Button(0)]


def test_a_controllers_first_stick(rig: Rig) -> None:
    """Its second axis is downwards in SDL."""
    assert rig.hears(pygame.JOYAXISMOTION, instance_id=0, axis=0, value=0.5) == [Stick(0.5, 0.0)]
    assert rig.hears(pygame.JOYAXISMOTION, instance_id=0, axis=1, value=1.0) == [Stick(0.5, 1.0)]
    for axis in (2, 3, 4, 5):
        assert rig.hears(pygame.JOYAXISMOTION, instance_id=0, axis=axis, value=-1.0) == []


def test_what_was_held_on_a_controller_ends_with_it(rig: Rig) -> None:
    rig.hears(pygame.JOYAXISMOTION, instance_id=3, axis=0, value=0.5)
    assert rig.hears(pygame.JOYDEVICEREMOVED, instance_id=3) == [Stick(0.0, 0.0), Pad(0, 0)]
    assert rig.hears(pygame.JOYAXISMOTION, instance_id=4, axis=1, value=0.5) == [Stick(0.0, 0.5)]


def test_what_sdl_does_not_know_is_no_pad(rig: Rig) -> None:
    assert not module._is_pad(63)


class FakeController:
    """Stands in for a device; `index` 7 cannot be opened."""

    def __init__(self, index: int) -> None:
        if index == 7:
            raise pygame.error("device is busy")
        self._number = 100 + index

    def get_instance_id(self) -> int:
        return self._number


def test_pedals_and_a_wheels_rim_do_not_send_the_plate_away(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pygame.joystick, "Joystick", FakeController)
    monkeypatch.setattr(module, "_is_pad", lambda index: index == 1)
    for index in (0, 1):
        assert rig.hears(pygame.JOYDEVICEADDED, device_index=index) == []
    assert rig.hears(pygame.JOYAXISMOTION, instance_id=100, axis=1, value=1.0) == []
    pressed = rig.hears(pygame.JOYBUTTONDOWN, LATER + SETTLE, instance_id=100, button=0)
    assert pressed == [Button(0)], "its buttons count"
    assert rig.hears(pygame.JOYAXISMOTION, instance_id=101, axis=1, value=1.0) == [Stick(0.0, 1.0)]


def test_a_controller_that_cannot_be_opened_is_told_and_nothing_more(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pygame.joystick, "Joystick", FakeController)
    assert rig.hears(pygame.JOYDEVICEADDED, device_index=7) == []
    assert rig.lines == ["a game controller cannot be heard (device is busy): mouse and keyboard do as well"]


def test_controllers_that_were_there_before_are_opened(monkeypatch: pytest.MonkeyPatch, rig: Rig) -> None:
    """SDL tells of them before there is a window, and pygame forgets that when one is opened."""
    monkeypatch.setattr(pygame.joystick, "Joystick", FakeController)
    monkeypatch.setattr(pygame.joystick, "get_count", lambda: 8)
    monkeypatch.setattr(module, "_is_pad", lambda index: True)
    lines: list[str] = []
    Hand(lines.append, lambda: rig.mouse)
    assert lines == ["a game controller cannot be heard (device is busy): mouse and keyboard do as well"]


@pytest.mark.parametrize("kind", [pygame.QUIT, pygame.WINDOWCLOSE])
def test_closing(rig: Rig, kind: int) -> None:
    assert not rig.hand.closed
    assert rig.hears(kind) == []
    assert rig.hand.closed


def test_exposing(rig: Rig) -> None:
    rig.hand.exposed = False
    assert rig.hears(pygame.WINDOWEXPOSED) == []
    assert rig.hand.exposed
