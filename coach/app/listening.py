"""Opens the socket at which a stream comes in, as the command line asks for it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from coach.app.config import Receiving
from coach.app.live import RECEIVE_BUFFER, Clock
from coach.vocabulary.errors import InputError
from feeds.clock import steady_wall_clock
from feeds.udp import UdpReceiver


@contextmanager
def listening(options: Receiving) -> Iterator[tuple[UdpReceiver, Clock]]:
    """A receiver with its clock; it is closed at the end. InputError for an address that cannot be used, WorkError
    where the system refuses."""
    clock = steady_wall_clock()
    with UdpReceiver(options.host, options.port, RECEIVE_BUFFER, clock, options.allow) as receiver:
        if receiver.allowed.others and not receiver.is_open:
            raise InputError(
                f"--allow: on {receiver.address} only this computer is heard: listen on every network as well, with "
                "--host 0.0.0.0 (IPv6: --host ::)"
            )
        yield receiver, clock


def flags(options: Receiving) -> list[str]:
    """The options of a command line that listens as this one does."""
    usual = Receiving.model_validate({})
    parts = [] if options.host == usual.host else ["--host", options.host]
    if options.port != usual.port:
        parts += ["--port", str(options.port)]
    for address in options.allow:
        parts += ["--allow", address]
    return parts
