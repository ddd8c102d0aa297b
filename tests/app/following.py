"""Drives that are shared and followed, in threads of the test's own, over real sockets."""

from __future__ import annotations

import io
import re
import socket
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, closing, contextmanager, suppress
from typing import Any

from coach.app import config
from coach.app.console import Console
from coach.app.drive import drive
from coach.app.follow import follow
from coach.app.stop import Stop

LONGEST = 30.0
"""s that anything is waited for."""
QUIET = {"voice": False, "overlay": False}


def wait(until: Callable[[], object]) -> None:
    """Until it is so."""
    end = time.monotonic() + LONGEST
    while not until():
        assert time.monotonic() < end, "it does not come"
        time.sleep(0.005)


class Running:
    """A verb in a thread: `told` is what its console said, `summary` what it returned once it has ended."""

    def __init__(self, verb: Callable[[Any, Console, Stop], str], options: Any) -> None:
        self._told = io.StringIO()
        self.stop = Stop()
        self.summary = ""
        self.error: BaseException | None = None
        self._work = lambda: verb(options, Console(self._told), self.stop)
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    @property
    def told(self) -> list[str]:
        """The lines so far."""
        return self._told.getvalue().splitlines()

    def says(self, pattern: str) -> re.Match[str]:
        """Wait for a line in which this is found."""
        wait(lambda: re.search(pattern, self._told.getvalue()) or not self._thread.is_alive())
        found = re.search(pattern, self._told.getvalue())
        assert found is not None, (self.told, self.error)
        return found

    def ended(self) -> str:
        """Wait for its end by itself; returns the summary, or raises what it raised."""
        self._thread.join(LONGEST)
        assert not self._thread.is_alive(), self.told
        if self.error is not None:
            raise self.error
        return self.summary

    def end(self) -> str:
        """Ask for its end."""
        self.stop.asked = True
        return self.ended()

    def _run(self) -> None:
        try:
            self.summary = self._work()
        except BaseException as error:  # for whoever waits for it
            self.error = error


@contextmanager
def running(verb: Callable[[Any, Console, Stop], str], options: Any) -> Iterator[Running]:
    """A verb that runs, and is ended if the test did not."""
    run = Running(verb, options)
    try:
        yield run
    finally:
        run.stop.asked = True
        run._thread.join(LONGEST)


class Source:
    """A simulator: one socket that sends to a drive on this computer."""

    def __init__(self, port: int) -> None:
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.connect(("127.0.0.1", port))

    def send(self, datagrams: Sequence[bytes], rate: float = 4000.0) -> None:
        """Send them, so many a second."""
        for number, data in enumerate(datagrams):
            self._socket.send(data)
            if number % 20 == 19:
                time.sleep(20 / rate)

    def close(self) -> None:
        """No more."""
        self._socket.close()


@contextmanager
def driving(**given: Any) -> Iterator[tuple[Running, Source, int]]:
    """A drive that is shared; with it a source that sends to it, and the port of the sharing."""
    options = config.DriveOptions(port=0, buttons=False, **QUIET, **given)
    with running(drive, options) as run:
        shared = int(run.says(r" at port (\d+) \(TCP, ")[1])
        with closing(Source(int(run.says(r"listening on [^ ]+:(\d+) \(UDP, ")[1]))) as source:
            yield run, source, shared


def following(**given: Any) -> AbstractContextManager[Running]:
    """A follower."""
    return running(follow, config.FollowOptions(**QUIET, **given))


class Relay:
    """A way to a port of this computer that can be cut, and lead elsewhere."""

    def __init__(self, to: int) -> None:
        self.to = to
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._server.getsockname()[1])
        self._links: list[socket.socket] = []
        self._threads: list[threading.Thread] = []
        self._start(self._accept)

    def cut(self) -> None:
        """Break the connections that there are."""
        for link in self._links:
            with suppress(OSError):
                link.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        """Break them, and let none in any more."""
        with suppress(OSError):
            self._server.shutdown(socket.SHUT_RDWR)
        self._server.close()
        self.cut()
        for thread in list(self._threads):
            thread.join(LONGEST)
        for link in self._links:
            link.close()

    def _start(self, work: Callable[..., None], *given: Any) -> None:
        thread = threading.Thread(target=work, args=given)
        self._threads.append(thread)
        thread.start()

    def _accept(self) -> None:
        while True:
            try:
                here, _ = self._server.accept()
            except OSError:
                return
            self._links.append(here)
            try:
                there = socket.create_connection(("127.0.0.1", self.to))
            except OSError:
                here.shutdown(socket.SHUT_RDWR)
                continue
            self._links.append(there)
            self._start(self._carry, here, there)
            self._start(self._carry, there, here)

    def _carry(self, source: socket.socket, to: socket.socket) -> None:
        with suppress(OSError):
            while data := source.recv(65536):
                to.sendall(data)
        with suppress(OSError):
            to.shutdown(socket.SHUT_RDWR)
