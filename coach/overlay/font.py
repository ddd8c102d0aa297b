"""The font that comes with this package: where it is, and which characters it holds.

DejaVu Sans has the proportions that ISO 15008 asks of characters on a display in a car, pygame's own font has not:
tests/overlay/test_font.py measures both. Its licence stands beside it.
"""

from __future__ import annotations

from pathlib import Path

FONT = Path(__file__).parent / "fonts" / "DejaVuSans.ttf"
HELD = (
    *(range(0x20, 0x7F), range(0xA0, 0x180), range(0x218, 0x21C), range(0x384, 0x38B), range(0x38E, 0x3A2)),
    *(range(0x3A3, 0x460), range(0x490, 0x492), range(0x2010, 0x2016), range(0x2018, 0x201F), range(0x2026, 0x2027)),
    *(range(0x2212, 0x2213), range(0x1E9E, 0x1E9F)),
)
"""The characters that it holds: Latin, Greek and Cyrillic letters, digits and marks."""


def lacking(text: str) -> str:
    """The characters of `text` that the font has no shape for."""
    return "".join(letter for letter in text if not any(ord(letter) in held for held in HELD))
