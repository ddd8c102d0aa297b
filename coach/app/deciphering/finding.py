"""Runs the finder beside what has to go on meanwhile, and says that it works."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from concurrent.futures import Future

from coach.app.console import Console
from coach.app.stop import Stop
from coach.vocabulary.errors import WorkError
from feeds import finder
from feeds.base import Datagram
from feeds.finder import Proposal, Step

LONG = 1.0
"""s of finding after which a line says that it goes on."""
EVERY = 10.0
"""s between two lines that it still does."""


def found(
    packets: list[Datagram], steps: list[Step], console: Console, stop: Stop, meanwhile: Callable[[], None]
) -> Proposal:
    """What the finder proposes, found beside whatever has to go on `meanwhile`. WorkError where it is nothing, or
    `stop` asks for the end."""
    result: Future[Proposal] = Future()

    def find() -> None:
        try:
            result.set_result(finder.find(packets, steps))
        except Exception as error:  # it belongs to who waits for it
            result.set_exception(error)

    threading.Thread(target=find, name="finder", daemon=True).start()
    began, told = time.perf_counter(), LONG
    while not result.done():
        meanwhile()
        if stop.asked:
            raise WorkError("stopped while looking for the channels")
        seconds = time.perf_counter() - began
        if seconds >= told:
            console.say(f"looking for the channels in {len(packets):,} packets, {seconds:.0f} s so far")
            told += EVERY
    proposal = result.result()
    if not proposal.found:
        raise WorkError("no channel could be told from the packets: drive as asked, on a quiet port, and try again")
    return proposal
