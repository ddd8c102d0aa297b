"""What a session makes of it: actions and lines, whole."""

from __future__ import annotations

from coach.controls.bindings import Bindings
from coach.controls.button import Alive, Button, Failed, Lost, Message, Plugged, Pressed, Ready, Unplugged
from coach.controls.panel import Panel

WHEEL, BOX, OTHER = "aa" * 16, "bb" * 16, "cc" * 16
BINDINGS = Bindings(
    {
        Button(WHEEL, "button", 1, "", "Pellow wheel"): "mark",
        Button(WHEEL, "button", 2, "", "Pellow wheel"): "repeat",
        Button(WHEEL, "button", 3, "", "Pellow wheel"): "repeat",
        Button(BOX, "hat", 0, "up", "Box"): "status",
    }
)
AT_WHEEL, AT_BOX = Plugged(WHEEL, "Pellow wheel"), Plugged(BOX, "Box")


def taken(*messages: Message, bindings: Bindings = BINDINGS) -> tuple[list[str], list[str]]:
    actions: list[str] = []
    lines: list[str] = []
    panel = Panel(bindings, actions.append, lines.append)
    for message in messages:
        panel.take(message)
    return actions, lines


def test_one_line_at_the_start() -> None:
    assert taken(AT_WHEEL, AT_BOX, Ready())[1] == ["buttons: 3 actions on 'Pellow wheel' and 'Box'"]
    assert taken(AT_WHEEL, AT_WHEEL, Plugged(OTHER, "Pad"), Ready())[1] == [
        "buttons: 2 actions on 'Pellow wheel'; 'Box' is not connected: 1 action once it is plugged in"
    ]
    assert taken(Plugged(OTHER, "Pad"), Ready())[1] == [
        "buttons: 'Pellow wheel' and 'Box' are not connected: 3 actions once they are plugged in"
    ]
    nameless = Bindings({Button(WHEEL, "button", 1): "mark"})
    assert taken(Ready(), bindings=nameless)[1] == [
        f"buttons: controller {WHEEL} is not connected: 1 action once it is plugged in"
    ]


def test_a_bound_button_acts_and_no_other() -> None:
    presses = [Button(WHEEL, "button", 1), Button(WHEEL, "button", 3), Button(WHEEL, "button", 4)]
    presses += [Button(BOX, "hat", 0, "up"), Button(BOX, "hat", 0, "down"), Button(OTHER, "button", 1)]
    actions, lines = taken(AT_WHEEL, AT_BOX, Ready(), *map(Pressed, presses), Alive())
    assert actions == ["mark", "repeat", "status"]
    assert len(lines) == 1


def test_plugging_is_told_of_controllers_with_bound_buttons() -> None:
    gone = Unplugged(BOX, "Box")
    lines = taken(AT_WHEEL, Ready(), AT_BOX, AT_BOX, gone, gone, Plugged(OTHER, "Pad"), Unplugged(OTHER, "Pad"))[1]
    assert lines[1:] == [
        "buttons: 'Box' is plugged in, 1 action",
        "buttons: 'Box' is unplugged; they work again once it is plugged in",
    ]


def test_the_end_of_the_process_is_told_once_and_that_it_is_left_alone() -> None:
    again = [Lost(again=True), AT_WHEEL, Ready()]
    actions, lines = taken(AT_WHEEL, Ready(), *again, *again, Pressed(Button(WHEEL, "button", 1)), Lost(again=False))
    assert actions == ["mark"]
    assert lines[1:] == [
        "buttons: their process has ended, and is started again",
        "buttons: their process ends again and again; the session goes on without them",
    ]


def test_why_none_is_heard_is_told() -> None:
    assert taken(Failed("no driver"))[1] == ["buttons: none is heard, no driver; the session goes on without them"]
