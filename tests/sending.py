"""A socket that sends to a program on this computer, for tests of the real command."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def sender(port: int) -> Iterator[socket.socket]:
    """A UDP socket that is connected to the port on loopback."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as source:
        source.connect(("127.0.0.1", port))
        yield source
