"""Follows a shared drive: what the driver's computer says goes through a session of our own, as there."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from time import perf_counter

from coach.app.console import Console, plain
from coach.app.intake import Intake
from coach.app.live import calm_collector
from coach.app.session import Session
from coach.app.stop import Stop
from coach.vocabulary.errors import CornerwordError
from coach.vocabulary.sample import Sample
from feeds.base import Datagram
from feeds.clock import steady_wall_clock
from feeds.recording import ActionLine, EndLine, RecalledLine, SilenceLine
from feeds.sharing import Answer, Following, Lost, Missed
from feeds.sharing.follow import Heard

WAIT = 0.1
"""s to wait for a line when there is nothing to do; also how late the end is noticed."""
TELL = 1.0
"""s between two looks at what there is to tell."""
AGAIN = 2.0
"""s between two tries to connect again."""
PATIENCE = 1.5
"""s that such a try waits for each answer: the end may have to wait for it."""
SHOWN = 200
"""characters of what the other computer answers that are shown."""

Place = tuple[str, int]
"""An address and a port."""


class TheirClock:
    """The driver's receive clock, as near as what is heard of it tells; until then, this computer's own (s)."""

    def __init__(self) -> None:
        self._own = steady_wall_clock()
        self._received: float | None = None
        self._at = 0.0
        self._stands = False

    def hear(self, received: float) -> None:
        """Something came that was received there at s."""
        self._received, self._at = received, perf_counter()

    def end(self, received: float) -> None:
        """The drive was over at `received` s: it goes no further."""
        self._received, self._stands = received, True

    def __call__(self) -> float:
        if self._received is None:
            return self._own()
        return self._received if self._stands else self._received + (perf_counter() - self._at)


class Link:
    """The connection to a drive that may be reached at `places`, made again where it breaks; `say` takes lines for a
    person. WorkError where there is none at first."""

    def __init__(self, places: Sequence[Place], say: Callable[[str], None]) -> None:
        self._places, self._say = places, say
        self.now: Following = self._first()
        self.is_connected = True
        self.is_other = False
        """whether it is another drive that has begun there"""
        self._tried = 0.0

    def receive(self, timeout: float, stop: Stop) -> list[Heard]:
        """What came, or what comes first within `timeout` (s); nothing while there is no connection."""
        if not self.is_connected and not self._again(timeout, stop):
            return []
        try:
            return self.now.receive(timeout)
        except Lost as error:
            self.now.close()
            self.is_connected = False
            self._tried = perf_counter()
            self._say(f"{error}; trying to connect again, Ctrl-C ends")
            return []

    def ask(self, action: str) -> None:
        """Ask for an action, as an instructor; from any thread."""
        try:
            self.now.ask(action)
        except Lost as error:
            self._say(f"not asked for: {error}")

    def close(self) -> None:
        """Leave."""
        self.now.close()

    def _first(self) -> Following:
        wrong: CornerwordError | None = None
        for address, port in self._places:
            try:
                return Following(address, port)
            except CornerwordError as error:
                wrong = error if wrong is None else wrong  # of the first, which is the best
        assert wrong is not None, "a drive has an address"
        raise wrong

    def _again(self, timeout: float, stop: Stop) -> bool:
        if perf_counter() - self._tried < AGAIN:
            stop.sleep(timeout)
            return False
        self._tried = perf_counter()
        address, port = self._places[0]
        self._places = [*self._places[1:], self._places[0]]  # the next try is another's turn
        try:
            new = Following(address, port, PATIENCE)
        except CornerwordError:
            return False  # told once that it is gone; it may come back at any time
        if new.id != self.now.id:
            new.close()
            self.is_other = True
            return False
        self.now = new
        self.is_connected = True
        self._say(f"connected again to {new.where}: what was driven and pressed meanwhile is missing here")
        return True


class FollowLoop:
    """What the link gives, to the session, in the driver's order and with the driver's receive times."""

    def __init__(self, link: Link, clock: TheirClock, intake: Intake, session: Session, console: Console) -> None:
        self._link, self._clock, self._intake = link, clock, intake
        self._session, self._console = session, console
        self._missed = 0
        self._has_ended = self._has_begun = False
        self._told = perf_counter()

    def run(self, stop: Stop) -> None:
        """Until the drive is over, another one has begun in its place, or `stop` asks for the end."""
        with calm_collector():
            while not (stop.asked or self._has_ended or self._link.is_other):
                for heard in self._link.receive(WAIT, stop):
                    self._take(heard)
                if not self._has_ended:
                    # Only they can tell that their source is silent; without a connection we can.
                    self._session.tick(self._clock(), idle=not self._link.is_connected)
                if perf_counter() - self._told >= TELL:
                    self._tell(perf_counter())
        self._tell(float("inf"))
        if self._has_ended:
            self._link.close()  # the driver's computer waits for it
            self._console.say("the drive is over")
        elif self._link.is_other:
            self._console.say("another drive has begun there: follow it anew")

    def _take(self, heard: Heard) -> None:
        session = self._session
        if isinstance(heard, Datagram):
            self._clock.hear(heard.received)
            session.keep(heard)
            sample = self._intake.read(heard)
            if sample is not None:
                self._greet(sample)
                session.coach(sample, heard.received)
        elif isinstance(heard, ActionLine):
            session.keep_action(heard.received, heard.action, heard.by)
            session.act(heard.action, heard.by)
        elif isinstance(heard, RecalledLine):
            recalled = self._intake.recalled(heard.recalled)
            if recalled is not None:
                session.keep_recalled(heard.received, recalled)
                session.recall(recalled)
        elif isinstance(heard, SilenceLine):
            session.tick(heard.received, idle=True)
        elif isinstance(heard, EndLine):
            self._clock.end(heard.received)
            self._has_ended = True
        elif isinstance(heard, Missed):
            self._missed += heard.number
        elif isinstance(heard, Answer):
            what = "done" if heard.taken else "refused"
            self._console.say(f"{what}: {plain(heard.text, SHOWN)}")

    def _greet(self, sample: Sample) -> None:
        if self._has_begun:
            return
        self._has_begun = True
        track = "a track without a name" if sample.track is None else plain(sample.track)
        car = "a car without a name" if sample.car is None else plain(sample.car)
        self._console.say(f"telemetry of {plain(self._link.now.name)}: {track}, {car}")

    def _tell(self, now: float) -> None:
        self._told = now
        self._intake.tell(now)
        for line in self._link.now.drops.lines(now):
            self._console.say(line)
        if self._missed:
            self._console.say(f"{self._missed} datagrams were left out: this computer, or the network, was too slow")
            self._missed = 0
