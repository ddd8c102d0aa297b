"""Datagrams from the network: one socket, one source at a time."""

from __future__ import annotations

import contextlib
import errno
import ipaddress
import selectors
import socket
import struct
import sys
import time
from collections.abc import Callable, Iterable
from types import TracebackType
from typing import Any

from coach.vocabulary.errors import InputError, WorkError
from feeds.addresses import host_of, written
from feeds.allowed import Allowed
from feeds.base import Datagram
from feeds.clock import steady_wall_clock
from feeds.counts import Counts

DEFAULT_PORT = 26763
"""Our own choice: a user port (RFC 6335, 1024 to 49151) below every system's range of temporary ports."""

RECEIVE_BUFFER = 2 * 1024 * 1024
"""Bytes asked of the system: some seconds of a fast stream, in case the process is held up."""

SILENCE = 2.0
"""s without a datagram of the confirmed source after which another may take its place."""

AT_ONCE = 4096
"""Datagrams taken from the system in one go, strangers' included, before the caller gets its turn."""

REFUSED = "the sender is not allowed"
"""The cause under which datagrams of senders that may not send are counted."""

_LARGEST_DATAGRAM = 65_535
_MOST_CLAIMS = 8
_SO_MEMINFO = 55  # linux/include/uapi/asm-generic/socket.h
_MEMINFO_DROPS = 8  # linux/include/uapi/linux/sock_diag.h, SK_MEMINFO_DROPS: the last of nine 32-bit numbers


class UdpReceiver:
    """A bound UDP socket that is drained, not polled.

    What comes from an address that is neither this computer's own nor in `allow` is dropped and counted before
    anything else is asked of it: it takes no place and is not decoded.
    The first source that the caller confirms is kept; what others send is dropped before it is decoded, and counted in
    `drops`. After 2 s of silence from it the place is free again: a simulator that was restarted sends from a new port.
    A source that lost the place that way keeps its claim: once it is confirmed again, those that came after it are
    strangers. Not for use by several threads.
    """

    def __init__(
        self,
        host: str = "127.0.0.1",
        port: int = DEFAULT_PORT,
        receive_buffer: int = RECEIVE_BUFFER,
        clock: Callable[[], float] | None = None,
        allow: Iterable[str] = (),
    ) -> None:
        """Bind; `port` 0 takes any free one; `allow` as `Allowed` reads it. InputError for a wrong address, WorkError
        where the system refuses."""
        self.allowed = Allowed(allow, "--allow", own=True)
        """who may send"""
        self.drops = Counts("datagram dropped")
        self._clock = steady_wall_clock() if clock is None else clock
        self._socket = _bound(host, port)
        self._socket.setblocking(False)
        with contextlib.suppress(OSError):  # the default buffer works too; what was granted can be read
            self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, receive_buffer)
        self._asked_buffer = receive_buffer
        self.receive_buffer: int = self._socket.getsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF)
        """Bytes that the system really gave; Linux counts its own overhead in and gives twice what was asked."""
        self._name: tuple[Any, ...] = self._socket.getsockname()
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._socket, selectors.EVENT_READ)
        self._buffer = bytearray(_LARGEST_DATAGRAM)
        self._source: str | None = None
        self._claims: list[str] = []  # sources that had the place, the eldest first
        self._heard = 0.0
        self._empty = 0.0
        self._held: Datagram | None = None
        self._last_address: tuple[Any, ...] = ()
        self._last_sender: str | None = ""
        self._kernel_drops: int | None = None

    @property
    def address(self) -> str:
        """Where it listens, "address:port"."""
        return written(self._name)

    @property
    def is_open(self) -> bool:
        """Whether it listens beyond this computer."""
        return not ipaddress.ip_address(host_of(self._name)).is_loopback

    @property
    def open_to(self) -> str:
        """For a line about where it listens: who may send, where that is not only this computer."""
        return f", open to the network: only {self.allowed} may send" if self.is_open else ""

    @property
    def port(self) -> int:
        """The port where it listens."""
        return int(self._name[1])

    @property
    def source(self) -> str | None:
        """The confirmed source, "address:port"; None while the place is free."""
        return self._source

    @property
    def buffer_notice(self) -> str | None:
        """One line where the system gave a smaller receive buffer than asked, else None."""
        if self.receive_buffer >= self._asked_buffer:
            return None
        mend = "; to raise it: sysctl net.core.rmem_max" if sys.platform == "linux" else ""
        return (
            f"the system gave a receive buffer of {self.receive_buffer // 1024} KiB where "
            f"{self._asked_buffer // 1024} KiB were asked: a long stall may lose datagrams{mend}"
        )

    def receive(self, timeout: float) -> list[Datagram]:
        """Everything that waits, or what comes first within `timeout` (s; 0 does not wait); empty where nothing came.

        A list is of one sender, so that no other gets in between the first good datagram and `confirm`. Signals do
        not end the wait early (PEP 475).
        """
        deadline = time.perf_counter() + timeout
        while True:
            batch = self._drained()
            if batch:
                return batch
            left = deadline - time.perf_counter()
            if left <= 0.0 or not self._selector.select(left):
                return []

    def confirm(self, sender: str) -> bool:
        """Say that a datagram of `sender` was good. True if that is, or now becomes, the source that is kept.

        False for datagrams that were received before another source was confirmed: they are counted, drop them.
        """
        if self._source == sender:
            return True
        if sender in self._claims:
            del self._claims[self._claims.index(sender) + 1 :]
        elif self._source is None:
            self._claims.append(sender)
            del self._claims[:-_MOST_CLAIMS]
        else:
            self._count_stranger(sender)
            return False
        self._source = sender
        self._heard = self._clock()
        return True

    def kernel_drops(self) -> int | None:
        """Datagrams that the system dropped because its buffer was full; None where it does not tell (not Linux)."""
        if self._socket.fileno() >= 0:
            self._kernel_drops = _kernel_drops(self._socket)
        return self._kernel_drops

    def close(self) -> None:
        """Free the port; may be called again. `kernel_drops` still answers."""
        if self._socket.fileno() >= 0:
            self.kernel_drops()
            self._selector.close()
            self._socket.close()

    def __enter__(self) -> UdpReceiver:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _drained(self) -> list[Datagram]:
        batch: list[Datagram] = []
        held, self._held = self._held, None
        if held is not None and self._is_welcome(held.sender, held.received):
            batch.append(held)
        for _ in range(AT_ONCE):
            try:
                size, address = self._socket.recvfrom_into(self._buffer)
            except BlockingIOError:
                self._empty = self._clock()
                break
            except OSError as error:
                self._survive(error)
                continue
            received = self._clock()
            sender = self._sender(address)
            if sender is None:
                self.drops.add(REFUSED, _mend(address))
                continue
            if not self._is_welcome(sender, received):
                continue
            datagram = Datagram(received, bytes(memoryview(self._buffer)[:size]), sender)
            if batch and batch[0].sender != sender:
                self._held = datagram
                break
            batch.append(datagram)
        return batch

    def _is_welcome(self, sender: str, received: float) -> bool:
        if self._source is None:
            return True
        if sender == self._source:
            self._heard = received
            return True
        if sender in self._claims:
            return True
        # Silence counts up to when the socket was last seen empty: after a stall of our own, what the source sent
        # meanwhile still waits behind the stranger's.
        if self._empty - self._heard >= SILENCE:
            self._source = None
            return True
        self._count_stranger(sender)
        return False

    def _count_stranger(self, sender: str) -> None:
        self.drops.add("another source", f"{sender}, while {self._source} is listened to: stop one of them")

    def _survive(self, error: OSError) -> None:
        """Count a network error that passes by itself; Windows reports here that something we sent found no port."""
        if error.errno in (errno.EBADF, errno.ENOTSOCK):
            raise error
        self.drops.add("network error", error.strerror or type(error).__name__)

    def _sender(self, address: tuple[Any, ...]) -> str | None:
        """How the sender is written; None for one that may not send."""
        if address != self._last_address:
            self._last_address = address
            self._last_sender = written(address) if self.allowed.admits(address) else None
        return self._last_sender


