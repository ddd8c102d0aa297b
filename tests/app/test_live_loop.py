"""The loop that owns the socket, with a made receiver and clock: what it does in a flood."""

from __future__ import annotations

import io
from itertools import pairwise

import pytest
from make_stream import Drive

from coach.app.console import Console
from coach.app.intake import Intake
from coach.app.live import ABOUT, BACKLOG, LONGEST, LiveLoop
from coach.app.stop import Stop
from coach.app.watch import Watch
from coach.vocabulary.sample import Sample
from feeds.base import Datagram
from feeds.counts import Counts
from feeds.generic import GenericFeed

WORK, TAKE = 0.0005, 0.00001
"""s that the made session needs for a sample, and the made receiver for a datagram."""


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


class Flood:
    """A receiver at which `rate` datagrams a second arrive for `seconds`; asks for the end when they are over."""

    def __init__(self, clock: Clock, stop: Stop, data: bytes, rate: float, seconds: float) -> None:
        self.drops = Counts("datagram dropped")
        self.source: str | None = None
        self._clock, self._stop, self._data, self._rate = clock, stop, data, rate
        self._began, self._until, self._given = clock.now, clock.now + seconds, 0

    def receive(self, timeout: float) -> list[Datagram]:
        if self._clock.now >= self._until:
            self._stop.asked = True
        due = int((min(self._clock.now, self._until) - self._began) * self._rate) - self._given
        if due == 0:
            self._clock.now += max(timeout, TAKE)
        self._given += due
        self._clock.now += due * TAKE
        return [Datagram(self._clock.now, self._data, "1.2.3.4:5") for _ in range(due)]

    def confirm(self, sender: str) -> bool:
        self.source = sender
        return True


class Told:
    """A session that notes when each datagram was kept and coached."""

    over = False

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self.waited: list[float] = []
        self.coached: list[float] = []

    def keep(self, datagram: Datagram) -> None:
        self.waited.append(self._clock.now - datagram.received)

    def coach(self, sample: Sample, received: float) -> None:
        self._clock.now += WORK
        self.coached.append(self._clock.now)

    def tick(self, now: float, idle: bool) -> None:
        pass


class Patient(Stop):
    def __init__(self, clock: Clock) -> None:
        super().__init__()
        self._clock = clock

    def sleep(self, seconds: float) -> None:
        self._clock.now += seconds


def flooded(data: bytes, rate: float, seconds: float) -> tuple[Told, str, LiveLoop]:
    clock, told = Clock(), io.StringIO()
    stop, session, console = Patient(clock), Told(clock), Console(told)
    receiver = Flood(clock, stop, data, rate, seconds)
    intake, watch = Intake(GenericFeed(), console.say), Watch(clock.now, "here", "generic")
    loop = LiveLoop(receiver, clock, intake, session, console, watch)  # type: ignore[arg-type]
    loop.run(stop)
    return session, told.getvalue(), loop


def test_in_a_flood_all_is_recorded_within_a_second_and_the_coach_goes_on(practice: Drive) -> None:
    """8,000 a second, of which 2,000 can be worked through, for 4 s."""
    session, told, _ = flooded(practice.datagrams()[0], 8000.0, 4.0)
    assert len(session.waited) == len(session.coached)
    assert max(session.waited) < 2 * LONGEST
    early = [t for t in session.coached if t < 104.0]
    assert len(early) > 2000 / 2, "at least half of the time is worked"
    assert max(b - a for a, b in pairwise(early)) < 2 * LONGEST
    assert "working through the" in told and "Ctrl-C again ends at once" in told


def test_what_waits_is_bounded_in_bytes_and_the_rest_is_counted(practice: Drive) -> None:
    """Datagrams of 60 kB: the bound is reached after a thousand."""
    fat = practice.datagrams()[0][:-1] + b',"padding":"' + b"x" * 60_000 + b'"}'
    session, told, _ = flooded(fat, 5000.0, 2.0)
    assert len(session.coached) * len(fat) < BACKLOG + 2.0 * len(fat) * (1 / WORK)
    assert "more came than could be worked through" in told


def test_datagrams_of_no_size_fill_no_memory_either(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("coach.app.live.BACKLOG", 100 * ABOUT)
    clock, told = Clock(), io.StringIO()
    session, console = Told(clock), Console(told)
    receiver = Flood(clock, Patient(clock), b"", 1000.0, 1.0)
    intake, watch = Intake(GenericFeed(), console.say), Watch(clock.now, "here", "generic")
    loop = LiveLoop(receiver, clock, intake, session, console, watch)  # type: ignore[arg-type]
    clock.now += 1.0
    assert loop._take(0.0) == 1000
    assert len(loop._unrecorded) == 100
    loop._record(100)
    loop._work(100)
    assert loop._bytes == 0


def test_a_short_burst_is_taken_in_before_it_is_worked_through(practice: Drive) -> None:
    session, told, _ = flooded(practice.datagrams()[0], 20_000.0, 0.1)
    assert len(session.coached) == len(session.waited) >= 1999
    assert "dropped" not in told
