"""The controllers that are plugged in, as SDL tells of them: for the process `coach.controls.child`."""

from __future__ import annotations

from coach.controls.button import Button, Message, Plugged, Pressed, Unplugged, plain
from coach.controls.thumb import Press, Thumb
from coach.overlay.toolkit import pygame

_HEARD = (
    pygame.JOYBUTTONDOWN,
    pygame.JOYBUTTONUP,
    pygame.JOYHATMOTION,
    pygame.JOYDEVICEADDED,
    pygame.JOYDEVICEREMOVED,
)


class _Controller:
    """One that is open: pygame closes it as soon as its object is let go."""

    def __init__(self, joystick: pygame.joystick.JoystickType, now: float) -> None:
        self.joystick = joystick
        self.device: str = joystick.get_guid()
        self.name = plain(joystick.get_name())
        self.thumb = Thumb(now)


class Listener:
    """Opens every controller, from now on and as they come; `look` says what has happened.

    `axes`: whether axes are listened to. A wheel and its pedals send hundreds of changes a second, so not where no
    axis is bound. Raises pygame.error where SDL has no controllers at all.
    """

    def __init__(self, axes: bool, now: float) -> None:
        self._open: dict[int, _Controller] = {}
        pygame.display.init()  # its dummy driver: events come only with one
        pygame.event.set_blocked(None)
        pygame.event.set_allowed([*_HEARD, pygame.JOYAXISMOTION] if axes else _HEARD)
        pygame.joystick.init()
        self._first = [message for index in range(pygame.joystick.get_count()) for message in self._plugged(index, now)]

    def look(self, now: float) -> list[Message]:
        """What has happened until `now` (s, a clock that only goes on)."""
        messages, self._first = self._first, []
        for event in pygame.event.get():
            if event.type == pygame.JOYDEVICEADDED:
                messages += self._plugged(event.device_index, now)
            elif (controller := self._open.get(getattr(event, "instance_id", -1))) is None:
                continue
            elif event.type == pygame.JOYDEVICEREMOVED:
                del self._open[event.instance_id]
                messages.append(Unplugged(controller.device, controller.name))
            elif (press := _press(controller.thumb, event, now)) is not None:
                kind, number, direction = press
                messages.append(Pressed(Button(controller.device, kind, number, direction, controller.name)))
        return messages

    def _plugged(self, index: int, now: float) -> list[Message]:
        try:
            controller = _Controller(pygame.joystick.Joystick(index), now)
            number = controller.joystick.get_instance_id()
        except pygame.error:
            return []  # it has gone again, or may not be read; there is nothing to hear
        if number in self._open:
            return []  # SDL tells of those that were there at the start as well
        self._open[number] = controller
        return [Plugged(controller.device, controller.name)]


def _press(thumb: Thumb, event: pygame.event.Event, now: float) -> Press | None:
    if event.type == pygame.JOYAXISMOTION:
        return thumb.axis(event.axis, event.value, now)
    if event.type == pygame.JOYHATMOTION:
        return thumb.hat(event.hat, event.value, now)
    return thumb.button(event.button, event.type == pygame.JOYBUTTONDOWN, now)
