"""Live: one loop owns the socket and the engine, so that nothing is polled and nothing is shared between threads."""

from __future__ import annotations

import gc
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from coach.app.console import Console
from coach.app.intake import Intake
from coach.app.presses import Asked, Presses
from coach.app.session import Session
from coach.app.stop import Stop
from coach.app.watch import Unused, Watch, way
from coach.store.recalled import Recalled
from feeds.arrival import Arrival
from feeds.base import Datagram, Feed
from feeds.counts import Counts
from feeds.udp import REFUSED, UdpReceiver

BACKLOG = 64 * 1024 * 1024
"""bytes of datagrams taken from the system and not yet worked through: minutes of the fastest stream."""
ABOUT = 256
"""bytes of memory that a datagram takes beside its own: a flood of empty ones is to fill no more than another."""
BATCH = 16
"""datagrams worked through between two looks at the socket: about a millisecond."""
RECORDED = 128
"""datagrams recorded between two looks at the socket: about three milliseconds, and more than are worked through."""
BURST = 64
"""datagrams found waiting in one look that make a burst: it is taken in before anything else is worked through."""
PAUSE = 0.005
"""s without a burst that end it. A lap that becomes the reference takes the engine 20 ms, in which a burst overruns
the system's buffer."""
LONGEST = 0.5
"""s that a burst is taken in for; then at least as long is worked, or a flood would keep the coach from its work."""
OVER = 16
"""datagrams in a pause under which the burst is over: three times what the fastest simulators send."""
RECEIVE_BUFFER = 4 * 1024 * 1024
"""bytes asked of the system: some thousand datagrams while a batch is worked through."""
WAIT = 0.1
"""s to wait for a datagram when nothing is left to do; also how late the end is noticed."""
MANY = 2_000
"""datagrams left to work through at the end that are worth a line: a second or less would not be noticed."""
TELL = 1.0
"""s between two looks at what there is to tell of drops."""
COLLECT_AFTER = 50_000
"""objects made before Python's collector of cycles looks at the youngest: samples are no cycles."""

Clock = Callable[[], float]


@dataclass(frozen=True, slots=True)
class Press:
    """A button's action, taken in at `received` (s) between two datagrams."""

    received: float
    asked: Asked


@dataclass(frozen=True, slots=True)
class Answered:
    """What the memory knew when it was asked, taken in at `received` (s) between two datagrams."""

    received: float
    recalled: Recalled


