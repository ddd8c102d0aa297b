"""What all tables of a layout file have in common: types and limits, and how a table is checked."""

from __future__ import annotations

import struct
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from coach.toml.words import did_you_mean, short
from feeds.layout.explain import misplaced

LARGEST_PACKET = 65_507
"""bytes: the largest UDP payload over IPv4 (RFC 791, RFC 768)."""
LARGEST_TEXT = 1024
"""bytes of a text field: the longest label has 256 characters of at most 4 bytes in UTF-8 (RFC 3629)."""
MOST_PACKETS = 256
"""kinds of packet (choice: as many as a byte tells apart)."""
HOLD = 2.0
"""s that values hold (choice: what the slowest kinds of packet, one a second, need with one lost)."""
MOST_HOLD = 86_400.0
"""s: a day, for what is sent once (choice)."""

SIZES = {"u8": 1, "i8": 1, "bool": 1, "u16": 2, "i16": 2, "f16": 2, "u32": 4, "i32": 4, "f32": 4} | dict.fromkeys(
    ("u64", "i64", "f64"), 8
)
"""bytes of a type; floats are those of IEEE 754."""
TYPES = (*SIZES, "text")
CODES = {
    **{"u8": "B", "u16": "H", "u32": "I", "u64": "Q", "i8": "b", "i16": "h", "i32": "i", "i64": "q"},
    **{"f16": "e", "f32": "f", "f64": "d", "bool": "?"},
}
"""Of each type the character of `struct`, which has standard sizes and no padding after `<` and `>`."""

Order = Literal["little", "big"]
Offset = Annotated[int, Field(ge=0, le=LARGEST_PACKET)]
Finite = Annotated[float, Field(ge=-1e12, le=1e12)]


def is_integer(type_: str | None) -> bool:
    """Whether a type is a whole number."""
    return type_ is not None and type_[0] in "ui"


def several(given: Any) -> Any:
    """One value, or a list of them, as a tuple."""
    if isinstance(given, (list, tuple)):
        return tuple(given)
    return (given,)


def as_read(type_: str, value: int | float) -> int | float:
    """The value as a field of this type gives it: 0.1 is no f32. OverflowError where it cannot hold it."""
    if type_ not in ("f16", "f32"):
        return value
    packed = struct.Struct("<" + CODES[type_])
    rounded: float = packed.unpack(packed.pack(value))[0]
    return rounded


def listed(given: Any) -> Any:
    return tuple(given) if isinstance(given, list) else given


def printable(given: str) -> str:
    if not given.isprintable():
        raise ValueError("has a line break or a control character: write it in one line without")
    return given


Name = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(printable)]


class Table(BaseModel):
    """Base of every table: nothing is converted, and a key that nobody knows is an error that names the likely one."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)

    @model_validator(mode="before")
    @classmethod
    def _knows_its_keys(cls, given: Any) -> Any:
        names = [entry.alias or name for name, entry in cls.model_fields.items()]
        for key in given if isinstance(given, Mapping) else ():
            if key not in names:
                raise misplaced([str(key)], f"there is no such key here; {did_you_mean(str(key), names)}")
        return given


def check_holds(path: list[str | int], type_: str, value: int) -> None:
    if not is_integer(type_):
        return
    bits = 8 * SIZES[type_]
    least, most = (0, 2**bits - 1) if type_[0] == "u" else (-(2 ** (bits - 1)), 2 ** (bits - 1) - 1)
    if not least <= value <= most:
        raise misplaced(path, f"{type_} holds {least} to {most}, not {short(value)}")
