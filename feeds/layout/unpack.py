"""Fields of a packet to be read in as few passes as can be."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import chain, repeat
from operator import call, itemgetter
from struct import Struct, calcsize
from typing import Any, Protocol, TypeVar

Pool = tuple[Any, ...]
"""Values of a packet, by their slots."""
Unpack = Callable[[bytes, int], Pool]
"""The raw values in a packet's bytes, from a place on."""

ORDERS = {"little": "<", "big": ">"}
"""Byte orders as `struct` writes them."""


class Placed(Protocol):
    """A field: `offset` bytes, `code` of `struct`, byte `order` as `struct` writes it."""

    @property
    def offset(self) -> int: ...
    @property
    def code(self) -> str: ...
    @property
    def order(self) -> str: ...


Entry = TypeVar("Entry", bound=Placed)
_Field = tuple[int, str, str]


def in_order(entries: Sequence[Entry]) -> list[Entry]:
    """These fields in the order in which `unpacker` reads them, so that nothing has to be put right afterwards."""
    places = {field: place for place, field in enumerate(chain.from_iterable(_layers(entries)))}
    return sorted(entries, key=lambda entry: places[_field(entry)])


def unpacker(entries: Sequence[Placed]) -> tuple[Unpack, Callable[[Pool], Pool] | None]:
    """What reads the raw values of fields that are `in_order`, by one `Struct` for each layer of them.

    The second takes them apart for the entries where several have one field; None where each has its own.
    """
    layers = _layers(entries)
    fields = [field for layer in layers for field in layer]
    wanted = [fields.index(_field(entry)) for entry in entries]
    pick = None if wanted == list(range(len(fields))) else picker(wanted)
    unpacks = tuple(_struct(layer).unpack_from for layer in layers)
    if not unpacks:
        return _nothing, pick
    if len(unpacks) == 1:
        return unpacks[0], pick
    return lambda data, at: tuple(chain.from_iterable(map(call, unpacks, repeat(data), repeat(at)))), pick


def picker(places: Sequence[int]) -> Callable[[Pool], Pool]:
    """What takes the values at these places, as a tuple however few they are."""
    if len(places) > 1:
        return itemgetter(*places)
    if not places:
        return lambda pool: ()
    only = places[0]
    return lambda pool: (pool[only],)


def _nothing(data: bytes, at: int) -> Pool:
    return ()


def _field(entry: Placed) -> _Field:
    return entry.offset, entry.code, entry.order


def _layers(entries: Sequence[Placed]) -> list[list[_Field]]:
    """The fields, each once, in rows of one byte order in which none overlaps another: as few as can be."""
    layers: list[list[_Field]] = []
    for field in sorted({_field(entry) for entry in entries}):
        for layer in layers:
            offset, code, order = layer[-1]
            if order == field[2] and offset + calcsize(order + code) <= field[0]:
                layer.append(field)
                break
        else:
            layers.append([field])
    return layers


def _struct(fields: Sequence[_Field]) -> Struct:
    text, end = fields[0][2], 0
    for offset, code, order in fields:
        text += f"{offset - end}x{code}"
        end = offset + calcsize(order + code)
    return Struct(text)
