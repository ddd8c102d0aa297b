"""One place in a packet and how its number becomes a channel's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]

CODES = {
    "u8": "u1", "i8": "i1", "u16": "u2", "i16": "i2", "u32": "u4", "i32": "i4", "f32": "f4", "f64": "f8", "u64": "u8",
}  # fmt: skip
"""The types that are tried, and what numpy calls them."""
WIDTH = {name: int(code[1]) for name, code in CODES.items()}
"""Bytes of each type."""


@dataclass(frozen=True, slots=True)
class Field:
    """Channel = `scale` x raw + `bias`. `kind`: the kind of packet, by its index."""

    offset: int
    type: str
    big: bool
    """the first byte is the most significant"""
    scale: float = 1.0
    bias: float = 0.0
    kind: int = 0

    @property
    def width(self) -> int:
        """Bytes."""
        return WIDTH[self.type]

    def raw(self, rows: Bytes) -> Floats:
        """The numbers at this place in packets of one length, one a row."""
        cut = np.ascontiguousarray(rows[:, self.offset : self.offset + self.width])
        code = np.dtype((">" if self.big else "<") + CODES[self.type])
        with np.errstate(invalid="ignore"):
            return cut.view(code)[:, 0].astype(np.float64)

    def read(self, rows: Bytes) -> Floats:
        """The channel's values in packets of one length."""
        return self.scale * self.raw(rows) + self.bias
