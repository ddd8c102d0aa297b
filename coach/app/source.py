"""What a stream is made of: the feed that decodes it, with its layout file where it has one."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from feeds.layout import read_layout
from feeds.registry import LAYOUT


@dataclass(frozen=True, slots=True)
class Source:
    """`feed`: the name of a feed; `layout`: of the feed "layout" its file's content, as plain values."""

    feed: str = "generic"
    layout: dict[str, Any] | None = None


def chosen(feed: str | None, layout: Path | None) -> Source:
    """What the command line chose. InputError for a layout file that cannot be used."""
    if layout is None:
        return Source() if feed is None else Source(feed)
    return Source(LAYOUT, read_layout(layout).to_json())
