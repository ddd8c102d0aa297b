"""A proposal as a layout: the model that decodes it, and the TOML file that a person can read and correct."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from coach.vocabulary.errors import InputError
from feeds.finder.fields import Field
from feeds.layout import Layout, layout_of, layout_text
from feeds.layout.channels import TURNING, WHOLE
from feeds.layout.units import CONVERSIONS, QUANTITY

if TYPE_CHECKING:
    from feeds.finder.proposal import KindOf, Proposal

NAME = "proposed layout"
CLOSE = 1e-9
"""Relative difference up to which a scale is a unit's."""


def layout_from(proposal: Proposal) -> Layout:
    """The layout model of what was found. InputError: nothing was found."""
    if not proposal.fields:
        raise InputError(
            "no channel could be told from these packets: record a whole lap with the guided steps, the car's own "
            "packets among them"
        )
    big = [field.big for field in proposal.fields.values() if field.width > 1]
    mostly = sum(big) * 2 > len(big)
    plain: dict[str, Any] = {"layout": 1, "name": NAME, "byte_order": "big" if mostly else "little"}
    if "t" not in proposal.fields:
        plain["clock"] = "received"
    plain["packet"] = [_packet(proposal, place, kind, mostly) for place, kind in enumerate(proposal.kinds)]
    return layout_of(plain)


def text_from(proposal: Proposal) -> str:
    """TOML with a comment before each channel, and at the top what is left out. InputError: nothing was found."""
    notes = {
        found.channel: f"{100.0 * found.confidence:.0f} % sure, {found.unit}: {found.why}" for found in proposal.found
    }
    for kind in proposal.kinds:
        notes[kind.name] = f"{kind.count} packets of {kind.length} bytes were seen"
    head = ["Proposed from the packets themselves; correct what is wrong, add what you know.", ""]
    if proposal.left_out:
        head += ["Left out:", *(f"  {channel}: {why}" for channel, why in proposal.left_out.items()), ""]
    return layout_text(layout_from(proposal), notes, head)


def _packet(proposal: Proposal, place: int, kind: KindOf, mostly: bool) -> dict[str, Any]:
    packet: dict[str, Any] = {"name": kind.name, "length": kind.length}
    if kind.marks:
        packet["match"] = [{"offset": offset, "bytes": f"{value:02x}"} for offset, value in kind.marks]
    channels = {name: _channel(name, field, mostly) for name, field in proposal.fields.items() if field.kind == place}
    if kind.clock is not None:
        channels = {"t": _channel("t", kind.clock, mostly)} | channels
    if kind.closes:
        packet["closes"] = True
    if channels:
        packet["channels"] = channels
    return packet


def _channel(name: str, field: Field, mostly: bool) -> dict[str, Any]:
    channel: dict[str, Any] = {"offset": field.offset, "type": field.type}
    if field.width > 1 and field.big != mostly:
        channel["byte_order"] = "big" if field.big else "little"
    scale, bias = field.scale, field.bias
    if name in TURNING and scale < 0.0:
        channel["positive"] = "right"
        scale, bias = -scale, -bias
    if name not in WHOLE:
        word, scale, bias = _unit(name, scale, bias)
        if word is not None:
            channel["convert"] = word
    if scale != 1.0:
        channel["scale"] = scale
    if bias != 0.0:
        channel["bias"] = bias
    return channel


def _unit(name: str, scale: float, bias: float) -> tuple[str | None, float, float]:
    """The conversion whose factor the scale is, and what of scale and bias is left for it to be applied to."""
    if abs(scale) == 1.0:
        return None, scale, bias
    for word, unit in CONVERSIONS[QUANTITY[name]].items():
        if abs(abs(scale / unit.scale) - 1.0) <= CLOSE and (unit.bias == 0.0 or abs(unit.bias - bias) <= CLOSE):
            sign = 1.0 if scale / unit.scale > 0.0 else -1.0
            return word, sign, (bias - unit.bias) / unit.scale
    return None, scale, bias
