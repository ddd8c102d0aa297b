"""The receiver on real loopback sockets."""

from __future__ import annotations

import signal
import socket
import sys
import threading
import time
from collections.abc import Iterator
from itertools import pairwise

import pytest

from coach.vocabulary.errors import InputError, WorkError
from feeds.base import Datagram
from feeds.udp import AT_ONCE, DEFAULT_PORT, SILENCE, UdpReceiver


class Clock:
    """A receive clock that the test sets."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


class Sender:
    """A source with a port of its own."""

    def __init__(self, port: int, host: str = "127.0.0.1") -> None:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        self.socket = socket.socket(family, socket.SOCK_DGRAM)
        self.socket.connect((host, port))
        self.port = self.socket.getsockname()[1]
        self.name = f"[{host}]:{self.port}" if ":" in host else f"{host}:{self.port}"

    def send(self, *datagrams: bytes) -> None:
        for data in datagrams:
            self.socket.send(data)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def receiver(clock: Clock) -> Iterator[UdpReceiver]:
    with UdpReceiver(port=0, clock=clock) as made:
        yield made


@pytest.fixture
def simulator(receiver: UdpReceiver) -> Iterator[Sender]:
    sender = Sender(receiver.port)
    yield sender
    sender.socket.close()


@pytest.fixture
def stranger(receiver: UdpReceiver) -> Iterator[Sender]:
    sender = Sender(receiver.port)
    yield sender
    sender.socket.close()


def everything(receiver: UdpReceiver) -> list[Datagram]:
    """All that waits."""
    found = []
    while batch := receiver.receive(0.0):
        found += batch
    return found


def test_datagrams_arrive_whole_and_in_order_with_time_and_sender(
    receiver: UdpReceiver, simulator: Sender, clock: Clock
) -> None:
    sent = [b"", b"a", bytes(range(256)), b"x" * 65_507]
    simulator.send(*sent)
    clock.now = 1234.5
    assert receiver.receive(1.0) == [Datagram(1234.5, data, simulator.name) for data in sent]
    assert receiver.receive(0.0) == []


def test_it_listens_on_loopback_unless_told_otherwise(receiver: UdpReceiver) -> None:
    assert receiver.address == f"127.0.0.1:{receiver.port}"
    assert 1024 <= DEFAULT_PORT < 32_768


def test_it_waits_for_the_first_and_no_longer(receiver: UdpReceiver, simulator: Sender) -> None:
    timer = threading.Timer(0.05, simulator.send, [b"late"])
    timer.start()
    start = time.perf_counter()
    assert [datagram.data for datagram in receiver.receive(5.0)] == [b"late"]
    assert time.perf_counter() - start < 2.0
    timer.join()
    start = time.perf_counter()
    assert receiver.receive(0.05) == []
    assert 0.04 < time.perf_counter() - start < 1.0


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="no interval timer on this system")
def test_a_signal_does_not_end_the_wait_early(receiver: UdpReceiver) -> None:
    rang = []
    before = signal.signal(signal.SIGALRM, lambda *_: rang.append(1))
    signal.setitimer(signal.ITIMER_REAL, 0.01)
    start = time.perf_counter()
    try:
        assert receiver.receive(0.1) == []
    finally:
        signal.signal(signal.SIGALRM, before)
    assert rang
    assert time.perf_counter() - start > 0.09


def test_a_backlog_is_given_out_in_bounded_parts_and_nothing_is_lost(receiver: UdpReceiver, simulator: Sender) -> None:
    if receiver.buffer_notice:
        pytest.skip(receiver.buffer_notice)
    sent = [str(number).encode() for number in range(1500)]
    simulator.send(*sent)
    parts = []
    while batch := receiver.receive(0.0):
        parts.append(len(batch))
        sent = sent[len(batch) :] if [d.data for d in batch] == sent[: len(batch)] else sent
    assert sent == []
    assert max(parts) <= AT_ONCE


def test_garbage_that_came_first_does_not_lock_out_the_simulator(
    receiver: UdpReceiver, simulator: Sender, stranger: Sender
) -> None:
    stranger.send(b"garbage")
    simulator.send(b"good")
    first = receiver.receive(1.0)
    second = receiver.receive(1.0)
    assert [datagram.data for datagram in first + second] == [b"garbage", b"good"]
    assert {datagram.sender for datagram in first} == {stranger.name}
    assert receiver.confirm(second[0].sender)
    stranger.send(b"garbage")
    simulator.send(b"good")
    assert [datagram.data for datagram in everything(receiver)] == [b"good"]
    assert receiver.source == simulator.name
    assert receiver.drops.by_cause() == {"another source": 1}


def test_a_batch_is_of_one_sender_and_one_that_waited_is_checked_again(
    receiver: UdpReceiver, simulator: Sender, stranger: Sender
) -> None:
    simulator.send(b"1", b"2")
    stranger.send(b"other")
    simulator.send(b"3")
    batch = receiver.receive(1.0)
    assert [datagram.data for datagram in batch] == [b"1", b"2"]
    assert receiver.confirm(simulator.name)
    assert [datagram.data for datagram in everything(receiver)] == [b"3"]
    assert receiver.drops.by_cause() == {"another source": 1}


def test_a_datagram_from_before_the_lock_is_not_confirmed(
    receiver: UdpReceiver, simulator: Sender, stranger: Sender
) -> None:
    assert receiver.confirm(simulator.name)
    assert receiver.confirm(simulator.name)
    assert not receiver.confirm(stranger.name)
    assert receiver.source == simulator.name
    assert receiver.drops.total == 1


def test_ten_thousand_a_second_from_another_port_do_not_disturb(
    receiver: UdpReceiver, simulator: Sender, stranger: Sender
) -> None:
    simulator.send(b"first")
    receiver.confirm(receiver.receive(1.0)[0].sender)
    flood, good = 5000, []
    start = time.perf_counter()
    for number in range(flood):
        stranger.send(b'{"t":1}')
        if number % 28 == 0:  # 360 Hz beside 10,000 Hz
            simulator.send(str(number).encode())
            good.append(str(number).encode())
        if number % 100 == 99:
            received = [datagram.data for datagram in everything(receiver)]
            assert received == good
            good = []
    spent = time.perf_counter() - start
    received = [datagram.data for datagram in everything(receiver)]
    assert received == good
    assert receiver.drops.by_cause() == {"another source": flood}
    assert spent < 0.5 * flood / 1000, "dropping a stranger's datagram costs too much"
    lines = receiver.drops.lines(0.0)
    assert lines == [
        f"datagram dropped {flood} times: another source "
        f"({stranger.name}, while {simulator.name} is listened to: stop one of them)"
    ]


def test_the_place_is_free_after_silence_and_not_before(
    receiver: UdpReceiver, simulator: Sender, stranger: Sender, clock: Clock
) -> None:
    simulator.send(b"old")
    receiver.confirm(receiver.receive(1.0)[0].sender)
    clock.now += SILENCE - 0.1
    assert receiver.receive(0.0) == []
    stranger.send(b"too soon")
    assert everything(receiver) == []
    clock.now += 0.2
    assert receiver.receive(0.0) == []
    stranger.send(b"restarted")
    (datagram,) = everything(receiver)
    assert datagram.data == b"restarted"
    assert receiver.source is None
    assert receiver.confirm(datagram.sender)
    assert receiver.source == stranger.name


def test_a_source_that_comes_back_takes_its_place_again(
    receiver: UdpReceiver, simulator: Sender, stranger: Sender, clock: Clock
) -> None:
    taken_over(receiver, simulator, stranger, clock)
    simulator.send(b"back")
    stranger.send(b"still here")
    batch = receiver.receive(1.0)
    assert [datagram.data for datagram in batch] == [b"back"]
    assert receiver.source == stranger.name, "only a good datagram wins the place"
    assert receiver.confirm(batch[0].sender)
    assert receiver.source == simulator.name
    assert everything(receiver) == [], "the newcomer is the stranger now"
    assert not receiver.confirm(stranger.name)
    taken_over(receiver, simulator, stranger, clock)


def test_a_restarted_source_keeps_its_place_from_one_that_came_between(
    receiver: UdpReceiver, simulator: Sender, stranger: Sender, clock: Clock
) -> None:
    restarted = Sender(receiver.port)
    taken_over(receiver, simulator, restarted, clock)
    taken_over(receiver, restarted, stranger, clock)
    restarted.send(b"back")
    assert receiver.confirm(receiver.receive(1.0)[0].sender)
    stranger.send(b"still here")
    assert everything(receiver) == []
    assert receiver.source == restarted.name
    restarted.socket.close()


def test_claims_do_not_pile_up(receiver: UdpReceiver, simulator: Sender, clock: Clock) -> None:
    senders = [simulator, *(Sender(receiver.port) for _ in range(12))]
    for before, after in pairwise(senders):
        taken_over(receiver, before, after, clock)
    simulator.send(b"of long ago")
    assert everything(receiver) == []
    for sender in senders[1:]:
        sender.socket.close()


def taken_over(receiver: UdpReceiver, old: Sender, new: Sender, clock: Clock) -> None:
    """`old` sends, falls silent, and `new` gets the place."""
    old.send(b"old")
    assert receiver.confirm(receiver.receive(1.0)[0].sender)
    clock.now += SILENCE + 0.1
    assert receiver.receive(0.0) == []
    new.send(b"new")
    assert receiver.confirm(receiver.receive(1.0)[0].sender)
    assert receiver.source == new.name


def test_a_source_that_goes_on_sending_keeps_its_place(
    receiver: UdpReceiver, simulator: Sender, stranger: Sender, clock: Clock
) -> None:
    simulator.send(b"0.0")
    receiver.confirm(receiver.receive(1.0)[0].sender)
    for _ in range(10):
        clock.now += SILENCE / 2
        stranger.send(b"stranger")
        simulator.send(b"source")
        assert [datagram.data for datagram in everything(receiver)] == [b"source"]
    assert receiver.drops.by_cause() == {"another source": 10}


def test_a_stall_of_our_own_is_no_silence_of_the_source(
    receiver: UdpReceiver, simulator: Sender, stranger: Sender, clock: Clock
) -> None:
    simulator.send(b"before")
    receiver.confirm(receiver.receive(1.0)[0].sender)
    everything(receiver)
    stranger.send(b"in between")
    simulator.send(b"after")
    clock.now += 60.0
    assert [datagram.data for datagram in everything(receiver)] == [b"after"]
    assert receiver.source == simulator.name


def test_a_port_in_use_is_one_line_with_the_mend(receiver: UdpReceiver) -> None:
    with pytest.raises(WorkError) as caught:
        UdpReceiver(port=receiver.port)
    assert str(caught.value) == (
        f"UDP port {receiver.port} on 127.0.0.1 is in use by another program: close it, or choose another port"
    )


@pytest.mark.parametrize("port", [-1, 65_536, 10**9])
def test_a_number_that_is_no_port_is_refused(port: int) -> None:
    with pytest.raises(InputError, match="is no UDP port"):
        UdpReceiver(port=port)


@pytest.mark.parametrize("host", ["", "192.0.2.7", "a..b", "nul\0byte", "no.such.host.invalid", "x" * 300])
def test_what_is_no_address_of_ours_is_refused(host: str) -> None:
    # 192.0.2.0/24 is for documentation and .invalid never resolves: RFC 5737, RFC 6761.
    with pytest.raises(InputError, match=r"give 127\.0\.0\.1, or 0\.0\.0\.0 for every network"):
        UdpReceiver(host, 0)


def test_ipv6_senders_are_written_with_brackets() -> None:
    try:
        receiver = UdpReceiver("::1", 0)
    except (InputError, WorkError):
        pytest.skip("no IPv6 loopback on this computer")
    with receiver:
        sender = Sender(receiver.port, "::1")
        sender.send(b"six")
        assert receiver.receive(1.0)[0].sender == sender.name
        sender.socket.close()
        assert receiver.address == f"[::1]:{receiver.port}"


def test_an_ipv6_address_may_stand_in_brackets() -> None:
    try:
        receiver = UdpReceiver("[::1]", 0)
    except WorkError:
        pytest.skip("no IPv6 loopback on this computer")
    with receiver:
        assert receiver.address == f"[::1]:{receiver.port}"


@pytest.mark.parametrize("host", ["fe80::1", "[fe80::1]"])
def test_an_address_without_its_network_card_is_told_to_name_it(host: str) -> None:
    # fe80::/10 holds on one link only, and is written with % and the link: RFC 4291 section 2.5.6, RFC 4007 section 11.
    with pytest.raises(InputError, match=r"name the card behind it, such as fe80::1%eth0$"):
        UdpReceiver(host, 0)


def test_a_flood_of_strangers_does_not_keep_the_caller_waiting(receiver: UdpReceiver, simulator: Sender) -> None:
    class Flooded:
        """A socket in which much more of a stranger's waits than is taken in one go."""

        def __init__(self, real: socket.socket) -> None:
            self.real = real
            self.left = 3 * AT_ONCE

        def recvfrom_into(self, buffer: bytearray) -> tuple[int, object]:
            if not self.left:
                raise BlockingIOError
            self.left -= 1
            return 4, ("127.0.0.1", 9)

        def __getattr__(self, name: str) -> object:
            return getattr(self.real, name)

    receiver.confirm(simulator.name)
    receiver._socket = Flooded(receiver._socket)  # type: ignore[assignment]
    assert receiver.receive(0.0) == []
    assert receiver.drops.total == AT_ONCE


