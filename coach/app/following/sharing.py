"""A drive that others follow: opens what the command line asks for, and says who may."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager

from coach.app.config import DriveOptions
from coach.app.console import Console, plain
from coach.app.presses import Asked, Presses
from coach.app.start import SessionStart
from coach.vocabulary.actions import INSTRUCTOR
from feeds.allowed import Allowed
from feeds.discovery import Announcement
from feeds.dnssd import instance_name
from feeds.sharing import Share

NUMBER = "id"
"""The attribute under which the drive's own number is announced."""


class Sharing:
    """`share` takes what the drive records; nobody is let in before `start`."""

    def __init__(self, share: Share, name: str, console: Console, opened: ExitStack) -> None:
        self.share = share
        self._name = name
        self._console = console
        self._opened = opened

    def start(self, start: SessionStart, presses: Presses) -> None:
        """Let them in, and be found on the network; what instructors ask for goes to the presses."""
        self.share.start(start.head(), lambda action: presses.put(Asked(action, INSTRUCTOR)))
        txt = {NUMBER: self.share.id}
        found = Announcement(self._name, self.share.port, txt, self._console.say, self.share.only_here)
        self._opened.enter_context(closing(found))


@contextmanager
def shared(options: DriveOptions, console: Console) -> Iterator[Sharing | None]:
    """A port where those who were named may follow, closed at the end; None where nobody was. InputError for an
    address that is none, WorkError where there is no port to be had."""
    readers, instructors = Allowed(options.share_with, "--share-with"), Allowed(options.instructor, "--instructor")
    if not readers and not instructors:
        yield None
        return
    name = instance_name(socket.gethostname().partition(".")[0])
    with ExitStack() as opened:
        share = opened.enter_context(Share(name, readers, instructors, console.say))
        console.say(_greeting(share, name, readers, instructors))
        yield Sharing(share, name, console, opened)


def _greeting(share: Share, name: str, readers: Allowed, instructors: Allowed) -> str:
    who = [f"{readers} may follow"] if readers else []
    who += [f"{instructors} may follow and instruct"] if instructors else []
    where = "on this computer alone" if share.only_here else "open to the network"
    return f'sharing the drive as "{plain(name)}" at port {share.port} (TCP, {where}): only {", ".join(who)}'
