"""What the finder proposes: a layout, how sure each channel is, and what was left out."""

from __future__ import annotations

from dataclasses import dataclass, field

from feeds.finder.fields import Field
from feeds.layout import Layout


@dataclass(frozen=True, slots=True)
class Found:
    """One channel: where it stands in the packet, and why it is believed."""

    channel: str
    offset: int
    """bytes from the packet's begin"""
    type: str
    """as a layout file writes it: u8, i16, f32, ..."""
    unit: str
    """what the raw value is, in words"""
    confidence: float
    """0..1"""
    why: str
    """one plain sentence"""
    packet: int = 0
    """which kind of packet, an index of `Proposal.kinds`"""


@dataclass(frozen=True, slots=True)
class KindOf:
    """One kind of packet: `length` bytes, and the bytes (offset, value) that tell it from others of its length."""

    name: str
    length: int
    marks: tuple[tuple[int, int], ...] = ()
    count: int = 0
    """packets of it that were seen"""
    clock: Field | None = None
    """the source's time in it, where `fields` has `t` of another kind"""
    closes: bool = False
    """it comes last in a frame"""


@dataclass(frozen=True, slots=True)
class Proposal:
    """`fields` is the finder's own form of `found`: every channel's place with its scale and bias."""

    found: list[Found]
    left_out: dict[str, str]
    """channel, and why it could not be told"""
    kinds: list[KindOf]
    fields: dict[str, Field] = field(default_factory=dict)

    @property
    def layout(self) -> Layout:
        """The layout that decodes what was found. InputError: nothing was found."""
        from feeds.finder.write import layout_from

        return layout_from(self)

    def text(self) -> str:
        """The layout as a TOML file with comments: confidence and reason beside each channel, and what is left out."""
        from feeds.finder.write import text_from

        return text_from(self)