def test_network_errors_that_pass_are_counted(receiver: UdpReceiver, simulator: Sender) -> None:
    class Resetting:
        """A socket that reports, as Windows does, that something we sent found no port."""

        def __init__(self, real: socket.socket) -> None:
            self.real = real
            self.left = 3

        def recvfrom_into(self, buffer: bytearray) -> tuple[int, object]:
            if self.left:
                self.left -= 1
                raise ConnectionResetError(10054, "reset by peer")
            return self.real.recvfrom_into(buffer)

        def __getattr__(self, name: str) -> object:
            return getattr(self.real, name)

    receiver._socket = Resetting(receiver._socket)  # type: ignore[assignment]
    simulator.send(b"still here")
    assert [datagram.data for datagram in receiver.receive(1.0)] == [b"still here"]
    assert receiver.drops.by_cause() == {"network error": 3}


def test_the_granted_buffer_is_read_back_and_a_small_one_is_told() -> None:
    with UdpReceiver(port=0, receive_buffer=2**30) as receiver:
        assert 0 < receiver.receive_buffer < 2**30
        assert f"{receiver.receive_buffer // 1024} KiB" in str(receiver.buffer_notice)
    with UdpReceiver(port=0, receive_buffer=8192) as receiver:
        assert receiver.buffer_notice is None


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells")
def test_what_the_kernel_dropped_is_known_even_after_closing() -> None:
    with UdpReceiver(port=0, receive_buffer=8192) as receiver:
        assert receiver.kernel_drops() == 0
        sender = Sender(receiver.port)
        sender.send(*[b"x" * 1000] * 200)
        sender.socket.close()
        received = len(everything(receiver))
    assert received < 200
    assert receiver.kernel_drops() == 200 - received
    receiver.close()


def test_closing_frees_the_port() -> None:
    receiver = UdpReceiver(port=0)
    port = receiver.port
    receiver.close()
    receiver.close()
    UdpReceiver(port=port).close()
