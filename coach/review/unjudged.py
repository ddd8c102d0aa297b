"""What was not judged, and why: one sentence for all that lacked the same. Pure."""

from __future__ import annotations

from collections.abc import Mapping

WHOLE = ("reference", "full_throttle", "brake_off")
"""Detectors that say what is amiss in a whole sentence."""


def unjudged(off: Mapping[str, str | None]) -> list[tuple[str, str]]:
    """`off`: by detector, what it lacked. Of each reason the names, "" where it is a sentence by itself, and the
    reason, which may hold a stream's own words: it is for the caller to make it safe to show."""
    alike: dict[tuple[bool, str], list[str]] = {}
    for name, lacks in off.items():
        alike.setdefault((name in WHOLE, lacks or "channels for it"), []).append(name.replace("_", " "))
    return [
        ("", _sentence(lacks)) if whole else (", ".join(names), _reason(lacks))
        for (whole, lacks), names in alike.items()
    ]


def _sentence(lacks: str) -> str:
    return f"{lacks[:1].upper()}{lacks[1:]}"


def _reason(lacks: str) -> str:
    aid = lacks.removesuffix(" (assist)")
    return f"this stream has no {lacks}" if aid == lacks else f"the {aid} assist is on"
