"""One kind of packet of a layout: how it is known, and what stands in it."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from coach.toml.words import short
from feeds.layout import channels as known
from feeds.layout.axes import axes_of
from feeds.layout.channel import Channel, Channels
from feeds.layout.explain import misplaced
from feeds.layout.table import (
    LARGEST_PACKET,
    MOST_HOLD,
    SIZES,
    Name,
    Offset,
    Order,
    Table,
    check_holds,
    listed,
    several,
)


def _hexadecimal(given: str) -> str:
    digits = "".join(given.split())
    if not digits or len(digits) % 2 or re.fullmatch("[0-9a-fA-F]+", digits) is None:
        raise ValueError(f'{short(given)} are no bytes: write two hexadecimal digits for each, "43 57"')
    return " ".join(re.findall("..", digits.lower()))


Hexadecimal = Annotated[str, Field(max_length=3 * 64), AfterValidator(_hexadecimal)]


class Match(Table):
    """Bytes by which a kind of packet is known."""

    offset: Offset
    digits: Hexadecimal | None = Field(default=None, alias="bytes")
    text: Annotated[str, Field(min_length=1, max_length=64)] | None = None
    type: Literal["u8", "u16", "u32", "u64", "i8", "i16", "i32", "i64"] | None = None
    equals: Annotated[tuple[int, ...], BeforeValidator(several), Field(min_length=1, max_length=256)] | None = Field(
        default=None, alias="is"
    )
    byte_order: Order | None = None

    @model_validator(mode="after")
    def _says_what(self) -> Self:
        if sum(value is not None for value in (self.digits, self.text, self.equals)) != 1:
            raise ValueError('say what stands there by one of them: bytes = "43 57", text = "CW", or type and is')
        if (self.equals is None) != (self.type is None):
            raise ValueError('a number needs its type and its value: type = "u8", is = 3')
        if self.equals is not None and self.type is not None:
            for value in self.equals:
                check_holds(["is"], self.type, value)
        return self

    @property
    def size(self) -> int:
        """bytes that it takes."""
        if self.digits is not None:
            return len(bytes.fromhex(self.digits))
        return len(self.text.encode()) if self.text is not None else SIZES[self.type or "u8"]


class Index(Table):
    """Where it stands which car is the player's."""

    offset: Offset
    type: Literal["u8", "u16", "u32", "u64", "i8", "i16", "i32", "i64"]
    byte_order: Order | None = None


class Cars(Table):
    """An array of cars, of which the player's is read."""

    offset: Offset
    stride: Annotated[int, Field(ge=1, le=LARGEST_PACKET)]
    count: Annotated[int, Field(ge=1, le=LARGEST_PACKET)] | None = None
    index: Index
    channels: Channels


def _range(given: Any) -> Any:
    values = several(given)
    for value in values:
        if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= LARGEST_PACKET:
            raise ValueError(f"a whole number from 1 to {LARGEST_PACKET} is needed, or [least, most]")
    if len(values) not in (1, 2) or values[0] > values[-1]:
        raise ValueError("write one length, or [least, most]")
    return values if values[0] != values[-1] else values[:1]


class Packet(Table):
    """One kind of packet."""

    name: Name
    length: Annotated[tuple[int, ...], BeforeValidator(_range)] | None = None
    match: Annotated[tuple[Match, ...], BeforeValidator(listed), Field(max_length=16)] = ()
    byte_order: Order | None = None
    hold: Annotated[float, Field(ge=0.0, le=MOST_HOLD)] | None = None
    closes: bool = False
    channels: Channels = Field(default_factory=dict)
    cars: Cars | None = None

    @property
    def has_channels(self) -> bool:
        """Whether it gives anything but constants."""
        own = [*self.channels.values(), *(self.cars.channels.values() if self.cars else ())]
        return any(not channel.is_constant for channel in own)

    @property
    def names(self) -> list[str]:
        """The channels and groups it gives."""
        return [*self.channels, *(self.cars.channels if self.cars else ())]

    @property
    def least(self) -> int:
        """bytes of the shortest packet of this kind."""
        ends = [match.offset + match.size for match in self.match]
        ends += [_end(name, channel) for name, channel in self.channels.items()]
        if self.cars is not None:
            ends += [self.cars.index.offset + SIZES[self.cars.index.type], self.cars.offset + self.record]
            ends += [self.cars.offset + (self.cars.count or 1) * self.cars.stride - self.cars.stride + self.record]
        return max([1, *ends]) if self.length is None else self.length[0]

    @property
    def record(self) -> int:
        """bytes of a car's record as far as it is read."""
        return max([0, *(_end(name, channel) for name, channel in (self.cars.channels if self.cars else {}).items())])

    @property
    def count(self) -> int:
        """Cars that the shortest packet holds."""
        if self.cars is None:
            return 0
        return self.cars.count or max((self.least - self.cars.offset - self.record) // self.cars.stride + 1, 0)

    @model_validator(mode="after")
    def _fits(self) -> Self:
        if self.length is None and not self.match:
            raise misplaced(["length"], "say by `length` or `match` how this kind of packet is known")
        most = LARGEST_PACKET if self.length is None else self.length[0]
        for place, match in enumerate(self.match):
            if match.offset + match.size > most:
                raise misplaced(["match", place, "offset"], _beyond(match.offset + match.size, most))
        for name, channel in self.channels.items():
            if _end(name, channel) > most:
                raise misplaced(["channels", name, "offset"], _beyond(_end(name, channel), most))
        self._check_cars(most)
        self._check_frames()
        return self

    def _check_cars(self, most: int) -> None:
        if self.cars is None:
            return
        cars = self.cars
        index_end = cars.index.offset + SIZES[cars.index.type]
        if index_end > most:
            raise misplaced(["cars", "index", "offset"], _beyond(index_end, most))
        given = {channel for name in self.channels for channel in known.gives(name)}
        for name in cars.channels:
            if not given.isdisjoint(known.gives(name)):
                raise misplaced(["cars", "channels", name], "it stands in the packet's `channels` too: leave one out")
        if self.length is None and cars.count is None:
            raise misplaced(["cars", "count"], "it is missing: write how many cars there are, or the packet's `length`")
        last = cars.offset + ((cars.count or 1) - 1) * cars.stride + self.record
        if last > most:
            raise misplaced(["cars", "count"], _beyond(last, most))

    def _check_frames(self) -> None:
        here: list[str | int] = []
        there: list[str | int] = ["cars"]
        for path, channels in ((here, self.channels), (there, self.cars.channels if self.cars else {})):
            velocity, yaw = channels.get("velocity"), channels.get("yaw")
            for vector, axes in known.VECTORS.items():
                for axis in axes:
                    if vector in channels and axis in channels:
                        raise misplaced([*path, "channels", axis], f"`{vector}` gives it already: leave one out")
            if velocity is not None and _of_world(velocity) and (yaw is None or yaw.is_constant):
                message = "to turn it into the car's frame `yaw` is needed beside it: write `yaw`, or the car's axes"
                raise misplaced([*path, "channels", "velocity", "axes"], message)


def _of_world(velocity: Channel) -> bool:
    return velocity.axes is not None and axes_of(velocity.axes, None).is_world


def _end(name: str, channel: Channel) -> int:
    return 0 if channel.is_constant else max(channel.offsets(known.count_of(name))) + channel.size


def _beyond(end: int, most: int) -> str:
    return f"it ends at byte {end}, and the shortest packet has {most}: mend the offset, or the packet's length"
