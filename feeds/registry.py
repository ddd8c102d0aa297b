"""Feeds by name: the built-in ones, and those that other packages bring by an entry point."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from importlib.metadata import EntryPoint, entry_points
from typing import Any

from coach.vocabulary.errors import InputError, WorkError
from feeds.base import Feed, Guarded
from feeds.layout import LayoutFeed, layout_of

GROUP = "cornerword.feeds"
"""The entry-point group in which another package registers `name = "module:Class"`; the class takes no argument."""

LAYOUT = "layout"
"""The name of the feed that reads binary packets by a layout file."""

BUILT_IN = {"generic": "feeds.generic:GenericFeed"}


@dataclass(frozen=True, slots=True)
class Entry:
    """One registered feed. `target` is "module:Class"; `origin` "built in" or the distribution that brings it."""

    name: str
    target: str
    origin: str


def entries() -> list[Entry]:
    """Every registered feed, by name; nothing is imported. Two of one name are both listed."""
    found = {Entry(name, target, "built in") for name, target in BUILT_IN.items()}
    found |= {Entry(point.name, point.value, _origin(point)) for point in entry_points(group=GROUP)}
    return sorted(found, key=lambda entry: (entry.name, entry.origin, entry.target))


def create(name: str, layout: dict[str, Any] | None = None) -> Feed:
    """A new feed of this name; `layout`: of the feed "layout" alone, its layout file as plain values.

    InputError where no feed or more than one has the name; WorkError where another package's feed cannot be made.
    """
    if name == LAYOUT:
        if layout is None:
            raise InputError(f'the feed "{LAYOUT}" reads packets by a layout file: name it with --layout')
        return LayoutFeed(layout_of(layout))
    known = entries()
    chosen = [entry for entry in known if entry.name == name]
    if not chosen:
        choices = ", ".join(dict.fromkeys(entry.name for entry in known))
        raise InputError(f'there is no feed "{name}": choose one of {choices}')
    if len(chosen) > 1:
        both = " and ".join(f"{entry.target} ({entry.origin})" for entry in chosen)
        raise InputError(f'the feed name "{name}" is taken twice, by {both}: uninstall one of the packages')
    return _made(chosen[0])


def _made(entry: Entry) -> Feed:
    module, _, attribute = entry.target.partition(":")
    try:
        feed: Feed = getattr(import_module(module.strip()), attribute.split("[")[0].strip())()
        if not callable(feed.decode):
            raise TypeError("its decode cannot be called")
    except Exception as error:
        what = " ".join(f"{type(error).__name__}: {error}".split())[:200]
        raise WorkError(
            f'the feed "{entry.name}" ({entry.target}) of {entry.origin} cannot be used, {what}: '
            "update or uninstall that package"
        ) from error
    return feed if entry.origin == "built in" else Guarded(feed, entry.name)


def _origin(point: EntryPoint) -> str:
    if point.dist is None:
        return "an unnamed package"
    return f"{point.dist.name} {point.dist.version}"
