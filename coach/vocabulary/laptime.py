"""Lap times as people write them."""

from __future__ import annotations


def lap_time(seconds: float | None) -> str:
    """`1:17.508`, or `-` where there is none."""
    if seconds is None:
        return "-"
    minutes, rest = divmod(round(seconds * 1000), 60_000)
    return f"{minutes}:{rest / 1000:06.3f}"
