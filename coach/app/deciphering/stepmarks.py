"""The guided steps in a recording: actions that say when each began and ended, so that a finding can be done again."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from math import inf

from coach.app.deciphering.guide import Done
from feeds.base import Datagram
from feeds.finder import STEPS, Step
from feeds.recording import ActionLine, Item

_WORD = "step"
_DONE, _UNSEEN = "done", "not seen"
_DIGITS = 6


def begun(name: str) -> str:
    """The action that says that a step is asked for."""
    return f"{_WORD} {name}"


def ended(done: Done) -> str:
    """The action that says that it is over, and how many seconds of it count, up to there."""
    return f"{_WORD} {done.ask.name} {f'{_DONE} {done.ends - done.begins:.{_DIGITS}f}' if done.seen else _UNSEEN}"


def read(items: Iterable[Item]) -> tuple[list[Datagram], list[Step]]:
    """The packets of a recording, and the steps that were seen in it."""
    packets: list[Datagram] = []
    steps: list[Step] = []
    for item in items:
        if isinstance(item, Datagram):
            packets.append(item)
        elif isinstance(item, ActionLine):
            step = _step(item)
            steps += [] if step is None else [step]
    return packets, steps


def _step(line: ActionLine) -> Step | None:
    parts = line.action.split(" ")
    if len(parts) != 4 or (parts[0], parts[2]) != (_WORD, _DONE) or parts[1] not in STEPS:
        return None
    with suppress(ValueError):
        seconds = float(parts[3])
        if 0.0 <= seconds < inf:
            return Step(parts[1], line.received - seconds, line.received)
    return None
