"""A press has its place between the datagrams: what is recorded and what is done keep one order, whoever sends."""

from __future__ import annotations

import io
import json
from dataclasses import dataclass
from queue import SimpleQueue

from hypothesis import given
from hypothesis import strategies as st

from coach.app.console import Console
from coach.app.intake import Intake
from coach.app.live import LiveLoop
from coach.app.presses import Asked
from coach.app.stop import Stop
from coach.app.watch import Watch
from coach.vocabulary.sample import Sample
from feeds.base import Datagram
from feeds.counts import Counts
from feeds.generic import GenericFeed


@dataclass
class Came:
    """What one look at the socket finds: `good` or bad datagrams of `sender`, with presses behind; `free`: the source
    was silent for so long that another may take its place."""

    sender: str
    good: list[bool]
    presses: int
    free: bool


ANY_CAME = st.builds(
    Came,
    st.sampled_from("abc"),
    st.lists(st.booleans(), max_size=5),
    st.integers(0, 2),
    st.booleans(),
)


class Receiver:
    """Gives what came, look by look, and asks for the end behind it; who is welcome, and who is confirmed, as the real
    one has it: a source that was replaced takes its place again with its next good datagram."""

    def __init__(self, came: list[Came], presses: SimpleQueue[Asked], stop: Stop) -> None:
        self.drops = Counts("datagram dropped")
        self.source: str | None = None
        self._came, self._presses, self._stop = iter(came), presses, stop
        self._number = 0
        self._claims: list[str] = []

    def receive(self, timeout: float) -> list[Datagram]:
        came = next(self._came, None)
        if came is None:
            self._stop.asked = True
            return []
        if came.sender not in (self.source, *self._claims) and came.free:
            self.source = None
        is_welcome = self.source is None or came.sender in self._claims
        datagrams = []
        for good in came.good:
            self._number += 1
            data = json.dumps({"t": float(self._number)}).encode() if good else b"bad"
            datagrams.append(Datagram(float(self._number), data, came.sender))
        for _ in range(came.presses):
            self._number += 1
            self._presses.put(Asked(f"press {self._number}"))
        return datagrams if is_welcome else []

    def confirm(self, sender: str) -> bool:
        if self.source == sender:
            return True
        if sender in self._claims:
            del self._claims[self._claims.index(sender) + 1 :]
        elif self.source is None:
            self._claims.append(sender)
        else:
            return False
        self.source = sender
        return True


class Noted:
    """A session that notes what is recorded, and what is done."""

    over = False

    def __init__(self) -> None:
        self.kept: list[str] = []
        self.done: list[str] = []

    def keep(self, datagram: Datagram) -> None:
        if datagram.data != b"bad":
            self.kept.append(f"sample {json.loads(datagram.data)['t']:.0f}")

    def keep_action(self, received: float, action: str, by: str) -> None:
        self.kept.append(action)

    def coach(self, sample: Sample, received: float) -> None:
        self.done.append(f"sample {sample.t:.0f}")

    def act(self, action: str, by: str) -> None:
        self.done.append(action)

    def tick(self, now: float, idle: bool) -> None:
        pass


def driven(came: list[Came]) -> Noted:
    stop, presses, session = Stop(), SimpleQueue[Asked](), Noted()
    receiver, console = Receiver(came, presses, stop), Console(io.StringIO())
    intake, watch = Intake(GenericFeed(), console.say), Watch(0.0, "here", "generic")
    loop = LiveLoop(receiver, lambda: 0.0, intake, session, console, watch, presses)  # type: ignore[arg-type]
    loop.run(stop)
    return session


@given(st.lists(ANY_CAME, max_size=12))
def test_what_is_recorded_and_what_is_done_are_in_one_order(came: list[Came]) -> None:
    session = driven(came)
    assert session.kept == session.done
    numbers = [int(what.split()[1]) for what in session.done]
    assert numbers == sorted(numbers), "each in the order in which it came"
    first = next((number for what, number in zip(session.done, numbers, strict=True) if what[0] == "s"), None)
    pressed = sum(look.presses for look in came)
    done = sum(what[0] == "p" for what in session.done)
    if first is None:
        assert done == 0, "before the first sample there is nothing that a press could be about"
        return
    assert numbers[0] == first
    before, number = 0, 0
    for look in came:
        number += len(look.good)
        before += sum(number + index < first for index in range(1, look.presses + 1))
        number += look.presses
    assert done == pressed - before, "no other press is lost"


def test_a_press_in_an_idle_loop_is_done_without_a_datagram() -> None:
    session = driven([Came("a", [True], 0, False), Came("a", [], 1, False)])
    assert session.done == ["sample 1", "press 2"]


def test_a_press_waits_for_what_may_still_be_kept_before_it() -> None:
    """The datagrams of a source that takes its place back are kept when they have been found good."""
    came = [Came("a", [True], 0, False), Came("b", [True], 0, True), Came("a", [False, True], 1, False)]
    session = driven([*came, Came("a", [True], 0, False)])
    assert session.kept == session.done == ["sample 1", "sample 2", "sample 4", "press 5", "sample 6"]


def test_at_the_end_what_waits_behind_such_a_press_is_done_too() -> None:
    """More came in one look than is worked through in the next two."""
    came = [Came("a", [True], 0, False), Came("b", [True], 0, True), Came("a", [True] * 40, 1, False)]
    session = driven(came)
    assert session.kept == session.done and session.done[-1] == "press 43"
