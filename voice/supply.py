"""Phrases rendered beside a drive: what is wanted but not in the bank, in order, and what is wanted now before that."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from pathlib import Path
from time import monotonic

from coach.vocabulary.errors import WorkError
from voice.bank import Bank
from voice.render import Interrupted, Renderer
from voice.workshop import workshop

TOGETHER = 40
"""Phrases that one process renders: about a second, 0.2 s of it the process's start (choice). What is cut off by the
end of a drive is lost."""
LEAVING = 3.0
"""s that a thread has to end: it looks each 10 ms, but may be at work on what a process has rendered."""

Make = Callable[[int, Path], Renderer]


class Supply:
    """Fills a bank from two threads, each with one process at a time: one for all that is wanted, one for what is
    wanted soon.

    `came` is called, from such a thread, when phrases have come or will not come. `tell` hears once what cannot be
    rendered. What goes wrong here costs phrases, nothing else.
    """

    def __init__(self, bank: Bank, cache: Path, make: Make, came: Callable[[], None], tell: Callable[[str], None]):
        self._bank, self._cache, self._make, self._came, self._tell = bank, cache, make, came, tell
        self._change = threading.Condition()
        self._wanted: dict[str, None] = {}  # in order, each once
        self._soon: dict[str, None] = {}
        self._under_way: dict[bool, set[str]] = {False: set(), True: set()}  # by whether it is in a hurry
        self._closed = False
        self._told = bool(bank.missing)
        self._threads: list[threading.Thread] = []

    def want(self, phrases: Iterable[str], soon: bool = False) -> None:
        """Render these when there is time, or now where they are wanted `soon`; returns at once, from any thread."""
        with self._change:
            queue = self._soon if soon else self._wanted
            queue |= {text: None for text in phrases if self._lacks(text, soon)}
            if queue and not self._threads and not self._closed:
                self._threads = [
                    threading.Thread(target=self._run, args=(hurry,), name="voice-supply", daemon=True)
                    for hurry in (False, True)
                ]
                for thread in self._threads:
                    thread.start()
            self._change.notify_all()

    def may_come(self, text: str) -> bool:
        """Whether a phrase that is not in the bank can still come: nothing has failed to render it."""
        return not self._closed and text not in self._bank.missing

    def close(self) -> None:
        """End the processes and threads; what is not rendered by now stays away."""
        with self._change:
            self._closed = True
            self._change.notify_all()
        until = monotonic() + LEAVING
        for thread in self._threads:
            thread.join(max(0.0, until - monotonic()))

    def _lacks(self, text: str, soon: bool) -> bool:
        """What is wanted soon does not wait for a process that renders it among others."""
        if text in self._bank.seconds or text in self._bank.missing or text in self._under_way[True]:
            return False
        return soon or (text not in self._under_way[False] and text not in self._soon)

    def _run(self, hurry: bool) -> None:
        while phrases := self._next(hurry):
            try:
                self._render(phrases, hurry)
            except Interrupted:
                return
            except Exception as error:
                # whatever goes wrong costs these phrases, never the session
                what = str(error) if isinstance(error, WorkError) else f"{type(error).__name__}: {error}"
                lacking = [text for text in phrases if text not in self._bank.seconds]
                self._bank.missing |= dict.fromkeys(lacking, what)
            with self._change:
                self._under_way[hurry].clear()
            self._tell_missing()
            self._came()

    def _next(self, hurry: bool) -> list[str]:
        """What is to be rendered next; empty at the end."""
        queue = self._soon if hurry else self._wanted
        with self._change:
            self._change.wait_for(lambda: self._closed or queue)
            if self._closed:
                return []
            phrases = list(queue)[:TOGETHER]
            for text in phrases:
                del queue[text]
                self._wanted.pop(text, None)
            self._under_way[hurry] |= set(phrases)
            return phrases

    def _render(self, phrases: list[str], hurry: bool) -> None:
        with workshop(self._cache) as folder:
            renderer = self._make(self._bank.rate, folder)
            renderer.parallel, renderer.gentle = 1, not hurry
            self._bank.fill(phrases, renderer, _unheard, lambda: self._closed)

    def _tell_missing(self) -> None:
        missing = self._bank.missing
        if missing and not self._told:
            self._told = True
            why = list(missing.values())[0]  # noqa: RUF015 (in one piece: the other thread may add to it)
            what = "1 phrase" if len(missing) == 1 else f"{len(missing)} phrases"
            self._tell(f"voice: {what} could not be rendered ({why}): tones stand in for what cannot")


def _unheard(done: int, total: int) -> None:
    return None
