"""Dates, spans, sizes and counts as a person reads them."""

from __future__ import annotations

from datetime import datetime

DATED = 1e9
"""s since 1970 (2001): receive times below it are no dates but some clock of the source's."""


def date_of(received: float) -> str | None:
    """`2026-11-25 19:02`, this computer's time; None where the receive times are no dates."""
    if not received >= DATED:
        return None
    try:
        return datetime.fromtimestamp(received).strftime("%Y-%m-%d %H:%M")
    except (OverflowError, OSError, ValueError):
        return None


def span_of(seconds: float) -> str:
    """`1:02:07` or `2:07`, hours where there are some; with tenths under a minute."""
    if seconds < 60.0:
        return f"{seconds:.1f} s"
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def size_of(count: int) -> str:
    """Bytes as a person reads them, in powers of 1000 (IEC 80000-13 keeps these for kB and MB)."""
    if count < 1000:
        return f"{count} bytes"
    return f"{count / 1000:.0f} kB" if count < 1_000_000 else f"{count / 1_000_000:.1f} MB"


def counted(number: int, thing: str) -> str:
    """`1 lap`, `2 laps`."""
    return f"{number:,} {thing}" if number == 1 else f"{number:,} {thing}s"
