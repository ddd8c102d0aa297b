"""The sockets at which followers come in."""

from __future__ import annotations

import socket
import sys

from coach.vocabulary.errors import WorkError


def listeners(only_here: bool, port: int) -> list[socket.socket]:
    """One socket for IPv4 and one for IPv6, or those of them that the system has, on one port: this one, or any."""
    reason = "it has no network"
    for wanted in dict.fromkeys((port, 0, 0)):
        opened: list[socket.socket] = []
        for family, host in _hosts(only_here):
            try:
                opened.append(_listener(family, host, opened[0].getsockname()[1] if opened else wanted))
            except OSError as error:
                reason = error.strerror or type(error).__name__
        if opened:
            return opened
    raise WorkError(f"the system gives no port to share the drive at ({reason}): leave --share-with out")


def _hosts(only_here: bool) -> list[tuple[socket.AddressFamily, str]]:
    here = [(socket.AF_INET, "127.0.0.1"), (socket.AF_INET6, "::1")]
    return here if only_here else [(socket.AF_INET, "0.0.0.0"), (socket.AF_INET6, "::")]


def _listener(family: socket.AddressFamily, host: str, port: int) -> socket.socket:
    listener = socket.socket(family, socket.SOCK_STREAM)
    try:
        if sys.platform == "win32":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)  # the last drive's port is free at once
        if family == socket.AF_INET6:
            listener.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        listener.bind((host, port))
        listener.listen()
        listener.setblocking(False)
    except OSError:
        listener.close()
        raise
    return listener
