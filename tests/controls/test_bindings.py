"""Which button does what, and what goes through the pipe."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.controls.bindings import Bindings
from coach.controls.button import (
    NAME,
    Alive,
    Button,
    Failed,
    Lost,
    Message,
    Plugged,
    Pressed,
    Ready,
    Unplugged,
    line_of,
    message_of,
    plain,
)
from tests.controls.buttons import ANY_ACTION, ANY_BINDINGS, DEVICES, any_button

NAMES = st.text(max_size=NAME).map(plain)
MESSAGES: st.SearchStrategy[Message] = st.one_of(
    any_button().map(Pressed),
    st.builds(Plugged, DEVICES, NAMES),
    st.builds(Unplugged, DEVICES, NAMES),
    st.just(Ready()),
    st.just(Alive()),
    st.builds(Failed, NAMES),
    st.builds(Lost, st.booleans()),
)


@given(ANY_BINDINGS, any_button(), ANY_ACTION)
def test_a_button_does_one_thing_and_the_others_do_what_they_did(before: Bindings, button: Button, action: str) -> None:
    after = before.bound(button, action)
    assert after.actions[button] == action
    assert button in after.of(action)
    others = {other: does for other, does in before.actions.items() if other != button}
    assert {other: does for other, does in after.actions.items() if other != button} == others


@given(ANY_BINDINGS, ANY_ACTION)
def test_an_action_that_is_cleared_has_no_button(before: Bindings, action: str) -> None:
    after = before.without(action)
    assert after.of(action) == []
    assert len(after.actions) + len(before.of(action)) == len(before.actions)
    assert bool(after) == bool(after.actions)


@given(ANY_BINDINGS)
def test_its_controllers_and_what_they_can_do(bindings: Bindings) -> None:
    devices = bindings.devices()
    assert bindings.on(devices) == len(set(bindings.actions.values()))
    assert bindings.on([]) == 0
    assert sum(bindings.on([device]) for device in devices) >= bindings.on(devices)
    assert bindings.axes == any(button.kind == "axis" for button in bindings.actions)


@given(any_button(), st.text(max_size=10))
def test_a_button_is_the_same_whatever_its_controller_is_called(button: Button, name: str) -> None:
    other = Button(button.device, button.kind, button.number, button.direction, name)
    assert button == other and hash(button) == hash(other)


@given(MESSAGES)
def test_a_message_comes_out_of_the_pipe_as_it_went_in(message: Message) -> None:
    line = line_of(message)
    assert line.endswith(b"\n") and line.count(b"\n") == 1
    again = message_of(line)
    assert again == message
    if isinstance(message, Pressed) and isinstance(again, Pressed):
        assert again.button.name == message.button.name


PLAIN = st.recursive(st.none() | st.booleans() | st.text() | st.floats(), st.lists)


@given(st.one_of(st.binary(max_size=60), PLAIN.map(lambda value: json.dumps(value).encode())))
def test_anything_else_is_no_message(line: bytes) -> None:
    with pytest.raises(ValueError):
        message_of(line)


@pytest.mark.parametrize(
    "wrong",
    [
        {"what": "pressed"},
        {"what": "pressed", "device": "a", "name": "b", "kind": "lever", "number": 1, "direction": ""},
        {"what": "pressed", "device": "a", "name": "b", "kind": "hat", "number": 1, "direction": ""},
        {"what": "pressed", "device": "a", "name": "b", "kind": "button", "number": True, "direction": ""},
        {"what": "pressed", "device": "a", "name": "b", "kind": "button", "number": -1, "direction": ""},
        {"what": "pressed", "device": "a", "name": "b", "kind": ["button"], "number": 1, "direction": ""},
        {"what": "shouted"},
        {"what": ["ready"]},
    ],
)
def test_half_a_message_is_none(wrong: dict[str, object]) -> None:
    with pytest.raises(ValueError):
        message_of(json.dumps(wrong).encode())


def test_a_name_is_made_safe_to_print() -> None:
    assert plain("Wheel\n\x1b[2J\x7f ") == "Wheel??[2J?"
    assert len(plain("x" * 500)) == NAME
