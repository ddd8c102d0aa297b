"""A stream that is passed on, through real sockets on loopback."""

from __future__ import annotations

import socket
import sys
from collections.abc import Iterator

import pytest

from coach.vocabulary.errors import InputError
from feeds.passon import PassOn
from feeds.udp import DEFAULT_PORT, UdpReceiver

WAIT = 5.0


@pytest.fixture
def receiver() -> Iterator[UdpReceiver]:
    with UdpReceiver("127.0.0.1", 0) as opened:
        yield opened


def test_each_datagram_arrives_as_it_was(receiver: UdpReceiver) -> None:
    sent = [b'{"t": 1.0}', b"\x00\xff" * 700, b""]
    with PassOn([f"127.0.0.1:{receiver.port}"]) as passing:
        for data in sent:
            passing.send(data)
        came = receiver.receive(WAIT)
        while len(came) < len(sent):
            came += receiver.receive(WAIT)
    assert [datagram.data for datagram in came] == sent
    assert passing.drops.total == 0


def test_it_never_waits_for_the_network() -> None:
    """Whatever its buffers hold: the socket is one that does not block, in the socket module's words."""
    with PassOn(["127.0.0.1", "127.0.0.1:4711"]) as passing:
        assert [out.getblocking() for out, _, _ in passing._sockets] == [False, False]


@pytest.mark.skipif(sys.platform != "linux", reason="others have no broadcast on loopback")
def test_a_whole_network_is_no_address() -> None:
    """RFC 919: all ones in the host's part are every computer of a network; of loopback's, it needs no other."""
    with pytest.raises(InputError, match=r"127\.255\.255\.255: that is every computer of a network: give the address"):
        PassOn(["127.0.0.1", "127.255.255.255"])


def test_it_goes_to_all_of_them(receiver: UdpReceiver) -> None:
    with UdpReceiver("127.0.0.1", 0) as other:
        with PassOn([f"127.0.0.1:{receiver.port}", f"127.0.0.1:{other.port}"]) as passing:
            passing.send(b"x")
        assert [datagram.data for one in (receiver, other) for datagram in one.receive(WAIT)] == [b"x", b"x"]


def test_nobody_there_costs_nothing_but_the_datagram() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind(("127.0.0.1", 0))
        free = probe.getsockname()[1]
    with PassOn([f"127.0.0.1:{free}"]) as passing:
        for _ in range(50):
            passing.send(b"x")


def test_what_the_system_refuses_is_counted_and_told() -> None:
    with PassOn(["127.0.0.1:9"]) as passing:
        passing.send(bytes(70_000))  # more than a datagram can hold
        passing.send(bytes(70_000))
        assert passing.drops.total == 2
        (line,) = passing.drops.lines(0.0)
    assert line.startswith("datagram not passed on 2 times: to 127.0.0.1:9 (")


@pytest.mark.parametrize(
    ("written", "address"),
    [
        ("127.0.0.1", f"127.0.0.1:{DEFAULT_PORT}"),
        ("127.0.0.1:4000", "127.0.0.1:4000"),
        ("localhost:4000", "127.0.0.1:4000"),
        ("[::1]:4000", "[::1]:4000"),
        ("::1", f"[::1]:{DEFAULT_PORT}"),
    ],
)
def test_an_address_may_be_written_with_or_without_a_port(written: str, address: str) -> None:
    if "::1" in written and not socket.has_ipv6:
        pytest.skip("no IPv6 here")
    with PassOn([written]) as passing:
        assert passing.addresses == [address]


@pytest.mark.parametrize(
    "written", ["", ":4000", "127.0.0.1:0", "127.0.0.1:70000", "127.0.0.1:x", "[nonsense]", "a b", "\0"]
)
def test_what_is_no_address_is_one_line(written: str) -> None:
    with pytest.raises(InputError, match=r"address") as raised:
        PassOn([written])
    assert "\n" not in str(raised.value)


@pytest.mark.parametrize("written", ["127.0.0.1", "localhost", "0.0.0.0", "[::]"])
def test_the_stream_is_not_passed_on_to_where_it_comes_in(receiver: UdpReceiver, written: str) -> None:
    with pytest.raises(InputError, match="that is where the stream comes in"):
        PassOn([f"{written}:{receiver.port}"], ("127.0.0.1", receiver.port))
    PassOn([f"{written}:{receiver.port + 1 if receiver.port < 65_535 else 1}"], ("127.0.0.1", receiver.port)).close()
