"""Decodes the packets of a layout."""

from __future__ import annotations

from itertools import chain
from operator import itemgetter
from typing import Any

from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import CHANNELS, Sample
from feeds.channels import ASSISTS, CONVERTERS
from feeds.counts import Counts
from feeds.layout import channels as known
from feeds.layout.compiled import Read, Slot
from feeds.layout.kinds import Kind, Tests, kind, moved
from feeds.layout.merge import Frames, Kept, Naming
from feeds.layout.model import Layout
from feeds.layout.unpack import Pool

_Quick = tuple[tuple[bytes, ...], int, Tests, Read]
"""How a packet is known whose length only one kind has: one test, the others, and what makes its sample."""
NAMES = {"track", "car", "driver"}
_NOT_QUICK: _Quick = ((), 0, (), lambda data, at, tail: None)
_MEND = "mend the layout file, or leave them out by a [[packet]] without channels"


class LayoutFeed:
    """Decodes packets by a layout.

    A value that is not finite, or absent as the layout says, is an absent channel; one that its channel cannot hold
    is left out, and counted in `left_out`; the packet is kept. None comes of packets whose values come with another
    kind's sample, or that the layout passes over.
    """

    def __init__(self, layout: Layout) -> None:
        """Compile."""
        self.left_out = Counts("channel left out")
        with_speed = not any("speed" in packet.names for packet in layout.packet)
        self._kinds = [kind(layout, packet, self.left_out, with_speed) for packet in layout.packet]
        self._closing = self._kinds[layout.packet.index(layout.closing)]
        others = [one for one in self._kinds if one is not self._closing and not one.is_silent]
        self._kept = {id(one): Kept(one.width, one.hold) for one in others}
        self._frames = Frames(tuple(self._kept.values()))
        self._naming = Naming(id(one) for one in others if not NAMES.isdisjoint(one.slots))
        self._is_alone = not others
        self._is_timed = layout.clock == "source"
        self._by_length: dict[int, tuple[Kind, ...]] = {}
        self._quick: dict[int, _Quick] = {}
        constants = _constants(layout)
        slots, width = _slots(layout, [self._closing, *others], constants)
        self._tail: Pool = (None, *constants.values())
        # Behind the last channel that there is, a sample's own defaults are quicker.
        last = max(place for place, slot in enumerate(slots) if slot != width)
        self._arranged = itemgetter(*slots[: max(last, 1) + 1])
        self._tuples = [place for place, slot in enumerate(slots) if isinstance(slot, slice)]
        self._read = self._closing.bind(self._arranged, Sample, self._gappy)

    def decode(self, data: bytes, received: float = 0.0) -> Sample | None:
        """The sample that a packet completes; FormatError where it is none of the layout's, or has no time."""
        wanted, offset, others, read = self._quick.get(len(data), _NOT_QUICK)
        if data.startswith(wanted, offset):
            for wanted, offset in others:
                if not data.startswith(wanted, offset):
                    break
            else:
                return read(data, 0, self._tail)  # type: ignore[no-any-return]
        found = self._kind_of(data)
        if found.is_silent:
            return None
        if self._is_alone:
            return self._read(data, 0, (*self._tail, received))  # type: ignore[no-any-return]
        return self._merged(found, data, received)

    def kind(self, data: bytes) -> str | None:
        """The name of the kind of packet that `data` is; None: none of the layout's."""
        try:
            return self._kind_of(data).name
        except FormatError:
            return None

    def _kind_of(self, data: bytes) -> Kind:
        length = len(data)
        candidates = self._by_length.get(length)
        if candidates is None:
            candidates = tuple(one for one in self._kinds if one.least <= length <= one.most)
            if candidates:
                self._by_length[length] = candidates
            if candidates == (self._closing,) and self._is_alone and self._is_timed:
                (wanted, offset), *more = self._closing.tests or (((b"",), 0),)
                self._quick[length] = wanted, offset, tuple(more), self._read
        for one in candidates:
            for wanted, offset in one.tests:
                if not data.startswith(wanted, offset):
                    break
            else:
                return one
        what = "hold other bytes than any packet of that length" if candidates else "are the length of no packet"
        raise FormatError(f"{length:,} bytes {what} of the layout: {_MEND}", "no packet of the layout")

    def _merged(self, found: Kind, data: bytes, received: float) -> Sample | None:
        """The sample that a packet completes where several kinds have channels."""
        pool = found.read(data, 0, ())
        t = self._time(found, pool, received)
        if t is None:
            return None
        if found is not self._closing:
            self._kept[id(found)].put(t, pool)
            self._naming.came(id(found))
            return None
        if self._naming.waits(t):
            return None
        others = chain.from_iterable([kept.at(t) for kept in self._kept.values()])
        return self._gappy((*pool, *others, *self._tail, received))

    def _gappy(self, pool: Pool) -> Sample:
        """A sample of values some of which may be None: of a tuple then all are."""
        values = self._arranged(pool)
        if values[0] is None:
            raise _no_time(self._closing)
        for place in self._tuples:
            if None in values[place]:
                values = (*values[:place], None, *values[place + 1 :])
        return Sample(*values)

    def _time(self, found: Kind, pool: Pool, received: float) -> float | None:
        """The time of a packet, s; None: it has none of its own, and none came before it."""
        if not self._is_timed:
            t: float | None = received
        elif found.t is None:
            return self._frames.latest
        else:
            t = pool[found.t]
        if t is None:
            raise _no_time(found)
        self._frames.saw(t)
        return t


def _no_time(found: Kind) -> FormatError:
    name = found.name if len(found.name) <= 40 else f"{found.name[:37]}..."
    return FormatError(f'`t` of the packet "{name}" is absent, not finite or over 1e12: mend its place', "no t")


def _slots(layout: Layout, kinds: list[Kind], constants: dict[str, Any]) -> tuple[list[Slot], int]:
    """Of each channel of a sample its slot among the values of all these kinds and the tail behind them; their number.

    The tail: a None, the constants, and the time at which the packet came.
    """
    slots: dict[str, Slot] = {}
    width = 0
    for one in kinds:
        slots |= {name: slot for name, slot in moved(one.slots, width).items() if name != "t" or one is kinds[0]}
        width += one.width
    fixed: dict[str, Slot] = {name: width + 1 + place for place, name in enumerate(constants)}
    if layout.clock == "received":
        fixed["t"] = width + 1 + len(constants)
    slots = fixed | slots
    return [slots.get(name, width) for name in CHANNELS], width


def _constants(layout: Layout) -> dict[str, Any]:
    found: dict[str, Any] = {}
    aids = []
    for packet in layout.packet:
        both = (packet.channels, packet.cars.channels if packet.cars else {})
        for name, channel in (item for channels in both for item in channels.items()):
            if not channel.is_constant:
                continue
            if name.startswith(known.ASSIST):
                aids.append(name.removeprefix(known.ASSIST) if channel.constant else "")
            else:
                found[name] = CONVERTERS[name].convert(channel.constant)
    if aids:
        found["assists"] = tuple(aid for aid in ASSISTS if aid in aids)
    return found
