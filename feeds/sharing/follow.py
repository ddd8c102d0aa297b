"""The follower's side of a shared drive: a connection that gives what the driver's computer says."""

from __future__ import annotations

import contextlib
import select
import socket
import threading
import time
from types import TracebackType
from typing import Any

from coach.vocabulary.errors import FormatError, InputError, WorkError
from feeds.counts import Counts
from feeds.paths import on_one_line
from feeds.recording.lines import FORMAT, Item, item_of
from feeds.recording.lines import VERSION as RECORDING_VERSION
from feeds.recording.split import LINE_LIMIT
from feeds.sharing.lines import VERSION, Answer, Greeting, Missed, line_of, read, read_aside, read_greeting
from feeds.sharing.share import ALIVE, SHARE_PORT

CONNECTING = 4.0
"""s to wait for an answer of the driver's computer: it is on the same network."""
SILENT = 6.0
"""s without a line after which the connection is lost: the driver's computer says something every two."""
_PIECE = 64 * 1024
_SHOWN = 200
"""characters of what the other side says that are shown."""

Heard = Item | Missed | Answer


class Lost(WorkError):
    """The connection is gone: to be tried again."""


class Following:
    """Connects to `address` (a host name, IPv4 or IPv6) and says that it follows.

    WorkError where nobody answers or it is refused, with the mend; FormatError where what answers is no shared drive.
    `receive` and `close` are for one thread, `ask` for any.
    """

    def __init__(self, address: str, port: int = SHARE_PORT, patience: float = CONNECTING) -> None:
        """`patience`: s to wait for each of its answers."""
        self.drops = Counts("line dropped")
        self._patience = patience
        self.where = f"[{address}]:{port}" if ":" in address else f"{address}:{port}"
        self._buffer = b""
        self._lines: list[bytes] = []
        self._lock = threading.Lock()
        self._ended = threading.Event()
        self._socket = _connected(address, port, self.where, patience)
        self._heard = time.monotonic()
        try:
            greeting = self._greeted()
            self.id, self.name = greeting.id, greeting.name
            self.is_instructor = greeting.instructor
            self.has_begun = greeting.begun
            """whether some of the drive was over when this joined"""
            self._say(line_of(follow=VERSION))
            self.head: dict[str, Any] = self._headed()
            """the head of a recording of the drive"""
        except BaseException:
            self._socket.close()
            raise
        self._pulse = threading.Thread(target=self._live, name="following", daemon=True)
        self._pulse.start()

    def receive(self, timeout: float) -> list[Heard]:
        """What came, or what comes first within `timeout` (s); lines that cannot be read are counted in `drops`.
        Raises Lost where the connection is gone."""
        if not self._lines:
            self._fill(timeout)
        lines, self._lines = self._lines, []
        return [heard for line in lines if (heard := self._read(line)) is not None]

    def ask(self, text: str) -> None:
        """Ask for an action, as an instructor; the answer comes with the rest. Lost where the connection is gone."""
        self._say(line_of(ask=text))

    def close(self) -> None:
        """Leave; a second time does nothing."""
        self._ended.set()
        with contextlib.suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)
        self._socket.close()
        self._pulse.join(1.0)

    def __enter__(self) -> Following:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _live(self) -> None:
        while not self._ended.wait(ALIVE):
            with contextlib.suppress(Lost):  # `receive` finds that out too
                self._say(line_of(alive=True))

    def _say(self, line: bytes) -> None:
        try:
            with self._lock:
                self._socket.sendall(line)
        except OSError as error:
            raise Lost(f"{self.where}: the connection is gone ({error.strerror or type(error).__name__})") from None

    def _fill(self, timeout: float) -> None:
        """Read once, whole lines into `_lines`."""
        try:
            if not _is_readable(self._socket, timeout):
                if time.monotonic() - self._heard > SILENT:
                    raise Lost(f"{self.where}: nothing heard for {SILENT:.0f} s")
                return
            data = self._socket.recv(_PIECE)
        except (OSError, ValueError) as error:  # ValueError: closed meanwhile
            why = getattr(error, "strerror", None) or type(error).__name__
            raise Lost(f"{self.where}: the connection is gone ({why})") from None
        if not data:
            raise Lost(f"{self.where}: the other computer has closed the connection")
        self._heard = time.monotonic()
        *lines, self._buffer = (self._buffer + data).split(b"\n")
        if len(self._buffer) > LINE_LIMIT:
            raise Lost(f"{self.where}: a line without an end: no shared drive")
        self._lines += lines

    def _read(self, line: bytes) -> Heard | None:
        """What a line says; None where this version does not know it."""
        try:
            if line.startswith(b'{"received"'):
                return item_of(line)
            return read_aside(line) if line.strip() else None
        except FormatError as error:
            self.drops.add(error.cause, f"from {self.where}")
            return None

    def _next(self, until: float) -> bytes:
        """The next line, waited for until then (s, monotonic)."""
        while not self._lines:
            left = until - time.monotonic()
            if left <= 0:
                raise WorkError(f"{self.where} does not answer: check that a drive is shared there, and has begun")
            self._fill(left)
        return self._lines.pop(0)

    def _greeted(self) -> Greeting:
        try:
            greeting = read_greeting(self._next(time.monotonic() + self._patience))
        except FormatError as error:
            raise FormatError(f"{self.where}: {error}", error.cause) from None
        if isinstance(greeting, Answer):
            raise WorkError(f"{self.where} refuses: {on_one_line(greeting.text)[:_SHOWN]}")
        return greeting

    def _headed(self) -> dict[str, Any]:
        until = time.monotonic() + self._patience
        while True:  # what else is said before it is not for us
            line = self._next(until)
            try:
                head = read(line)
            except FormatError as error:
                raise FormatError(f"{self.where}: {error}", error.cause) from None
            if head.get("format") != FORMAT:
                continue
            if head.get("version") != RECORDING_VERSION:
                raise FormatError(f"{self.where}: a drive of another version: install the same on both", "version")
            return head


def _is_readable(link: socket.socket, timeout: float) -> bool:
    return bool(select.select([link], [], [], timeout)[0])


def _connected(address: str, port: int, where: str, patience: float) -> socket.socket:
    try:
        link = socket.create_connection((address, port), patience)
    except socket.gaierror:
        raise InputError(f"{where}: there is no such address: give one as 192.168.1.10:{SHARE_PORT}") from None
    except (OSError, ValueError, OverflowError) as error:
        why = getattr(error, "strerror", None) or str(error) or type(error).__name__
        raise WorkError(
            f"{where}: nobody answers ({why}): start the drive there with --share-with and this computer's address, "
            "and look for a firewall"
        ) from None
    link.settimeout(patience)
    with contextlib.suppress(OSError):
        link.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return link
