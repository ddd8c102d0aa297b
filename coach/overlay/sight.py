"""From the angle that something is seen under to pixels and back, and how high text must be to be text.

Visual angle = arctan(height / distance): FHWA-RD-98-057, chapter 11, equations 2 to 4.
"""

from __future__ import annotations

from math import atan, ceil, degrees, radians, tan

from coach.vocabulary.errors import InputError

LEAST = 20.0
"""arcmin of a capital or digit, at least: what ISO 15008 prefers (20; 16 acceptable, 12 minimum: numbers from memory).
Less is not offered: a driver in motion has one look."""
LEAST_PX = 9
"""px of a capital, at least: ISO 9241 asks for characters of 7 by 9 dots where they are read (from memory). Fewer do
not form letters, whatever the angle."""
_ARCMIN = 60.0
_MILLIMETRES = 1000.0
_HAIR = 1e-9


def height_px(arcmin: float, distance: float, pitch: float) -> int:
    """px that are seen under at least `arcmin` from `distance` (m) on a screen of `pitch` (mm a pixel)."""
    millimetres = 2.0 * _MILLIMETRES * distance * tan(radians(arcmin / _ARCMIN) / 2.0)
    return ceil(millimetres / pitch - _HAIR)


def seen_under(px: float, distance: float, pitch: float) -> float:
    """arcmin under which `px` are seen from `distance` (m) on a screen of `pitch` (mm a pixel)."""
    return 2.0 * _ARCMIN * degrees(atan(px * pitch / (2.0 * _MILLIMETRES * distance)))


def readable(px: float, distance: float, pitch: float) -> bool:
    """Whether text with capitals of `px` is text there."""
    return px >= LEAST_PX and seen_under(px, distance, pitch) >= LEAST - _HAIR


def check_size(arcmin: float, distance: float, pitch: float | None = None) -> None:
    """Raises InputError, one line with what was measured, where text of this size could not be read there; `pitch`
    None: whatever the screen."""
    if not arcmin >= LEAST:
        raise InputError(f"text of {arcmin:g} arcmin is too small to be read: {LEAST:g} or more are needed")
    if pitch is not None and (px := height_px(arcmin, distance, pitch)) < LEAST_PX:
        raise InputError(
            f"text of {arcmin:g} arcmin is {px} px high at {distance:g} m on pixels of {pitch:g} mm, but letters need "
            f"{LEAST_PX}: choose a larger size, or correct the distance or the pixel"
        )
