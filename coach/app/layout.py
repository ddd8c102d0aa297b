"""`layout`: check a layout file, and say what each kind of packet is known by and which channels it gives."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain

from coach.app.config import LayoutOptions
from coach.app.console import Console, plain
from coach.app.stop import Stop
from feeds.layout import Layout, read_layout
from feeds.layout import channels as known
from feeds.layout.channel import Channel
from feeds.layout.packet import Cars, Match, Packet

_TAB = 12
_SHOWN = 32
"""characters of names and values in a line."""


def layout(options: LayoutOptions, console: Console, stop: Stop) -> str:
    """What a layout file gives, as text. InputError for a file that is not right."""
    checked = read_layout(options.file)
    for packet in hidden(checked):
        console.say(f'layout: packet "{plain(packet)}" is never read, another before it takes its packets: move it up')
    return "".join(f"{line}\n" for line in described(checked))


def hidden(layout: Layout) -> Iterator[str]:
    """Kinds of packet that another one before them takes all packets from: it wants no more of them."""
    for place, packet in enumerate(layout.packet):
        for before in layout.packet[:place]:
            is_as_long = before.length is None or (
                packet.length is not None
                and before.length[0] <= packet.length[0] <= packet.length[-1] <= before.length[-1]
            )
            if is_as_long and before.least <= packet.least and all(match in packet.match for match in before.match):
                yield packet.name
                break


def described(layout: Layout) -> Iterator[str]:
    """A layout, line by line."""
    yield f"{'layout':{_TAB}}{plain(layout.name)}"
    source = "`t` of the packets" if layout.clock == "source" else "when a packet comes, the source sends none"
    yield f"{'time':{_TAB}}{source}"
    for packet in layout.packet:
        yield ""
        yield f"{'packet':{_TAB}}{plain(packet.name)}: {', '.join(_known_by(packet))}"
        if not packet.names:
            yield f"{'':{_TAB}}known and passed over"
            continue
        if len(layout.packet) > 1:
            hold = layout.hold if packet.hold is None else packet.hold
            role = "makes the samples" if packet is layout.closing else f"its values hold for {hold:g} s"
            yield f"{'':{_TAB}}{role}"
        order = packet.byte_order or layout.byte_order
        yield from _channels(packet.channels, order)
        if packet.cars is not None:
            yield f"{'':{_TAB}}{_cars(packet.cars, packet.count)}"
            yield from _channels(packet.cars.channels, order)
    given = chain.from_iterable(known.gives(name) for packet in layout.packet for name in packet.names)
    yield ""
    yield f"{'channels':{_TAB}}{len(set(given))}"


def _known_by(packet: Packet) -> Iterator[str]:
    if packet.length is None:
        yield f"{packet.least} bytes or more"
    else:
        yield f"{' to '.join(map(str, packet.length))} bytes"
    yield from map(_matched, packet.match)


def _matched(match: Match) -> str:
    if match.digits is not None:
        return f"{match.digits} at {match.offset}"
    if match.text is not None:
        return f'"{plain(match.text, _SHOWN)}" at {match.offset}'
    return f"{match.type} {_list(match.equals or ())} at {match.offset}"


def _cars(cars: Cars, count: int) -> str:
    where = f"{cars.index.type} at {cars.index.offset}"
    return f"of the player's car, one of {count} of {cars.stride} bytes from {cars.offset}, by {where}:"


def _channels(channels: dict[str, Channel], order: str) -> Iterator[str]:
    for name, channel in channels.items():
        if channel.is_constant:
            yield f"  {name:17} always {plain(str(channel.constant), _SHOWN)}"
        else:
            where = f"{_place(name, channel):>10}  {_type(name, channel, order):10}"
            yield f"  {name:17} {where} {_becomes(channel)}".rstrip()


def _place(name: str, channel: Channel) -> str:
    count = known.count_of(name)
    offsets = channel.offsets(count)
    ends = max(offsets) + channel.size - 1
    return f"{min(offsets)}-{ends}" if ends > min(offsets) else str(ends)


def _type(name: str, channel: Channel, order: str) -> str:
    count = known.count_of(name)
    other = f" {channel.byte_order}" if channel.byte_order not in (None, order) else ""
    return f"{f'{count} ' if count > 1 else ''}{channel.type}{other}"


def _becomes(channel: Channel) -> str:
    """What is done with the raw value, in the order in which it is done."""
    said = []
    if channel.scale != 1.0:
        said.append(f"x {channel.scale:g}")
    if channel.bias != 0.0:
        said.append(f"{'+' if channel.bias > 0.0 else '-'} {abs(channel.bias):g}")
    for key in ("convert", "encoding", "axes"):
        value = getattr(channel, key)
        if value is not None and key in channel.keys:
            said.append(str(value))
    if channel.radius is not None:
        said.append(f"x radius {_list(channel.radius)} m")
    if channel.positive == "right":
        said.append("positive to the right")
    if channel.zero != "east":
        said.append(f"0 is {channel.zero}")
    if channel.order is not None:
        said.append(" ".join(channel.order))
    if channel.across is not None:
        said.append("-".join(channel.across))
    if channel.bit is not None:
        said.append(f"bit {channel.bit}")
    if channel.equals is not None:
        said.append(f"is {_list(channel.equals)}")
    if channel.inverted:
        said.append("inverted")
    if channel.names is not None:
        said.append(f"{len(channel.names)} name{'' if len(channel.names) == 1 else 's'}")
    if channel.absent is not None:
        said.append(f"absent at {_list(channel.absent)}")
    return ", ".join(said)


def _list(values: Iterable[object]) -> str:
    return plain(" or ".join(map(str, values)), _SHOWN)
