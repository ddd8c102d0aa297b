"""One channel of a layout: where it stands in a packet, and how its raw value becomes the channel's."""

from __future__ import annotations

import re
from math import isfinite
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from coach.toml.words import did_you_mean, short
from feeds.channels import CONVERTERS, Unfit
from feeds.layout import channels as known
from feeds.layout.axes import axes_of
from feeds.layout.explain import misplaced
from feeds.layout.table import (
    LARGEST_PACKET,
    LARGEST_TEXT,
    SIZES,
    TYPES,
    Finite,
    Offset,
    Order,
    Table,
    as_read,
    check_holds,
    is_integer,
    listed,
    several,
)
from feeds.layout.units import CONVERSIONS, QUANTITY

WHEEL_NAMES = ("FL", "FR", "RL", "RR")
ACROSS = (("in", "mid", "out"), ("left", "mid", "right"))
"""How a tread's values may be named: from the car's centre, or by the car's sides."""


def _raw(given: Any) -> Any:
    """Raw values that mean something: whole numbers, numbers, texts."""
    values = several(given)
    for value in values:
        if isinstance(value, bool) or not isinstance(value, (int, float, str)):
            raise ValueError(f"a number or text is needed, or a list of them, not {short(value)}")
        if isinstance(value, float) and not isfinite(value):
            raise ValueError("what is not finite is absent by itself: leave it out")
        if isinstance(value, int) and value.bit_length() > 64:
            raise ValueError("so long a number stands in no packet: shorten it")
    if not 1 <= len(values) <= 64:
        raise ValueError("from 1 to 64 values may stand in it")
    return values


