"""One value of a packet: its type in the bytes, and how it becomes a channel's value. Prepared once for each layout."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from feeds.channels import CONVERTERS
from feeds.layout import channels as known
from feeds.layout.axes import ISO_BODY, ISO_WORLD, ZERO, Axes, axes_of
from feeds.layout.channel import ACROSS, WHEEL_NAMES, Channel
from feeds.layout.table import CODES, SIZES, as_read
from feeds.layout.units import CONVERSIONS

ENOUGH = 4096
"""Values that a table keeps: more are a counter that was taken for a label (choice)."""

_NUMBER = CONVERTERS["speed"]
_FLAG = CONVERTERS["on_track"]


class Lookup(dict[Any, Any]):
    """Raw value to channel value; what is not known yet is worked out once. Raises Unfit for a wrong value."""

    def __init__(self, convert: Callable[[Any], Any]) -> None:
        super().__init__()
        self._convert = convert

    def __missing__(self, raw: Any) -> Any:
        value = self._convert(raw)
        if raw == raw:  # a NaN equals nothing, and would be kept each time it comes
            if len(self) >= ENOUGH:
                self.clear()
            self[raw] = value
        return value


@dataclass(frozen=True, slots=True)
class Number:
    """A number that is read as `raw x scale + bias`; `share`: it has to be 0..1."""

    name: str
    offset: int
    code: str
    order: str
    scale: float
    bias: float
    absent: frozenset[Any]
    share: bool

    @property
    def is_plain(self) -> bool:
        """Whether its bytes are its value."""
        return self.scale == 1.0 and self.bias == 0.0 and self.code in "efd"

    @property
    def may_leave(self) -> bool:
        """Whether it can be a share outside of 0..1: asked of whole numbers, whose ends are known."""
        if not self.share:
            return False
        if self.code in "efd":
            return True
        bits = 8 * SIZES[next(type_ for type_, code in CODES.items() if code == self.code)]
        ends = (0, 2**bits - 1) if self.code.isupper() else (-(2 ** (bits - 1)), 2 ** (bits - 1) - 1)
        return any(not 0.0 <= end * self.scale + self.bias <= 1.0 for end in ends)

    def judged(self, raw: Any) -> float | None:
        """The value; None where it is absent. Raises Unfit where its channel cannot hold it."""
        if raw in self.absent:
            return None
        value = raw * self.scale + self.bias
        converter = CONVERTERS["throttle"] if self.share else _NUMBER
        number: float | None = converter.convert(value)
        return number

    @property
    def wants(self) -> str:
        """What would fit."""
        return CONVERTERS["throttle"].wants if self.share else _NUMBER.wants


@dataclass(frozen=True, slots=True)
class Looked:
    """A value that is looked up in `table`: a whole number, a flag or a label."""

    name: str
    offset: int
    code: str
    order: str
    table: Lookup
    wants: str


def number(name: str, channel: Channel, offset: int, order: str, place: int, sign: float = 1.0) -> Number:
    """The value of a channel that is a number, or of its `place`-th (FL FR RL RR of wheels); `sign` by its axes."""
    quantity = channel.quantity(name)
    unit = CONVERSIONS[quantity][channel.convert] if channel.convert is not None else None
    scale, bias = channel.scale, channel.bias
    if unit is not None:
        scale, bias = scale * unit.scale, bias * unit.scale + unit.bias
    if channel.radius is not None:
        radius = _of_wheel(channel.radius, place)
        scale, bias = scale * radius, bias * radius
    if channel.positive == "right":
        sign = -sign
    scale, bias = scale * sign, bias * sign
    if name == "yaw":
        bias += ZERO[channel.zero]
    share = name in CONVERTERS and CONVERTERS[name] is CONVERTERS["throttle"]
    code = CODES[channel.type or "u8"]
    return Number(name, offset, code, order, scale, bias + 0.0, _absent(channel), share)


def looked(name: str, channel: Channel, offset: int, order: str) -> Looked:
    """The value of a channel that is a whole number, a flag or a label."""
    kind = known.kind_of(name)
    convert = {"whole": _whole, "flag": _flag, "label": _label}[kind](name, channel)
    code = f"{channel.length}s" if channel.type == "text" else CODES[channel.type or "u8"]
    wants = _FLAG.wants if kind == "flag" else CONVERTERS[name].wants
    absent = _absent(channel)
    encoding = {"utf-16": "utf-16-le" if order == "<" else "utf-16-be"}.get(channel.encoding, channel.encoding)

    def converted(raw: Any) -> Any:
        value = _decoded(raw, encoding) if isinstance(raw, bytes) else raw
        return None if value in absent else convert(value)

    return Looked(name, offset, code, order, Lookup(converted), wants)


def _absent(channel: Channel) -> frozenset[Any]:
    """The raw values that mean "not there", as they are read."""
    values = channel.absent or ()
    return frozenset(
        value if isinstance(value, str) or channel.type is None else as_read(channel.type, value) for value in values
    )


def _meanings(channel: Channel) -> dict[Any, Any] | None:
    """What the raw values stand for, by the values as they are read."""
    if channel.names is None or channel.type == "text":
        return channel.names
    return {int(raw): meaning for raw, meaning in channel.names.items()}


def _whole(name: str, channel: Channel) -> Callable[[Any], Any]:
    names, scale, bias = _meanings(channel), channel.scale, channel.bias
    if names is not None:
        return lambda raw: CONVERTERS[name].convert(names[raw]) if raw in names else None
    if scale == 1.0 and bias.is_integer():
        return lambda raw: CONVERTERS[name].convert(raw + int(bias))
    return lambda raw: CONVERTERS[name].convert(raw * scale + bias)


def _flag(name: str, channel: Channel) -> Callable[[Any], Any]:
    bit, equals, inverted = channel.bit, frozenset(channel.equals or ()), channel.inverted

    def convert(raw: Any) -> bool | None:
        if bit is not None:
            return bool(raw >> bit & 1) is not inverted
        if equals:
            return (raw in equals) is not inverted
        flag: bool | None = _FLAG.convert(raw)
        return None if flag is None else flag is not inverted

    return convert


def _label(name: str, channel: Channel) -> Callable[[Any], Any]:
    names = _meanings(channel)
    is_free = name in known.FREE_LABELS

    def convert(raw: Any) -> str | None:
        label = str(raw)
        if names is not None and raw in names:
            label = names[raw]
        elif names is not None and not is_free:
            return None
        value: str | None = CONVERTERS[name].convert(label)
        return value if value or names is not None else None

    return convert


def _decoded(raw: bytes, encoding: str) -> str:
    if encoding.startswith("utf-16"):
        return raw.decode(encoding, "replace").partition("\0")[0].removeprefix("\ufeff").strip()
    return raw.partition(b"\0")[0].decode(encoding, "replace").strip()


def _of_wheel(radius: tuple[float, ...], wheel: int) -> float:
    return radius[{1: 0, 2: wheel // 2, 4: wheel}[len(radius)]]


def wheel_places(channel: Channel) -> tuple[int, ...]:
    """Of FL, FR, RL, RR, which of the packet's four it is."""
    order = channel.order or WHEEL_NAMES
    return tuple(order.index(wheel) for wheel in WHEEL_NAMES)


def tread_places(channel: Channel) -> tuple[tuple[int, int, int], ...]:
    """Of FL, FR, RL, RR the inner, middle and outer value, as places among the packet's twelve."""
    across = channel.across or ACROSS[0]
    found = []
    for wheel, place in zip(WHEEL_NAMES, wheel_places(channel), strict=True):
        inner, outer = ("in", "out") if "in" in across else ("right", "left") if wheel[1] == "L" else ("left", "right")
        found.append(
            (3 * place + across.index(inner), 3 * place + across.index("mid"), 3 * place + across.index(outer))
        )
    return tuple(found)


def vector_axes(name: str, channel: Channel) -> Axes:
    """Of x, y, z the place among the packet's three and the sign."""
    usual = ISO_WORLD if name == "position" else ISO_BODY
    return axes_of(channel.axes or usual, {"position": True, "acceleration": False}.get(name))
