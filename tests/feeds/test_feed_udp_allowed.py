"""Only those who were named may send: all else is dropped before anything is asked of it."""

from __future__ import annotations

import io
import socket

import pytest

from coach.app.checkup import Looker
from coach.app.config import Receiving
from coach.app.console import Console
from coach.app.listening import listening
from coach.app.live import listen
from coach.app.session import Session
from coach.app.source import Source
from coach.app.start import fresh
from coach.app.stop import Stop
from coach.vocabulary.errors import InputError, WorkError
from feeds.generic import GenericFeed
from feeds.udp import UdpReceiver

# 198.51.100.0/24 and 2001:db8::/32 are for documentation: RFC 5737, RFC 3849.
NAMED, FOREIGN, FOREIGN_SIX = ("198.51.100.20", 5000), ("198.51.100.77", 5000), ("2001:db8::77", 5000, 0, 0)
OWN = ("127.0.0.1", 5000)


class From:
    """A socket in which datagrams of these addresses wait, which no sender on this computer can have."""

    def __init__(self, real: socket.socket, *senders: tuple[object, ...]) -> None:
        self.real = real
        self.left = list(senders)

    def recvfrom_into(self, buffer: bytearray) -> tuple[int, object]:
        if not self.left:
            raise BlockingIOError
        buffer[:8] = b'{"t": 1}'
        return 8, self.left.pop(0)

    def __getattr__(self, name: str) -> object:
        return getattr(self.real, name)


def received(receiver: UdpReceiver, *senders: tuple[object, ...]) -> list[str]:
    real, receiver._socket = receiver._socket, From(receiver._socket, *senders)  # type: ignore[assignment]
    try:
        found = []
        while batch := receiver.receive(0.0):
            found += [datagram.sender for datagram in batch]
        return found
    finally:
        receiver._socket = real


def test_only_this_computer_and_those_named_are_received() -> None:
    with UdpReceiver(port=0, allow=["198.51.100.20"]) as receiver:
        came = received(receiver, FOREIGN, NAMED, OWN, FOREIGN_SIX, ("::ffff:198.51.100.20", 5000, 0, 0), FOREIGN)
        assert came == ["198.51.100.20:5000", "127.0.0.1:5000", "198.51.100.20:5000"]
        assert receiver.drops.by_cause() == {"the sender is not allowed": 3}
        assert receiver.drops.lines(0.0) == [
            "datagram dropped 3 times: the sender is not allowed "
            "(198.51.100.77: name it with --allow 198.51.100.77, if it is your simulator's computer)"
        ]


def test_who_may_not_send_takes_nobodys_place_and_does_not_stop_a_batch() -> None:
    with UdpReceiver(port=0) as receiver:
        receiver.confirm("127.0.0.1:5000")
        real, receiver._socket = receiver._socket, From(receiver._socket, OWN, FOREIGN, OWN, FOREIGN, OWN)  # type: ignore[assignment]
        assert len(receiver.receive(0.0)) == 3
        receiver._socket = real
        assert receiver.source == "127.0.0.1:5000"


def test_every_network_is_those_of_both_kinds() -> None:
    try:
        receiver = UdpReceiver("::", 0)
    except (InputError, WorkError):
        pytest.skip("no IPv6 on this computer")
    with receiver:
        assert receiver.is_open
        for family, host in ((socket.AF_INET, "127.0.0.1"), (socket.AF_INET6, "::1")):
            with socket.socket(family, socket.SOCK_DGRAM) as source:
                source.connect((host, receiver.port))
                source.send(b"x")
                (datagram,) = receiver.receive(1.0)
                shown = f"[{host}]" if ":" in host else host
                assert datagram.sender == f"{shown}:{source.getsockname()[1]}"


def greeting(receiver: UdpReceiver) -> str:
    told, stop, start = io.StringIO(), Stop(), fresh(Source(), None, ())
    stop.asked = True
    session = Session(start, [], None, Console(told))
    listen("generic", GenericFeed(), receiver, lambda: 0.0, session, Console(told), stop)
    return told.getvalue().splitlines()[0]


def test_what_listens_beyond_loopback_says_so_and_who_may_send() -> None:
    with UdpReceiver(port=0) as receiver:
        assert not receiver.is_open
        assert greeting(receiver) == f'listening on 127.0.0.1:{receiver.port} (UDP, feed "generic"); Ctrl-C ends'
    with UdpReceiver("0.0.0.0", 0, allow=["198.51.100.20"]) as receiver:
        assert greeting(receiver) == (
            f'listening on 0.0.0.0:{receiver.port} (UDP, feed "generic", open to the network: '
            "only this computer and 198.51.100.20 may send); Ctrl-C ends"
        )


def test_a_checkup_says_so_too() -> None:
    told, stop = io.StringIO(), Stop()
    stop.asked = True
    with UdpReceiver("0.0.0.0", 0, allow=["198.51.100.20"]) as receiver:
        with pytest.raises(KeyboardInterrupt):  # ended before anything came
            Looker(fresh(Source(), None, ()), receiver, lambda: 0.0, Console(told)).look(1.0, stop)
        assert told.getvalue() == (
            f"looking for 1 s at what comes to 0.0.0.0:{receiver.port}, open to the network: "
            "only this computer and 198.51.100.20 may send; Ctrl-C ends it sooner\n"
        )


def test_allowing_another_computer_without_listening_to_the_network_is_told() -> None:
    wanted = Receiving(port=0, allow=("198.51.100.20",))
    heard = r"^--allow: on 127\.0\.0\.1:\d+ only this computer is heard: .*--host 0"
    with pytest.raises(InputError, match=heard), listening(wanted):
        pytest.fail("it listens")
    with listening(Receiving(port=0, allow=("127.0.0.1",))) as (receiver, clock):
        assert not receiver.is_open and clock() > 0
    with listening(Receiving(host="0.0.0.0", port=0, allow=("198.51.100.20",))) as (receiver, _):
        assert receiver.is_open