def _mend(address: tuple[Any, ...]) -> str:
    host = host_of(address)
    return f"{host}: name it with --allow {host}, if it is your simulator's computer"


def _bound(host: str, port: int) -> socket.socket:
    if not 0 <= port <= 65_535:
        raise InputError(f"{port} is no UDP port: choose one from 1024 to 49151, {DEFAULT_PORT} if nothing is said")
    if not host:
        raise InputError("the address to listen on is empty: give 127.0.0.1, or 0.0.0.0 for every network")
    if host.startswith("[") and host.endswith("]"):  # as addresses are written here, with a port behind them
        host = host[1:-1]
    if _lacks_scope(host):
        raise InputError(f"{host} is an address of every network card: name the card behind it, such as {host}%eth0")
    no_address = f'"{host}" is no address of this computer: give 127.0.0.1, or 0.0.0.0 for every network'
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_DGRAM, flags=socket.AI_PASSIVE)
    except (OSError, ValueError):  # ValueError: a name with a NUL in it, or one that is no host name at all
        raise InputError(no_address) from None
    found.sort(key=lambda entry: entry[0] != socket.AF_INET)  # "localhost": simulators send to 127.0.0.1
    family, kind, protocol, _, address = found[0]
    listener = socket.socket(family, kind, protocol)
    try:
        if sys.platform == "win32":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        if family == socket.AF_INET6 and address[0] == "::":  # every network: those of IPv4 too, on every system
            with contextlib.suppress(OSError):
                listener.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 0)
        listener.bind(address)
    except OSError as error:
        listener.close()
        if error.errno == errno.EADDRNOTAVAIL:
            raise InputError(no_address) from None
        if error.errno == errno.EADDRINUSE:
            raise WorkError(
                f"UDP port {port} on {host} is in use by another program: close it, or choose another port"
            ) from None
        if error.errno == errno.EACCES:
            raise WorkError(
                f"the system does not allow UDP port {port} on {host}: choose one from 1024 to 49151"
            ) from None
        raise WorkError(f"cannot listen on UDP port {port} of {host}, {error.strerror}: choose another port") from None
    return listener


def _lacks_scope(host: str) -> bool:
    """Whether `host` is a link-local address (RFC 4007, section 6) that does not say of which link."""
    try:
        address = ipaddress.IPv6Address(host)
    except ValueError:
        return False
    return address.is_link_local and address.scope_id is None


def _kernel_drops(listener: socket.socket) -> int | None:
    if sys.platform != "linux":
        return None
    try:
        numbers = listener.getsockopt(socket.SOL_SOCKET, _SO_MEMINFO, 4 * (_MEMINFO_DROPS + 1))
    except OSError:
        return None
    if len(numbers) <= 4 * _MEMINFO_DROPS:
        return None
    return int(struct.unpack_from("=I", numbers, 4 * _MEMINFO_DROPS)[0])
