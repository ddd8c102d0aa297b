"""The file `buttons.toml`: which button does what, for every drive. `cornerword buttons` writes it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator

from coach.app.settings import settings_file
from coach.controls.bindings import Bindings
from coach.controls.button import DIRECTIONS, Button, plain
from coach.overlay.kept import quoted, write_whole
from coach.playbook.load import shown
from coach.playbook.schema import Table, misplaced
from coach.playbook.tables import parsed
from coach.toml.reading import contents
from coach.toml.words import did_you_mean
from coach.vocabulary.actions import ACTIONS
from coach.vocabulary.errors import FormatError, WorkError

CLEAR = "`cornerword buttons --clear`"
_HEAD = "# Which button does what. Written by `cornerword buttons`; buttons, hats and axes are counted from 0.\n"
_DEVICE = r"^[0-9a-f]{32}$"
_A = {"button": "a button", "hat": "a hat", "axis": "an axis"}
MOST = 200
"""buttons: more than all the fingers of all who share a computer have (choice)."""


class ButtonTable(Table):
    """One button: of which controller (its GUID, as SDL writes it), which, and what it does."""

    action: str
    device: Annotated[str, Field(pattern=_DEVICE)]
    name: Annotated[str, Field(max_length=200)] = ""
    kind: Literal["button", "hat", "axis"]
    number: Annotated[int, Field(ge=0, le=1000)]
    direction: Literal["", "up", "down", "left", "right", "+", "-"] = ""

    @field_validator("action")
    @classmethod
    def _is_known(cls, given: str) -> str:
        if given not in ACTIONS:
            raise ValueError(f"no action is called {given[:40]!r}; {did_you_mean(given, ACTIONS)}")
        return given

    @model_validator(mode="after")
    def _points_somewhere(self) -> Self:
        wanted = DIRECTIONS[self.kind]
        if self.direction not in wanted:
            mend = f"give one of {', '.join(wanted)}" if wanted[0] else "leave it out"
            raise misplaced(".direction", f"{self.direction!r} is no direction of {_A[self.kind]}; {mend}")
        return self

    @property
    def pressed(self) -> Button:
        """The button that this is."""
        return Button(self.device, self.kind, self.number, self.direction, plain(self.name))


class ButtonsFile(Table):
    """The whole file: a list of `[[button]]`."""

    button: Annotated[list[ButtonTable], Field(max_length=MOST)] = Field(default_factory=list)

    @model_validator(mode="after")
    def _has_no_button_twice(self) -> Self:
        seen: dict[Button, int] = {}
        for index, table in enumerate(self.button):
            first = seen.setdefault(table.pressed, index)
            if first != index:
                does = self.button[first].action
                raise misplaced(f"button[{index}]", f"the same as button[{first}], which does {does}; leave one out")
        return self


def buttons_file() -> Path:
    """Where it is: beside the user's own settings."""
    return settings_file().with_name("buttons.toml")


def read() -> Bindings:
    """What is bound; nothing where there is no such file.

    Raises InputError for a file that cannot be read, FormatError, one line with file, key and mend, for one that is not
    right.
    """
    path = buttons_file()
    if not path.exists():
        return Bindings()
    where = f"buttons {shown(str(path))}"
    try:
        found = parsed(ButtonsFile, where, contents(path, where))
    except FormatError as error:
        raise FormatError(f"{error}, or remove them all with {CLEAR}") from error
    return Bindings({table.pressed: table.action for table in found.button})


def written(bindings: Bindings) -> str:
    """The file's text."""
    return _HEAD + "".join(_table(button, action) for button, action in bindings.actions.items())


def save(bindings: Bindings) -> Path:
    """Write it, whole or not at all; returns where. Raises WorkError where it cannot be written."""
    path = buttons_file()
    try:
        write_whole(path, written(bindings).encode())
    except OSError as error:
        raise _unwritten(path, error) from error
    return path


def clear() -> bool:
    """Remove the file; returns whether there was one. Raises WorkError where it cannot be removed."""
    path = buttons_file()
    try:
        path.unlink()
    except FileNotFoundError:
        return False
    except OSError as error:
        raise _unwritten(path, error) from error
    return True


def _unwritten(path: Path, error: OSError) -> WorkError:
    return WorkError(
        f"buttons {shown(str(path))}: cannot be written ({error.strerror or error}): make room, or let its folder be "
        "written to"
    )


def _table(button: Button, action: str) -> str:
    lines = [f"action = {quoted(action)}", f"device = {quoted(button.device)}", f"name = {quoted(button.name)}"]
    lines += [f"kind = {quoted(button.kind)}", f"number = {button.number}"]
    if button.direction:
        lines.append(f"direction = {quoted(button.direction)}")
    return "\n[[button]]\n" + "".join(f"{line}\n" for line in lines)
