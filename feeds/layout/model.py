"""A layout file: which bytes of a packet are which channel. This is the reference of the format, version 1.

The file is TOML, and data only: nothing in it is evaluated, and no name in it is looked up anywhere. All offsets and
lengths are in bytes and count from 0. Whatever is left out, its channel is absent.

At the top:

    layout = 1                    the version of this format; needed
    name = "Rig bridge"           what it is called, for people
    byte_order = "little"         or "big"; `byte_order` of a packet or a channel goes before it
    clock = "source"              `t` stands in the packets; "received": the source sends no time, `t` is the time at
                                  which a packet came (s of this computer's clock)
    hold = 2.0                    s of the source's time for which values of another kind of packet still hold

One table `[[packet]]` for each kind of packet. The first of the file that fits a packet's bytes reads it; a kind
without channels is known and passed over.

    name = "motion"               for messages
    length = 324                  bytes of the packet, or [least, most]; left out: any that its fields fit into
    match = [{ offset = 0, bytes = "43 57" },             these bytes in hexadecimal digits,
             { offset = 0, text = "CW" },                 or as text,
             { offset = 6, type = "u8", is = 3 }]         or a number, or one of several: is = [3, 4]
    byte_order, hold              as at the top
    closes = true                 see below

`[packet.channels]` holds the channels: those of the generic stream by their names but `assists`, further `position`
(x, y, z), `velocity` (vx, vy, and speed where no other field gives it) and `acceleration` (ax, ay, az) of three numbers
each, and the flags `assist_abs`, `assist_traction`, `assist_gearbox`, `assist_clutch`, `assist_line`. Each is a table:

    offset, type                  where it begins; u8 u16 u32 u64 i8 i16 i32 i64 f16 f32 f64 bool text. A list of
                                  offsets where several values do not stand in a row
    byte_order                    as at the top
    absent = -1                   a raw value, or a list of them, that means "not there now"
    scale, bias                   raw value x scale + bias is in the unit that `convert` names
    convert = "km/h"              that unit; left out: the channel's own. `feeds.layout.units` lists them: km/h, mph,
                                  degrees, deg/s, rad/s, rpm, 0..255, 1..0, psi, bar, fahrenheit, kelvin, g, ms, ...
    constant = 1.9                in place of all these: a value, in the channel's own unit, that no packet holds
    positive = "right"            yaw, yaw_rate, steer: the way in which it grows; "left" is usual
    zero = "north"                yaw: where the car looks at 0, by `positive`, `scale` and so on; "east" is usual
    axes = "east up north"        position, velocity, acceleration: where its three numbers point. Of the car: one each
                                  of forward/backward, left/right, up/down; of the world: of east/west, north/south,
                                  up/down. A position is of the world, an acceleration of the car, a velocity of either
                                  (of the world it needs `yaw` beside it). Customary frames have names, such as
                                  "y-up left-handed" (of a velocity: of the car): `feeds.layout.axes` lists them. Usual
                                  are "forward left up" and "east north up" (ISO 8855)
    order = ["FL", "FR", "RL", "RR"]   wheel_speed, tyre_pressure, tyre_temp: the wheels as the packet has them
    stride                        bytes from one value, of tyre_temp one wheel, to the next; left out: in a row
    across = ["in", "mid", "out"] tyre_temp: a tread's values as the packet has them; or left, mid, right of the car
    step                          tyre_temp: bytes from one value of a tread to the next; left out: in a row
    radius = 0.33                 wheel_speed: m; the packet has the wheels' angular speed, rad/s or what `convert`
                                  says; [front, rear] or one for each wheel, FL FR RL RR
    bit = 3                       flags: this bit of a whole number, from 0, the least
    is = 2                        flags: true at this number, or at one of a list; else false
    inverted = true               flags: the other way round
    length, encoding              text: bytes, NUL-padded or not; "utf-8" (usual), "latin-1", "utf-16"
    names = { 1 = "practice" }    labels, lap, gear: what the raw values stand for; others mean "not there now", but of
                                  a free label such as `track` the number itself is shown

Of an array of cars the player's is read by `[packet.cars]`: `offset` of the first, `stride` from one to the next,
`count` of them (left out: as many as the shortest packet holds), and `index = { offset = 20, type = "u8" }`, where it
stands which is the player's. `[packet.cars.channels]` is as `[packet.channels]`, with offsets from that car's begin.

Several kinds make one stream of samples by the source's time `t`. One kind closes: that with `closes = true`, else the
last with channels and a time. When it comes, it makes the sample of its `t`, with what the other kinds have sent of
that `t`; where they have not, with what they sent last before, if it is not older than `hold`. All others give no
sample. A kind without `t` is taken to be of the time of the packet before it. When `t` goes back by 1 s or more, all
that was kept is forgotten: it was of another run. At its beginning the stream waits up to 5 s for the kinds that name
track, car and driver, since a session is begun by its names.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from feeds.layout import channels as known
from feeds.layout.explain import misplaced
from feeds.layout.packet import Packet
from feeds.layout.table import HOLD, MOST_HOLD, MOST_PACKETS, Name, Order, Table, listed

VERSION = 1
"""of the format"""


def _readable(version: int) -> int:
    if version != VERSION:
        raise ValueError(f"this program reads version {VERSION} of the format: write layout = {VERSION}, or update it")
    return version


def _tables(given: Any) -> Any:
    if isinstance(given, Mapping):
        raise ValueError("each kind of packet is one of a list: write [[packet]], in two pairs of brackets")
    return listed(given)


class Layout(Table):
    """The whole file."""

    layout: Annotated[int, AfterValidator(_readable)]
    name: Name = "a layout"
    byte_order: Order = "little"
    clock: Literal["source", "received"] = "source"
    hold: Annotated[float, Field(ge=0.0, le=MOST_HOLD)] = HOLD
    packet: Annotated[tuple[Packet, ...], BeforeValidator(_tables), Field(min_length=1, max_length=MOST_PACKETS)]

    @model_validator(mode="after")
    def _makes_one_stream(self) -> Self:
        seen: dict[str, str] = {}
        for place, packet in enumerate(self.packet):
            if any(packet.name == before.name for before in self.packet[:place]):
                raise misplaced(["packet", place, "name"], "another packet has this name: give each its own")
            given: dict[str, str] = {}
            for name in packet.names:
                at = ["packet", place, *_place_in(packet, name)]
                if self.clock == "received" and name == "t":
                    raise misplaced(at, 'with clock = "received" the time is not read: leave `t` or `clock` out')
                for channel in known.gives(name):
                    if channel != "t" and channel in seen:
                        raise misplaced(at, f"the packet {seen[channel]!r} gives it already: leave one out")
                    given[channel] = packet.name
            seen |= given
        self._check_closing()
        return self

    def _check_closing(self) -> None:
        if not any(packet.has_channels for packet in self.packet):
            raise misplaced(["packet"], "no packet gives a channel: write some under [packet.channels]")
        closing = [place for place, packet in enumerate(self.packet) if packet.closes]
        if len(closing) > 1:
            raise misplaced(["packet", closing[1], "closes"], "only one packet closes, leave it out of the others")
        for place in closing:
            if not self._can_close(self.packet[place]):
                raise misplaced(["packet", place, "closes"], "what closes needs channels and `t`: write them")
        if not any(self._can_close(packet) for packet in self.packet):
            raise misplaced(
                ["packet"], 'no packet has `t`, the source\'s time: write its place, or clock = "received" at the top'
            )

    def _can_close(self, packet: Packet) -> bool:
        return packet.has_channels and (self.clock == "received" or "t" in packet.names)

    @property
    def closing(self) -> Packet:
        """The packet that makes samples."""
        able = [packet for packet in self.packet if self._can_close(packet)]
        return next((packet for packet in able if packet.closes), able[-1])

    def to_json(self) -> dict[str, Any]:
        """Plain values, for a recording's head."""
        return self.model_dump(mode="json", by_alias=True, exclude_defaults=True)


def _place_in(packet: Packet, name: str) -> list[str | int]:
    return ["channels", name] if name in packet.channels else ["cars", "channels", name]