class Channel(Table):
    """Where one channel stands in a packet, and how its raw value becomes the channel's."""

    offset: Annotated[tuple[Offset, ...], BeforeValidator(several), Field(min_length=1)] | None = None
    type: Literal[
        "u8", "u16", "u32", "u64", "i8", "i16", "i32", "i64", "f16", "f32", "f64", "bool", "text"
    ] | None = None  # fmt: skip
    byte_order: Order | None = None
    absent: Annotated[tuple[Any, ...], BeforeValidator(_raw)] | None = None
    scale: Finite = 1.0
    bias: Finite = 0.0
    convert: str | None = None
    constant: Any = None
    positive: Literal["left", "right"] = "left"
    zero: Literal["east", "north", "west", "south"] = "east"
    axes: str | None = None
    order: Annotated[tuple[str, ...], BeforeValidator(listed)] | None = None
    stride: Annotated[int, Field(ge=1, le=LARGEST_PACKET)] | None = None
    across: Annotated[tuple[str, ...], BeforeValidator(listed)] | None = None
    step: Annotated[int, Field(ge=1, le=LARGEST_PACKET)] | None = None
    radius: Annotated[tuple[Annotated[float, Field(gt=0.0, le=10.0)], ...], BeforeValidator(several)] | None = None
    bit: Annotated[int, Field(ge=0, le=63)] | None = None
    equals: Annotated[tuple[int, ...], BeforeValidator(several), Field(min_length=1, max_length=256)] | None = Field(
        default=None, alias="is"
    )
    inverted: bool = False
    length: Annotated[int, Field(ge=1, le=LARGEST_TEXT)] | None = None
    encoding: Literal["utf-8", "latin-1", "utf-16"] = "utf-8"
    names: Annotated[dict[str, Any], Field(min_length=1, max_length=4096)] | None = None

    @property
    def is_constant(self) -> bool:
        """Whether no packet holds it."""
        return self.offset is None

    @property
    def size(self) -> int:
        """bytes of one value."""
        return (self.length or 0) if self.type == "text" else SIZES.get(self.type or "", 0)

    def offsets(self, count: int) -> tuple[int, ...]:
        """Where each of its `count` values begins, in the packet's own order."""
        first = self.offset or ()
        if len(first) == count:
            return first
        if count == 12:
            step = self.step or self.size
            stride = self.stride or 3 * step
            return tuple(first[0] + wheel * stride + place * step for wheel in range(4) for place in range(3))
        return tuple(first[0] + place * (self.stride or self.size) for place in range(count))

    @property
    def keys(self) -> list[str]:
        """The keys that are written in the file."""
        return [entry.alias or name for name, entry in type(self).model_fields.items() if name in self.model_fields_set]

    def check(self, name: str) -> None:
        """Whether all of it makes sense for the channel `name`; raises the error that says what does not."""
        allowed = known.keys_of(name)
        for key in self.keys:
            if key not in allowed:
                raise misplaced([key], f"it means nothing for {name}; {did_you_mean(key, allowed)}")
        if "constant" in self.keys:
            self._check_constant(name)
            return
        if self.offset is None:
            constant = " or `constant`" if "constant" in allowed else ""
            raise misplaced(["offset"], f"it is missing: write `offset` and `type`{constant}")
        if self.type is None:
            raise misplaced(["type"], f"it is missing: choose from {', '.join(TYPES)}")
        self._check_type(name)
        self._check_shape(name)
        self._check_meaning(name)

    def _check_constant(self, name: str) -> None:
        others = [key for key in self.keys if key != "constant"]
        if others:
            raise misplaced([others[0]], "a constant stands in no packet: leave this key out, or `constant`")
        converter = CONVERTERS["on_track"] if name.startswith(known.ASSIST) else CONVERTERS[name]
        try:
            value = converter.convert(self.constant)
        except (Unfit, RecursionError):
            value = None
        if value is None:
            raise misplaced(["constant"], f"{short(self.constant)} is no {name}: write {converter.wants}")

    def _check_type(self, name: str) -> None:
        kind = known.kind_of(name)
        if self.type == "text":
            if kind == "whole" and self.names is None:
                raise misplaced(["names"], f'text is no {name} by itself: write what it stands for, {{ "R" = -1 }}')
            if kind not in ("label", "whole"):
                raise misplaced(["type"], f"{name} is not text; choose from {', '.join(SIZES)}")
            if self.length is None:
                raise misplaced(["length"], "it is missing: write how many bytes the text has")
            if self.scale != 1.0 or self.bias != 0.0:
                raise misplaced(["scale"], "text has no scale and no bias: leave them out")
        elif self.length is not None or "encoding" in self.keys:
            raise misplaced(["length"], 'only text has a length and an encoding: write type = "text", or leave it out')
        if kind == "label" and self.type is not None and self.type[0] in "fb":
            raise misplaced(["type"], f"{name} is a label: choose text, or a whole number with `names`")
        if (self.bit is not None or self.equals is not None) and not is_integer(self.type):
            raise misplaced(["type"], "only a whole number has bits and values to name: choose u8, u16, u32 and so on")
        if self.bit is not None and self.type is not None and self.bit >= 8 * self.size:
            raise misplaced(["bit"], f"{self.type} has the bits 0 to {8 * self.size - 1}")
        if self.bit is not None and self.equals is not None:
            raise misplaced(["is"], "`bit` and `is` are two ways to read a flag: leave one out")
        for value in self.equals or ():
            check_holds(["is"], self.type or "", value)
        for value in self.absent or ():
            self._check_absent(value)
        if kind == "label" and self.type != "text" and name in known.CLOSED_LABELS and self.names is None:
            choices = CONVERTERS[name].wants
            raise misplaced(["names"], f"a number is no {name} by itself: write which number stands for {choices}")

    def _check_absent(self, value: int | float | str) -> None:
        """Whether a field of this type can hold it."""
        message = f"{short(value)} is never read as {self.type}: write such a value"
        if isinstance(value, str) or self.type == "text":
            if not isinstance(value, str) or self.type != "text":
                raise misplaced(["absent"], message)
            return
        if is_integer(self.type) and value != int(value):
            raise misplaced(["absent"], message)
        check_holds(["absent"], self.type or "", int(value))
        try:
            as_read(self.type or "", value)
        except OverflowError:
            raise misplaced(["absent"], message) from None

    def _check_shape(self, name: str) -> None:
        count, kind = known.count_of(name), known.kind_of(name)
        given = len(self.offset or ())
        if given not in (1, count):
            raise misplaced(["offset"], f"{name} has {count} value{'s' * (count > 1)}: write one offset, or {count}")
        if given > 1 and (self.stride is not None or self.step is not None):
            raise misplaced(["stride"], "every value has its offset already: leave `stride` and `step` out")
        if self.order is not None and sorted(self.order) != sorted(WHEEL_NAMES):
            raise misplaced(["order"], f"name each wheel once, {', '.join(WHEEL_NAMES)}, as the packet has them")
        if self.across is not None and sorted(self.across) not in [sorted(names) for names in ACROSS]:
            raise misplaced(["across"], 'name each value once: "in", "mid", "out", or "left", "mid", "right"')
        if self.radius is not None and len(self.radius) not in (1, 2, 4):
            raise misplaced(["radius"], "one radius is needed, or [front, rear], or four in the order FL, FR, RL, RR")
        if kind == "vector" and self.axes is not None:
            try:
                axes_of(self.axes, {"position": True, "acceleration": False}.get(name))
            except ValueError as error:
                raise misplaced(["axes"], str(error)) from None

    def _check_meaning(self, name: str) -> None:
        quantity = self.quantity(name)
        if self.convert is not None and self.convert not in CONVERSIONS[quantity]:
            units = CONVERSIONS[quantity]
            mend = did_you_mean(self.convert, units) if units else "leave it out"
            if name == "wheel_speed" and self.convert in CONVERSIONS["wheel rate"]:
                mend = "write the wheels' `radius` too, then it is"
            raise misplaced(["convert"], f"{short(self.convert)} is no unit of {name}; {mend}")
        if self.scale == 0.0:
            raise misplaced(["scale"], "0 makes all values equal: write another, or `constant`")
        for raw, meaning in (self.names or {}).items():
            self._check_name(name, raw, meaning)

    def _check_name(self, name: str, raw: str, meaning: Any) -> None:
        if self.type != "text":
            if re.fullmatch("-?[0-9]{1,20}", raw) is None:
                raise misplaced(["names", raw], "a whole number is needed before the `=`, the raw value")
            check_holds(["names", raw], self.type or "", int(raw))
        try:
            fits = CONVERTERS[name].convert(meaning) is not None or meaning == ""
        except Unfit:
            fits = False
        if not fits:
            raise misplaced(["names", raw], f"{short(meaning)} is no {name}: write {CONVERTERS[name].wants}")

    def quantity(self, name: str) -> str:
        """The kind of quantity of its raw values, by which units are looked up; "number" where there is none."""
        if self.radius is not None:
            return "wheel rate"
        return QUANTITY.get(name, "number")


def _each_checked(given: dict[str, Channel]) -> dict[str, Channel]:
    for name, channel in given.items():
        if name not in known.KNOWN:
            raise misplaced([name], f"no channel is called so; {did_you_mean(name, known.KNOWN)}")
        try:
            channel.check(name)
        except ValueError as error:
            context: dict[str, Any] = getattr(error, "context", None) or {}
            raise misplaced([name, *context.get("path", [])], context.get("message", str(error))) from None
    return given


Channels = Annotated[dict[str, Channel], AfterValidator(_each_checked)]
