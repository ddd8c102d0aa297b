"""One kind of packet, compiled: how it is known, and what reads it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from struct import Struct
from typing import Any

from feeds.counts import Counts
from feeds.layout.compiled import Bind, Gappy, Read, Reader, Slot, pooled, reader
from feeds.layout.model import Layout
from feeds.layout.packet import Cars, Match, Packet
from feeds.layout.table import CODES, LARGEST_PACKET
from feeds.layout.unpack import ORDERS, Pool

Tests = tuple[tuple[tuple[bytes, ...], int], ...]
"""Of each the bytes, one of which has to stand there, and the offset."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of packet.

    `tests`: how it is known; `least` and `most` bytes of the packet; `bind` makes what
    reads its `width` values, of which those of the channels are at `slots`, the time at `t`, and `read` gives all as
    they are. `is_silent`: it has no channels.
    """

    name: str
    tests: Tests
    least: int
    most: int
    bind: Bind
    read: Read
    slots: dict[str, Slot]
    t: int | None
    width: int
    hold: float
    is_silent: bool


def kind(layout: Layout, packet: Packet, left_out: Counts, with_speed: bool) -> Kind:
    """One kind of packet of a layout; wrong values are counted in `left_out`."""
    order = packet.byte_order or layout.byte_order
    own = reader(packet.channels, order, left_out, with_speed)
    bind, slots, width = own.bind, own.slots, own.width
    if packet.cars is not None:
        car = reader(packet.cars.channels, order, left_out, with_speed)
        bind = _with_car(own, car, packet.cars, packet.count, order, left_out)
        slots, width = slots | moved(car.slots, width), width + car.width
    t = slots.get("t")
    tests = tuple((_wanted(match, order), match.offset) for match in packet.match)
    return Kind(
        name=packet.name,
        tests=_together(tests),
        least=packet.least,
        most=LARGEST_PACKET if packet.length is None else packet.length[-1],
        bind=bind,
        read=bind(tuple, pooled, _as_it_is),
        slots=slots,
        t=t if isinstance(t, int) else None,
        width=width,
        hold=layout.hold if packet.hold is None else packet.hold,
        is_silent=not packet.has_channels,
    )


def _with_car(own: Reader, car: Reader, cars: Cars, count: int, order: str, left_out: Counts) -> Bind:
    """Reads the packet's own values and behind them the player's car's, which are absent where the index has none."""
    which = Struct(ORDERS[cars.index.byte_order or order] + CODES[cars.index.type]).unpack_from
    at_index, first, stride = cars.index.offset, cars.offset, cars.stride
    absent: Pool = (None,) * car.width
    read_own = own.bind(tuple, pooled, _as_it_is)
    read_car = car.bind(tuple, pooled, _as_it_is)

    def bind(arranged: Callable[[Pool], Pool], make: Callable[..., Any], gappy: Callable[[Gappy], Any]) -> Read:
        def read(data: bytes, at: int, tail: Pool) -> Any:
            (index,) = which(data, at_index)
            before = read_own(data, at, ())
            if 0 <= index < count:
                after = read_car(data, first + index * stride, tail)
                if type(before) is type(after) is tuple:
                    return make(*arranged((*before, *after)))
                return gappy(Gappy((*before, *after)))
            left_out.add(f"cars.index must be 0 to {count - 1}", f"the packet has {index}")
            return gappy(Gappy((*before, *absent, *tail)))

        return read

    return bind


def _as_it_is(pool: Gappy) -> Gappy:
    return pool


def moved(slots: dict[str, Slot], by: int) -> dict[str, Slot]:
    """Slots of a pool that begins so many places later."""
    return {
        name: slice(slot.start + by, slot.stop + by) if isinstance(slot, slice) else slot + by
        for name, slot in slots.items()
    }


def _together(tests: Tests) -> Tests:
    """The same tests, those of bytes that follow each other as one."""
    found: list[tuple[tuple[bytes, ...], int]] = []
    for wanted, offset in sorted(tests, key=lambda test: test[1]):
        last, start = found[-1] if found else ((), 0)
        if len(last) == len(wanted) == 1 and start + len(last[0]) == offset:
            found[-1] = ((last[0] + wanted[0],), start)
        else:
            found.append((wanted, offset))
    return tuple(found)


def _wanted(match: Match, order: str) -> tuple[bytes, ...]:
    if match.digits is not None:
        return (bytes.fromhex(match.digits),)
    if match.text is not None:
        return (match.text.encode(),)
    packed = Struct(ORDERS[match.byte_order or order] + CODES[match.type or "u8"])
    return tuple(packed.pack(value) for value in match.equals or ())
