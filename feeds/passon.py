"""Passes a stream on: each datagram of the source, as it came, to other computers or other programs of this one."""

from __future__ import annotations

import socket
from collections.abc import Iterable
from types import TracebackType
from typing import Any

from coach.vocabulary.errors import InputError, WorkError
from feeds.addresses import is_here, parts
from feeds.counts import Counts
from feeds.udp import DEFAULT_PORT

_Socket = tuple[socket.socket, Any, str]
"""A socket, the address it sends to, and how that was written."""


class PassOn:
    """`to`: addresses or names, with or without a port: `192.168.1.20`, `192.168.1.20:26763`, `[fe80::1%eth0]:26763`.

    A network that fails costs the datagram, which is counted in `drops`, and nothing else; it never waits. InputError
    for an address that is none, or that is `own`, (host, port) of the socket that listens.
    """

    def __init__(self, to: Iterable[str], own: tuple[str, int] | None = None) -> None:
        self.drops = Counts("datagram not passed on")
        self._sockets: list[_Socket] = []
        try:
            for written in to:
                self._sockets.append(_opened(written, own))
        except BaseException:
            self.close()
            raise

    @property
    def addresses(self) -> list[str]:
        """Where it goes, "address:port"."""
        return [name for _, _, name in self._sockets]

    def send(self, data: bytes) -> None:
        """Send one datagram on."""
        for out, address, name in self._sockets:
            try:
                out.sendto(data, address)
            except OSError as error:  # full, unreachable, or too large: the next one may get through
                self.drops.add(f"to {name}", error.strerror or type(error).__name__)

    def close(self) -> None:
        """Close the sockets; a second time does nothing."""
        for out, _, _ in self._sockets:
            out.close()

    def __enter__(self) -> PassOn:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _opened(written: str, own: tuple[str, int] | None) -> _Socket:
    host, port = parts(written, DEFAULT_PORT)
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_DGRAM)
    except (OSError, ValueError):
        raise InputError(f"{written}: there is no such address: give one as 192.168.1.20:{DEFAULT_PORT}") from None
    found.sort(key=lambda entry: entry[0] != socket.AF_INET)  # a receiver listens on IPv4 unless it is told otherwise
    family, kind, protocol, _, address = found[0]
    if own is not None and port == own[1] and _comes_back(address):
        raise InputError(f"{written}: that is where the stream comes in: give another address, or another port")
    try:
        out = socket.socket(family, kind, protocol)
    except OSError as error:
        raise WorkError(f"{written}: the system opens no socket for it ({error.strerror}): leave it out") from error
    out.setblocking(False)
    if _is_for_all(family, address):
        out.close()
        raise InputError(f"{written}: that is every computer of a network: give the address of one, as often as wanted")
    return out, address, f"[{address[0]}]:{port}" if family == socket.AF_INET6 else f"{address[0]}:{port}"


def _comes_back(address: Any) -> bool:
    """Whether what is sent there comes to this computer: 0.0.0.0 and :: do too, on most systems."""
    host = str(address[0])
    return host in ("0.0.0.0", "::") or is_here(host, address[3] if len(address) > 3 else 0)


def _is_for_all(family: int, address: Any) -> bool:
    """Whether it is a broadcast address, which a socket is not allowed to send to."""
    with socket.socket(family, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(address)  # of UDP: nothing is sent
        except PermissionError:
            return True
        except OSError:
            return False  # unreachable now, which may change
    return False
