"""The channels of a packet, compiled: its bytes become a tuple of values in a few passes, none of them field by field.

Values alike are read together, by one `struct.Struct` with pad bytes between the fields: numbers whose bytes are their
value, numbers that are scaled, those with a bias too (`map` of a product and a sum), and all that is looked up, which
mostly is as it was. One `math.hypot` over the numbers tells whether all are finite and none is too large. Where that is
not so, or a value is absent or wrong, the packet is read once more, patiently, each value by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import compress, repeat
from math import cos, hypot, sin
from operator import add, call, contains, getitem, itemgetter, mul, sub
from typing import Any

from feeds.channels import ASSISTS, LARGEST, Unfit, shown
from feeds.counts import Counts
from feeds.layout import channels as known
from feeds.layout.channel import Channel
from feeds.layout.entries import Looked, Number, looked, number, tread_places, vector_axes, wheel_places
from feeds.layout.unpack import ORDERS, Pool, Unpack, in_order, picker, unpacker

Read = Callable[[bytes, int, Pool], Any]
"""`read(data, at, tail)`: what is made of the values in a packet's bytes from the place `at` on, and of a tail behind
them."""
Slot = int | slice
"""Where in a pool a channel is; a slice where it is a tuple."""


class Gappy(tuple[Any, ...]):
    """A pool that was read patiently: some values may be None, those of a slice too."""


Bind = Callable[[Callable[[Pool], Pool], Callable[..., Any], Callable[[Gappy], Any]], Read]
"""`bind(arranged, make, gappy)`: the function that reads and gives `make(*arranged(pool))`, or `gappy(pool)`."""


def pooled(*values: Any) -> Pool:
    """The `make` of a read that gives the pool itself, with `tuple` to arrange it."""
    return values


@dataclass(frozen=True, slots=True)
class Joined:
    """A channel that is made of several numbers. `make(values)` needs those at the slots `of`, all of them or none."""

    name: str
    of: tuple[int, ...]
    make: Callable[[Pool], Any]


@dataclass(frozen=True, slots=True)
class Reader:
    """What is bound reads `width` values before the tail, of which those of the channels are at `slots`."""

    bind: Bind
    slots: dict[str, Slot]
    width: int


def reader(channels: dict[str, Channel], byte_order: str, left_out: Counts, with_speed: bool) -> Reader:
    """The reader of these channels, constants left out; `with_speed`: a velocity gives the speed as well.

    Wrong values are counted in `left_out`.
    """
    placed = {name: channel for name, channel in channels.items() if not channel.is_constant}
    entries = {name: _entries(name, channel, byte_order) for name, channel in placed.items()}
    flat = [entry for found in entries.values() for entry in found]
    numbers = [entry for entry in flat if isinstance(entry, Number)]
    plain = in_order([entry for entry in numbers if entry.is_plain])
    scaled = in_order([entry for entry in numbers if not entry.is_plain and not entry.bias])
    biased = in_order([entry for entry in numbers if not entry.is_plain and entry.bias])
    tables = in_order([entry for entry in flat if isinstance(entry, Looked)])
    slot = {id(entry): place for place, entry in enumerate((*plain, *scaled, *biased, *tables))}
    places = {name: tuple(slot[id(entry)] for entry in found) for name, found in entries.items()}
    slots: dict[str, Slot] = {}
    joined: list[Joined] = []
    for name, channel in placed.items():
        _put(name, channel, places, slots, joined, with_speed)
    aids = _aids(channels, {name: of[0] - len(numbers) for name, of in places.items()})
    if aids is not None:
        slots["assists"] = len(flat)
    width = len(flat) + (aids is not None)
    slots |= {each.name: width + place for place, each in enumerate(joined)}
    bind = _binding(plain, scaled, biased, _looking(tables, aids, left_out), joined, left_out)
    return Reader(bind, slots, width + len(joined))


def _entries(name: str, channel: Channel, byte_order: str) -> list[Number | Looked]:
    """Its values: of a vector x, y, z, of wheels FL, FR, RL, RR, of treads inner, middle, outer of each."""
    order = ORDERS[channel.byte_order or byte_order]
    kind = known.kind_of(name)
    offsets = channel.offsets(known.count_of(name))
    if kind in ("whole", "flag", "label"):
        return [looked(name, channel, offsets[0], order)]
    if kind == "vector":
        axes = vector_axes(name, channel)
        return [number(name, channel, offsets[place], order, 0, sign) for place, sign in (axes.x, axes.y, axes.z)]
    if kind == "wheels":
        return [number(name, channel, offsets[at], order, wheel) for wheel, at in enumerate(wheel_places(channel))]
    if kind == "tread":
        return [number(name, channel, offsets[at], order, 0) for tread in tread_places(channel) for at in tread]
    return [number(name, channel, offsets[0], order, 0)]


def _put(
    name: str,
    channel: Channel,
    places: dict[str, tuple[int, ...]],
    slots: dict[str, Slot],
    joined: list[Joined],
    with_speed: bool,
) -> None:
    """Note where the values of one name go: to a slot, or into something that is joined of several."""
    of, kind = places[name], known.kind_of(name)
    if name.startswith(known.ASSIST):
        return
    if kind == "wheels":
        if of == tuple(range(of[0], of[0] + 4)):
            slots[name] = slice(of[0], of[0] + 4)
        else:
            joined.append(Joined(name, of, itemgetter(*of)))
    elif kind == "tread":
        treads = tuple(itemgetter(*of[first : first + 3]) for first in range(0, 12, 3))
        joined.append(Joined(name, of, lambda values: tuple(map(call, treads, repeat(values)))))
    elif name == "velocity":
        x, y, z = of
        if vector_axes(name, channel).is_world:
            yaw = places["yaw"][0]
            joined.append(Joined("vx", (x, y, yaw), lambda p: p[x] * cos(p[yaw]) + p[y] * sin(p[yaw])))
            joined.append(Joined("vy", (x, y, yaw), lambda p: p[y] * cos(p[yaw]) - p[x] * sin(p[yaw])))
        else:
            slots |= {"vx": x, "vy": y}
        if with_speed:
            joined.append(Joined("speed", of, lambda values: hypot(values[x], values[y], values[z])))
    elif kind == "vector":
        slots |= dict(zip(known.VECTORS[name], of, strict=True))
    else:
        slots[name] = of[0]


def _aids(channels: dict[str, Channel], places: dict[str, int]) -> Callable[[Pool], Pool] | None:
    """What makes the list of driving aids of the looked-up values, at these `places`; None where none is read."""
    names = {known.ASSIST + aid: aid for aid in ASSISTS}
    moving = [name for name in names if name in places]
    if not moving:
        return None
    fixed = [name for name in names if name in channels and channels[name].constant is True]
    flags = picker([places[name] for name in moving])
    aids = [names[name] for name in (*moving, *fixed)]
    return lambda found: tuple(compress(aids, (*flags(found), *(True for _ in fixed))))


@dataclass(frozen=True, slots=True)
class _Looking:
    """All that is looked up: `unpack` reads the raw values, `look` makes them values, `patiently` each by itself."""

    unpack: Callable[[bytes, int], Pool]
    look: Callable[[Pool], Pool]
    patiently: Callable[[Pool], Pool]


def _looking(tables: Sequence[Looked], aids: Callable[[Pool], Pool] | None, left_out: Counts) -> _Looking:
    unpack, pick = unpacker(tables)
    lookups = tuple(entry.table for entry in tables)

    def look(raw: Pool) -> Pool:
        found = tuple(map(getitem, lookups, raw if pick is None else pick(raw)))
        return found if aids is None else (*found, aids(found))

    def patiently(raw: Pool) -> Pool:
        each = zip(tables, raw if pick is None else pick(raw), strict=True)
        found = tuple(_or_none(entry.table.__getitem__, value, entry, left_out) for entry, value in each)
        return found if aids is None else (*found, aids(found))

    return _Looking(unpack, look, patiently)


def _raw(entries: Sequence[Number]) -> Unpack:
    unpack, pick = unpacker(entries)
    return unpack if pick is None else lambda data, at: pick(unpack(data, at))


def _binding(
    plain: Sequence[Number],
    scaled: Sequence[Number],
    biased: Sequence[Number],
    looking: _Looking,
    joined: Sequence[Joined],
    left_out: Counts,
) -> Bind:
    """What makes the function that reads; everything that this needs is then a name of its own."""
    numbers = (*plain, *scaled, *biased)
    read_plain, read_scaled, read_biased = _raw(plain), _raw(scaled), _raw(biased)
    scales, own_scales = tuple(entry.scale for entry in scaled), tuple(entry.scale for entry in biased)
    biases = tuple(entry.bias for entry in biased)
    is_scaled, is_biased, is_turned = bool(scaled), bool(biased), set(own_scales) == {-1.0}
    absents = tuple(entry.absent for entry in numbers if entry.absent)
    absent = picker([place for place, entry in enumerate(numbers) if entry.absent])
    bounded = [place for place, entry in enumerate(numbers) if entry.may_leave]
    # Up to three pedals are compared one by one, which costs a third of min and max.
    pedals = itemgetter(*bounded, *bounded[:1] * (3 - len(bounded))) if 0 < len(bounded) <= 3 else None
    shares = picker(bounded) if len(bounded) > 3 else None
    has_absent, is_joined = bool(absents), bool(joined)
    unpack, look = looking.unpack, looking.look
    makes = tuple(each.make for each in joined)

    def read_raw(data: bytes, at: int) -> Pool:
        return (*read_plain(data, at), *read_scaled(data, at), *read_biased(data, at))

    def patiently(data: bytes, at: int, tail: Pool) -> Gappy:
        each = zip(numbers, read_raw(data, at), strict=True)
        values = tuple(_or_none(entry.judged, raw, entry, left_out) for entry, raw in each)
        looked_up = looking.patiently(unpack(data, at))
        return Gappy((*values, *looked_up, *(_made(each, values) for each in joined), *tail))

    def bind(arranged: Callable[[Pool], Pool], make: Callable[..., Any], gappy: Callable[[Gappy], Any]) -> Read:
        # What is looked up, a gear or a flag, mostly is as it was in the packet before.
        seen: Pool = ()
        found: Pool = ()

        def read(data: bytes, at: int, tail: Pool) -> Any:
            nonlocal seen, found
            values = read_plain(data, at)
            if is_turned:
                turned = map(sub, biases, read_biased(data, at))
                values = (*values, *map(mul, read_scaled(data, at), scales), *turned)
            elif is_biased:
                moved = map(add, map(mul, read_biased(data, at), own_scales), biases)
                values = (*values, *map(mul, read_scaled(data, at), scales), *moved)
            elif is_scaled:
                values = (*values, *map(mul, read_scaled(data, at), scales))
            if not hypot(*values) <= LARGEST:
                return gappy(patiently(data, at, tail))
            if pedals is not None:
                a, b, c = pedals(values)
                if not (0.0 <= a <= 1.0 and 0.0 <= b <= 1.0 and 0.0 <= c <= 1.0):
                    return gappy(patiently(data, at, tail))
            elif shares is not None and (min(shares(values)) < 0.0 or max(shares(values)) > 1.0):
                return gappy(patiently(data, at, tail))
            if has_absent and any(map(contains, absents, absent(read_raw(data, at)))):
                return gappy(patiently(data, at, tail))
            raw = unpack(data, at)
            if raw != seen:
                try:
                    found = look(raw)
                except Unfit:
                    return gappy(patiently(data, at, tail))
                seen = raw
            if is_joined:
                return make(*arranged((*values, *found, *map(call, makes, repeat(values)), *tail)))
            return make(*arranged(values + found + tail))

        return read

    return bind


def _or_none(convert: Callable[[Any], Any], raw: Any, entry: Number | Looked, left_out: Counts) -> Any:
    try:
        return convert(raw)
    except Unfit:
        value = raw.decode("latin-1") if isinstance(raw, bytes) else raw
        left_out.add(f"{entry.name} must be {entry.wants}", f"the packet has {shown(value)}")
        return None


def _made(each: Joined, values: Pool) -> Any:
    if any(values[place] is None for place in each.of):
        return None
    value = each.make(values)
    return None if isinstance(value, float) and not abs(value) <= LARGEST else value