class LiveLoop:
    """Socket and buttons to session. `clock` is the receiver's own, so that silence and receive times are of one kind.

    A press has its place between the datagrams, in the recording as in the work, so that a replay says the same; so
    has what the memory answers.
    """

    def __init__(
        self,
        receiver: UdpReceiver,
        clock: Clock,
        intake: Intake,
        session: Session,
        console: Console,
        watch: Watch,
        presses: Presses | None = None,
    ) -> None:
        self._receiver = receiver
        self._clock = clock
        self._intake = intake
        self._session = session
        self._console = console
        self._watch = watch
        self._presses = presses
        self._backlog: deque[tuple[Datagram | Press | Answered, bool]] = deque()
        """to be worked through, each with whether it was recorded"""
        self._unrecorded: deque[Datagram | Press | Answered] = deque()
        """taken in after these, and not recorded yet"""
        self._has_begun = False
        """whether a sample has come"""
        self._bytes = 0
        self._overrun = Counts("datagram dropped")
        self._no_burst_before = clock()
        self._told = clock()
        self.arrival = Arrival()
        """of the source's datagrams"""

    def run(self, stop: Stop) -> None:
        """Until `stop` asks for the end; what has come by then is still worked through."""
        while not stop.asked and not self._session.over:
            came = self._take(0.0 if self._backlog else WAIT)
            if self._receiver.source is None:
                self._find_source()
            if came >= BURST:
                self._take_burst(stop)
            self._record(RECORDED)
            self._work(BATCH)
            self._tick()
        self._take(0.0)
        self._record(len(self._unrecorded))
        if len(self._backlog) >= MANY:
            self._console.say(
                f"working through the {len(self._backlog)} datagrams that came; Ctrl-C again ends at once"
            )
        self._work(len(self._backlog))
        while self._unrecorded:  # behind a press that waited for what comes before it to be kept
            self._record(len(self._unrecorded))
            self._work(len(self._backlog))
        self._tell(float("inf"))

    def _find_source(self) -> None:
        """Works through what came until one of it is good: from then on its sender is the source."""
        while self._unrecorded and self._receiver.source is None:
            self._record(1)
            self._work(len(self._backlog))

    def _take_burst(self, stop: Stop) -> None:
        """Takes a burst in whole, as the system's buffer holds less of it than comes while one lap's end is worked."""
        began = self._clock()
        if began < self._no_burst_before:
            return
        paused = False
        while not stop.asked and self._bytes < BACKLOG and self._clock() - began < LONGEST:
            came = self._take(0.0)
            self._session.tick(self._clock(), idle=False)
            if came >= BURST:
                paused = False
            elif paused and came < OVER:
                break
            else:
                stop.sleep(PAUSE)
                paused = True
        now = self._clock()
        self._no_burst_before = now + (now - began)

    def _take(self, timeout: float) -> int:
        came = self._receiver.receive(timeout)
        for datagram in came:
            if self._bytes >= BACKLOG:
                self._overrun.add("more came than could be worked through", "send fewer a second")
                continue
            self._bytes += len(datagram.data) + ABOUT
            self._unrecorded.append(datagram)
        if self._presses is not None:
            for _ in range(self._presses.qsize()):
                self._unrecorded.append(Press(self._clock(), self._presses.get()))
        return len(came)

    def _record(self, most: int) -> None:
        """The source's go to the recording soon after they came, not when their turn to be worked through comes, so
        that a kill loses no more than a second of them."""
        for _ in range(min(most, len(self._unrecorded))):
            if not isinstance(self._unrecorded[0], Datagram) and not all(kept for _, kept in self._backlog):
                return  # what came before may still be kept, and has to stand before it
            item = self._unrecorded.popleft()
            if isinstance(item, Press):
                if self._has_begun:  # else there is nothing yet that it could be about
                    self._session.keep_action(item.received, item.asked.action, item.asked.by)
                    self._backlog.append((item, True))
                continue
            if isinstance(item, Answered):
                self._session.keep_recalled(item.received, item.recalled)
                self._backlog.append((item, True))
                continue
            known = item.sender == self._receiver.source
            if known:
                self._session.keep(item)
            self._backlog.append((item, known))

    def _work(self, most: int) -> None:
        for _ in range(min(most, len(self._backlog))):
            datagram, kept = self._backlog.popleft()
            if isinstance(datagram, Press):
                self._session.act(datagram.asked.action, datagram.asked.by)
                continue
            if isinstance(datagram, Answered):
                self._session.recall(datagram.recalled)
                continue
            self._bytes -= len(datagram.data) + ABOUT
            sample = self._intake.read(datagram)
            known = sample is None or self._receiver.confirm(datagram.sender)
            if known and not kept:
                self._session.keep(datagram)
            if known and datagram.sender == self._receiver.source:
                self.arrival.take(datagram.received, None if sample is None else sample.t, len(datagram.data))
            if sample is not None and known:
                self._say(self._watch.sample(datagram.received, sample, datagram.sender))
                recalled = self._session.coach(sample, datagram.received)
                self._has_begun = True
                if recalled is not None:
                    self._unrecorded.append(Answered(self._clock(), recalled))

    def _tick(self) -> None:
        now, idle = self._clock(), not self._backlog and not self._unrecorded
        self._session.tick(now, idle)
        if idle:
            self._say(self._watch.tick(now, self._unused()))
        if now - self._told >= TELL:
            self._told = now
            self._tell(now)

    def _unused(self) -> Unused:
        unread = self._intake.dropped.total
        refused = self._receiver.drops.by_cause().get(REFUSED, 0)
        return Unused(unread, refused, self._intake.unfinished)

    def _tell(self, now: float) -> None:
        self._intake.tell(now)
        for counts in (self._receiver.drops, self._overrun):
            self._say(counts.lines(now))

    def _say(self, lines: list[str]) -> None:
        for line in lines:
            self._console.say(line)


def listen(
    name: str,
    feed: Feed,
    receiver: UdpReceiver,
    clock: Clock,
    session: Session,
    console: Console,
    stop: Stop,
    presses: Presses | None = None,
) -> int:
    """Take what comes through the session until the end is asked for; returns the number of samples that came.

    `name` is the feed's; `presses` the actions of the buttons.
    """
    intake = Intake(feed, console.say)
    with calm_collector():
        watch = Watch(clock(), receiver.address, name)
        loop = LiveLoop(receiver, clock, intake, session, console, watch, presses)
        console.say(_greeting(receiver, name))
        loop.run(stop)
    for line in way(loop.arrival.report()):
        console.say(line)
    lost = receiver.kernel_drops()
    if lost:
        console.say(f"the system dropped {lost} datagrams that came faster than they were taken")
        if receiver.buffer_notice is not None:
            console.say(receiver.buffer_notice)
    return intake.samples


def _greeting(receiver: UdpReceiver, feed: str) -> str:
    return f'listening on {receiver.address} (UDP, feed "{feed}"{receiver.open_to}); Ctrl-C ends'


@contextmanager
def calm_collector() -> Iterator[None]:
    """Leave what start-up made out of the garbage collector's rounds, and make them rarer."""
    before = gc.get_threshold()
    gc.collect()
    gc.freeze()
    gc.set_threshold(COLLECT_AFTER, *before[1:])
    try:
        yield
    finally:
        gc.set_threshold(*before)
        gc.unfreeze()
