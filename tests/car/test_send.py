"""Sending: what goes over a real socket, at which pace, and when it ends."""

from __future__ import annotations

import json
import socket
import time
from collections.abc import Callable, Iterator

import numpy as np
import pytest

from coach.vocabulary.errors import WorkError
from feeds.car import send as module
from feeds.car.drive import Row
from feeds.car.send import LATE, encode, send


class Clock:
    """Stands in for `time`: it moves by what is slept, which lasts `late` s too long, and by what the test adds."""

    def __init__(self, late: float = 0.0) -> None:
        self.now, self.late = 1000.0, late

    def perf_counter(self) -> float:
        return self.now

    def sleep(self, seconds: float) -> None:
        assert seconds > 0.0
        self.now += seconds + self.late


def never() -> bool:
    return False


def rows(count: int, rate: float = 50.0, first: float = 0.0) -> Iterator[Row]:
    for i in range(count):
        yield {"t": round(first + i / rate, 6), "x": 0.1 * i}


@pytest.fixture
def listener() -> Iterator[socket.socket]:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        one.bind(("127.0.0.1", 0))
        one.settimeout(5.0)
        yield one


def moments(monkeypatch: pytest.MonkeyPatch, clock: Clock, made: Iterator[Row], pace: float | None) -> list[float]:
    """s of the stand-in clock, since the beginning, at which each row went."""
    out: list[float] = []
    monkeypatch.setattr(module, "time", clock)
    began = clock.now

    def asked() -> bool:
        out.append(clock.now - began)  # it is asked right before a row goes
        return False

    send(made, ("127.0.0.1", 9), pace, asked)
    return out


def test_each_row_is_one_datagram_and_all_arrive_in_order(listener: socket.socket) -> None:
    made = list(rows(60))
    assert send(iter(made), listener.getsockname(), None, never) == 60
    got = [listener.recv(65536) for _ in made]
    assert got == [encode(row) for row in made]
    assert [json.loads(data) for data in got] == made


def test_a_datagram_is_short_and_holds_no_number_that_json_lacks() -> None:
    assert encode({"t": 1.5, "gear": 2, "lap_time": None}) == b'{"t":1.5,"gear":2,"lap_time":null}'
    with pytest.raises(ValueError, match="JSON"):
        encode({"t": float("nan")})


@pytest.mark.parametrize("pace", [1.0, 4.0])
def test_over_a_real_socket_a_drive_takes_its_time_over_the_pace(listener: socket.socket, pace: float) -> None:
    """Each datagram comes no sooner than its time; where the machine holds the sender up, it hurries."""
    count, rate = 60, 50.0 * pace
    send_times = []

    def asked() -> bool:
        send_times.append(time.perf_counter())
        return False

    # t runs `pace` times as fast as the second hand, so both last as long
    send(rows(count, rate / pace), listener.getsockname(), pace, asked)
    due = np.arange(count) / rate
    gone = np.array(send_times) - send_times[0]
    assert np.all(gone >= due - 2e-3)
    # the median datagram is on its time even where some are late
    assert np.median(gone - due) < 0.25
    assert len([listener.recv(65536) for _ in range(count)]) == count


@pytest.mark.parametrize("pace", [0.5, 1.0, 3.0])
def test_the_pace_is_a_ratio(monkeypatch: pytest.MonkeyPatch, pace: float) -> None:
    out = moments(monkeypatch, Clock(), rows(101, 50.0), pace)
    assert out == pytest.approx([i / 50.0 / pace for i in range(101)])


def test_the_first_row_goes_at_once_whatever_its_time(monkeypatch: pytest.MonkeyPatch) -> None:
    assert moments(monkeypatch, Clock(), rows(3, 10.0, first=500.0), 1.0) == pytest.approx([0.0, 0.1, 0.2])


def test_oversleeping_does_not_add_up(monkeypatch: pytest.MonkeyPatch) -> None:
    out = moments(monkeypatch, Clock(late=0.004), rows(500, 50.0), 1.0)
    assert max(moment - i / 50.0 for i, moment in enumerate(out)) <= 0.004 + 1e-9


def test_without_a_pace_nothing_is_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    assert moments(monkeypatch, Clock(), rows(100), None) == [0.0] * 100


@pytest.mark.parametrize(("held", "later"), [(0.8 * LATE, 0.0), (4.0 * LATE, 4.0 * LATE)])
def test_a_sender_held_up_hurries_or_lets_the_time_go(
    monkeypatch: pytest.MonkeyPatch, held: float, later: float
) -> None:
    """A short hold is made good; a machine that slept does not fire off all it missed."""
    clock = Clock()

    def stalls() -> Iterator[Row]:
        for i, row in enumerate(rows(100, 50.0)):
            if i == 30:
                clock.now += held
            yield row

    out = moments(monkeypatch, clock, stalls(), 1.0)
    # the row before the hold went at its time, so the next was due 0.02 s on
    gone = later - 0.02 if later else 0.0
    assert out[-1] == pytest.approx(99 / 50.0 + gone)
    assert out[30] == pytest.approx(29 / 50.0 + held)


def test_it_ends_when_it_is_told_to(listener: socket.socket) -> None:
    def after(count: int) -> Callable[[], bool]:
        left = [count]

        def asked() -> bool:
            left[0] -= 1
            return left[0] < 0

        return asked

    drawn = []

    def watched() -> Iterator[Row]:
        for row in rows(1000):
            drawn.append(row)
            yield row

    assert send(watched(), listener.getsockname(), None, after(7)) == 7
    assert len(drawn) == 8


def test_nobody_listening_is_no_failure() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        one.bind(("127.0.0.1", 0))
        free = one.getsockname()
    assert send(rows(20), free, None, never) == 20


def test_what_cannot_be_sent_is_one_line() -> None:
    large = {"t": 0.0, "driver": "x" * 70_000}  # more than a datagram holds
    with pytest.raises(WorkError, match=r"127\.0\.0\.1 port 9: cannot be sent to \("):
        send(iter([large]), ("127.0.0.1", 9), None, never)


def test_an_address_of_six_is_of_the_other_family() -> None:
    try:
        one = socket.socket(socket.AF_INET6, socket.SOCK_DGRAM)
        one.bind(("::1", 0))
    except OSError:
        pytest.skip("no IPv6 here")
    with one:
        one.settimeout(5.0)
        assert send(rows(1), ("::1", one.getsockname()[1]), None, never) == 1
        assert json.loads(one.recv(65536))["t"] == 0.0
