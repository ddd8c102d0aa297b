"""From the angle that something is seen under to pixels: visual angle = arctan(height / distance), FHWA-RD-98-057,
chapter 11, equations 2 to 4."""

from __future__ import annotations

from math import ceil, radians, tan

_ARCMIN = 1.0 / 60.0
_HAIR = 1e-9


def height_px(arcmin: float, distance: float, pitch: float) -> int:
    """px that are seen under at least `arcmin` from `distance` (m) on a screen of `pitch` (mm a pixel)."""
    millimetres = 2.0 * 1000.0 * distance * tan(radians(arcmin * _ARCMIN) / 2.0)
    return ceil(millimetres / pitch - _HAIR)
