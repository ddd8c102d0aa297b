"""Where a bank's sounds are: on disk where that can be written, else in memory until the end."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from voice.render import Rendered
from voice.store import Identity, Store

Tell = Callable[[str], None]


class Shelf:
    """The sounds of one voice. A cache that is damaged or cannot be written costs time, never the voice; it is told."""

    def __init__(self, cache: Path, identity: Identity, tell: Tell) -> None:
        self._store = Store(cache, identity)
        self._tell = tell
        self._held: dict[str, bytes] = {}
        self._can_write = True
        self._told_damaged = False

    @property
    def check(self) -> float | None:
        """s that the check phrase takes at this voice, where that is known."""
        return self._store.check

    def lengths(self, phrases: Iterable[str]) -> dict[str, float]:
        """s of speech of those phrases that are here, each looked at whether it is whole."""
        found = {}
        for text in phrases:
            seconds = self._store.seconds(text)
            if seconds is not None and self._store.samples(text) is not None:
                found[text] = seconds
        if self._store.damaged and not self._told_damaged:
            self._told_damaged = True
            self._tell(f"voice: {self._store.damaged} files in {self._store.folder} are damaged; made anew")
        return found

    def keep(self, rendered: Mapping[str, Rendered], check: float | None) -> None:
        """Put new sounds here."""
        if self._can_write:
            try:
                self._write(rendered, check)
                return
            except OSError as error:
                self._can_write = False
                self._tell(
                    f"voice: phrases cannot be kept in {self._store.folder} ({error.strerror or error}), so they are"
                    " rendered at each start: make it a folder with room that you may write to"
                )
        self._held |= {text: one.samples for text, one in rendered.items()}

    def sound(self, text: str) -> bytes | None:
        """A phrase's samples, 16 bit mono, lowest byte first; None where it is not here, or no longer whole."""
        held = self._held.get(text)
        return self._store.samples(text) if held is None else held

    def _write(self, rendered: Mapping[str, Rendered], check: float | None) -> None:
        for text, one in rendered.items():
            self._store.add(text, one.samples, one.seconds)
        self._store.check = check
        self._store.save()
