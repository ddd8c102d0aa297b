"""The steps that a driver is led through while unknown packets come: what is asked, and when it counts as done.

Pure: packets and times in, lines to say out. Nobody has to touch a keyboard: a step is done when bytes moved as asked
and then came to rest.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from statistics import median

from coach.app.deciphering.motion import WINDOW, Activity, Kinds, Motion
from feeds.base import Datagram

STILL, DRIVE = "still", "drive"
"""The first step and the last, which end by rules of their own."""
CALM = 0.3
"""share of what moved at most in a step under which it counts as over: what warms up goes on for long (choice)."""
EVIDENCE = 2
"""windows, times bytes in each, that have to have run (choice)."""
HELD = 1.5
"""times its rest that a step lasts at least while something is held away from where it was (choice)."""
REST = 4.0
"""s of standing still that are kept as how the bytes are at rest (choice)."""
ALIKE = 1.3
"""times what moved least: as much may move in a window at rest (choice)."""
DRIVEN = 30.0
"""s of movement that make a drive, and not a few metres out of the pit (choice)."""
STANDING = 7.0
"""s of standing behind a drive that end it: longer than most stand who have spun (choice)."""
STOPPED = 3.0
"""s without a packet behind a drive that end it too: the driver has left the car, or paused (choice)."""


@dataclass(frozen=True, slots=True)
class Ask:
    """One step. `words` are read, `spoken` heard; `settle` s of rest end it, `limit` s in any case."""

    name: str
    words: str
    spoken: str
    settle: float = 2.0
    limit: float = 25.0


ASKS = (
    Ask(
        STILL,
        "stand still with the engine running: neutral, no pedal, the wheel straight and at rest",
        "Stand still, in neutral. Touch nothing.",
        limit=30.0,
    ),
    Ask(
        "rev", "in neutral, press the throttle fully and let it go, twice in a row", "Press the throttle fully, twice."
    ),
    Ask("brake", "press the brake fully and let it go, twice in a row", "Press the brake fully, twice."),
    Ask(
        "clutch",
        "press the clutch fully and let it go, twice in a row; without a clutch pedal do nothing",
        "Press the clutch fully, twice. Without one, wait.",
        limit=14.0,
    ),
    Ask("left", "turn the wheel left to its stop, and back to straight", "Turn the wheel fully left, and back."),
    Ask("right", "turn the wheel right to its stop, and back to straight", "Turn the wheel fully right, and back."),
    Ask(
        "gears",
        "hold clutch or brake and go up through all gears, then back to neutral; if none goes in, do nothing",
        "Go up through the gears, and back to neutral. If it does not work, wait.",
        settle=3.0,
        limit=30.0,
    ),
    Ask(
        DRIVE,
        "drive off, go once round the whole circuit and past the line, then stop and stand for ten seconds",
        "Now drive one whole lap, and on past the line. Then stop, and stand still.",
        limit=900.0,
    ),
)
"""The steps in their order. Limits and rests are choices: a press takes a second, and being told three."""


@dataclass(frozen=True, slots=True)
class Done:
    """A step that is over; `seen`: bytes moved as asked. `begins` and `ends`: s, as receive times."""

    ask: Ask
    begins: float
    ends: float
    seen: bool


class Guide:
    """Leads through `asks`. `asking` is the step that runs, None when all are over; `done` holds those that are."""

    def __init__(self, now: float, asks: tuple[Ask, ...] = ASKS) -> None:
        self.done: list[Done] = []
        self._asks = asks
        self._next = 0
        self._motion = Motion(Kinds(), now)
        self._kept: deque[Datagram] = deque()
        self._step = self._begun(now)

    @property
    def asking(self) -> Ask | None:
        """What is asked now."""
        return self._asks[self._next] if self._next < len(self._asks) else None

    @property
    def number(self) -> int:
        """Of the step that runs, from 1."""
        return self._next + 1

    def take(self, packet: Datagram) -> Done | None:
        """A packet came; returns the step that is over with it, if one is."""
        if self.asking is None:
            return None
        if self._is_still:
            self._kept.append(packet)
            while packet.received - self._kept[0].received > REST:
                self._kept.popleft()
        return self._looked(self._motion.take(packet), packet.received)

    def tick(self, now: float) -> Done | None:
        """It is `now` (s, as the receive times) and all that came was taken; returns the step that is over."""
        if self.asking is None:
            return None
        return self._looked(self._motion.tick(now), now)

    def skip(self, now: float) -> Done | None:
        """The driver says that this step is over; returns it."""
        return None if self.asking is None else self._over(now, self._step.is_seen)

    def again(self, now: float) -> None:
        """The step that runs begins once more: what moved in it so far is not it."""
        if self.asking is not None:
            self._step = self._begun(now)

    @property
    def _is_still(self) -> bool:
        return self.asking is not None and self.asking.name == STILL

    def _begun(self, now: float) -> _Still | _Moving | _Driving:
        ask = self.asking
        if ask is None or ask.name == STILL:
            return _Still(now)
        return _Driving(now) if ask.name == DRIVE else _Moving(now, ask.settle)

    def _looked(self, ended: list[Activity], now: float) -> Done | None:
        ask, step = self.asking, self._step
        if ask is None:
            return None
        for activity in ended:
            step.look(activity)
        if step.is_over(now):
            return self._over(now, step.is_seen)
        return self._over(now, step.is_seen) if now - step.begins >= ask.limit else None

    def _over(self, now: float, seen: bool) -> Done:
        ask, step = self._asks[self._next], self._step
        begins = max(step.begins, now - REST) if ask.name == STILL else step.begins
        done = Done(ask, begins, now, seen)
        if ask.name == STILL:
            self._learn(now)
        elif step.is_over(now):
            self._motion.rest(2)  # what has begun to drift meanwhile is at rest as well
        self._motion.mark()
        self.done.append(done)
        self._next += 1
        self._step = self._begun(now)
        self._motion.absorbs = not isinstance(self._step, _Driving)  # where all moves for long, and is meant to
        return done

    def _learn(self, now: float) -> None:
        """What stood still is how the bytes are at rest, by the kinds of packet that it shows."""
        packets = list(self._kept)
        self._kept.clear()
        self._motion = Motion(Kinds.of(packets), packets[0].received if packets else now)
        for packet in packets:
            self._motion.take(packet)
        self._motion.tick(now)
        self._motion.rest(round(REST / WINDOW))


class _Still:
    """Over when, for as long as is kept, no more moved than at the least."""

    is_seen = True

    def __init__(self, begins: float) -> None:
        self.begins = begins
        self._strengths: list[int] = []

    def look(self, activity: Activity) -> None:
        if activity.packets:
            self._strengths.append(activity.run)

    def is_over(self, now: float) -> bool:
        rest = round(REST / WINDOW)
        if len(self._strengths) < rest + 2:  # the first second is still the driver's to let go
            return False
        return max(self._strengths[-rest:]) <= ALIKE * min(self._strengths) + EVIDENCE


class _Moving:
    """Over when something has moved and come to rest. Where bytes ran, those that only came back say nothing."""

    def __init__(self, begins: float, settle: float) -> None:
        self.begins = begins
        self._settle = settle
        self._ran = self._came = 0
        self._most = 0
        self._last_run = self._last_come = begins
        self._is_away = False

    @property
    def is_seen(self) -> bool:
        return self._ran >= EVIDENCE or self._came > 0

    def look(self, activity: Activity) -> None:
        self._ran += activity.run
        self._came += activity.come
        self._most = max(self._most, activity.run)
        if activity.run > max(CALM * self._most - 1.0, 0.0):  # of a few bytes each counts
            self._last_run = activity.until
        if activity.come:
            self._last_come = activity.until
        self._is_away = activity.away > 0

    def is_over(self, now: float) -> bool:
        last = self._last_run if self._ran >= EVIDENCE else self._last_come
        return self.is_seen and now - last >= self._settle * (HELD if self._is_away else 1.0)


class _Driving:
    """Over when the car has driven for a while, and then stands or nothing comes."""

    def __init__(self, begins: float) -> None:
        self.begins = begins
        self._strengths: list[int] = []
        self._last = self._heard = begins

    @property
    def is_seen(self) -> bool:
        return len(self._strengths) * WINDOW >= DRIVEN

    def look(self, activity: Activity) -> None:
        if activity.packets:
            self._heard = activity.until
        usual = median(self._strengths) if self._strengths else 0.0
        if activity.run > max(CALM * usual, EVIDENCE):
            self._strengths.append(activity.run)
            self._last = activity.until

    def is_over(self, now: float) -> bool:
        return self.is_seen and (now - self._last >= STANDING or now - self._heard >= STOPPED)
