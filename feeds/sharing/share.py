"""The driver's computer's side of a shared drive: lets those who were named follow it."""

from __future__ import annotations

import contextlib
import selectors
import socket
import threading
import time
import uuid
from collections import deque
from collections.abc import Callable, Mapping
from types import TracebackType
from typing import Any

from coach.vocabulary.actions import DRIVER
from coach.vocabulary.errors import FormatError
from feeds.addresses import host_of, written
from feeds.allowed import Allowed
from feeds.counts import Counts
from feeds.recording.lines import action_line, datagram_line, end_line, head_line, recalled_line, silence_line
from feeds.sharing.follower import SEND_BUFFER, Follower, Gone
from feeds.sharing.lines import Greeting, greeting_line, line_of, read, read_asked
from feeds.sharing.listeners import listeners

SHARE_PORT = 26764
"""TCP, our own choice: the port behind the one that telemetry comes to; another is taken where it is in use."""
MOST_FOLLOWERS = 16
"""At once: more than a home has screens."""
HELLO = 5.0
"""s in which a follower has to say that it is one."""
ALIVE = 2.0
"""s between two signs of life."""
DEAD = 10.0
"""s without a follower's sign of life after which it is gone: five of them."""
ASKS, ASKS_IN = 4, 1.0
"""All instructors together ask at most so often in so many s: more than a person can type. Counted here, as a new
connection is quickly made."""
MALFORMED = 20
"""lines that are not understood after which a follower is sent off."""
WAITING = 4 * 1024 * 1024
"""bytes of datagrams that may wait for the sharing thread: it is so far behind only where the machine stands still."""
ENDING = 1.5
"""s that the end waits for a follower of which nothing is heard to take what is left."""
LAST = 5.0
"""s that it waits for one that lives (choice): its computer may be busy, and would not learn how the drive ended."""
PACE = 0.01
"""s between two looks at what the drive has given, while anybody follows: less than a frame of the overlay. To wake
the thread for each datagram would cost the drive a call of the system, and the interpreter until it is handed on."""
_LOOK = 0.5
"""s between two looks at who is still there."""

_DATAGRAM, _LINE, _RECALLED = range(3)
_Item = tuple[int, float, bytes]
"""Which of these it is, its receive time (s), and a datagram's bytes or else a finished line."""


class Share:
    """A TCP server in a thread of its own, which the drive gives what it records, and never waits for.

    Whoever is in `readers` or `instructors` may follow from `start` on; others are sent off and counted. What waits is
    bounded for each follower: what one is too slow for is left out, and it is told how much. `tell` takes lines for a
    person, from that thread. Where all who may follow are this computer, it listens on loopback alone.
    """

    def __init__(
        self,
        name: str,
        readers: Allowed,
        instructors: Allowed,
        tell: Callable[[str], None],
        port: int = SHARE_PORT,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Bind; WorkError where the system gives no port at all."""
        self.drops = Counts("not followed")
        self.only_here = not (readers.others or instructors.others)
        self.id = uuid.uuid4().hex[:12]
        self._name = name
        self._readers, self._instructors = readers, instructors
        self._tell = tell
        self._clock = clock
        self._listeners = listeners(self.only_here, port)
        self.port: int = self._listeners[0].getsockname()[1]
        self._selector = selectors.DefaultSelector()
        self._waker, self._woken = socket.socketpair()
        for end in (self._waker, self._woken):
            end.setblocking(False)
        self._followers: list[Follower] = []
        self._lock = threading.Lock()
        self._items: list[_Item] = []
        self._size = 0
        self._left_out = 0
        self.has_begun = False
        """whether a sample has come, which the drive says: before, there is nothing that an action could be about"""
        self._asks: deque[float] = deque(maxlen=ASKS)
        self._ending: float | None = None
        """since when it is to end"""
        self._top = b""
        """the head, as each follower is given it: made once, as making it takes some hundredths of a second"""
        self._recalled = b""
        """the line of what was recalled last, for who joins later; of the sharing thread, once that runs"""
        self._hear: Callable[[str], None] = lambda action: None
        self._thread: threading.Thread | None = None

    def start(self, head: Mapping[str, Any], hear: Callable[[str], None]) -> None:
        """Let them follow; `head` is a recording's, `hear` takes the actions of instructors, from another thread."""
        self._top, self._hear = head_line(head), hear
        self._selector.register(self._woken, selectors.EVENT_READ)
        for listener in self._listeners:
            self._selector.register(listener, selectors.EVENT_READ)
        self._thread = threading.Thread(target=self._run, name="sharing", daemon=True)
        self._thread.start()

    def datagram(self, received: float, data: bytes) -> None:
        """One datagram of the source, received at s; it is only put down here, nothing is sent."""
        if not self._followers:
            return
        with self._lock:
            if self._size + len(data) > WAITING:
                self._left_out += 1
                return
            self._size += len(data)
            self._items.append((_DATAGRAM, received, data))

    def action(self, received: float, action: str, by: str = DRIVER) -> None:
        """What was pressed, at its place between the datagrams."""
        self._put(received, action_line(received, action, by))

    def recalled(self, received: float, recalled: Mapping[str, Any]) -> None:
        """What the memory knew, at its place between the datagrams; kept for those who join later."""
        line = recalled_line(received, recalled)
        with self._lock:
            self._items.append((_RECALLED, received, line))

    def silence(self, received: float) -> None:
        """The stream was called lost."""
        self._put(received, silence_line(received))

    def end(self, received: float) -> None:
        """The drive is over."""
        self._put(received, end_line(received))

    def close(self) -> None:
        """Give followers a moment to take what is left, and end; a second time does nothing."""
        if self._ending is not None:
            return
        self._ending = self._clock()
        if self._thread is not None:
            self._waker.send(b"\0")
            self._thread.join(LAST + 1.0)
        for one in (*self._listeners, self._waker, self._woken, *(follower.socket for follower in self._followers)):
            one.close()
        self._selector.close()

    def __enter__(self) -> Share:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _put(self, received: float, line: bytes) -> None:
        if not self._followers:
            return
        with self._lock:
            self._items.append((_LINE, received, line))

    def _run(self) -> None:
        try:
            self._loop()
        except Exception as error:  # in a thread, and the drive does not depend on it
            what = " ".join(f"{type(error).__name__}: {error}".split())[:200]
            self._tell(f"the drive is shared no more, {what}: please report it")
            for follower in list(self._followers):
                self._drop(follower)

    def _loop(self) -> None:
        told = alive = self._clock()
        while True:
            for key, mask in self._selector.select(PACE if self._followers else _LOOK):
                self._serve(key, mask)
            ending = self._ending  # asked before the taking: what is taken is then all there is
            self._hand_out()
            now = self._clock()
            if now - alive >= ALIVE:
                alive = now
                self._each(lambda follower: follower.tell(line_of(alive=True)), only_heard=False)
            for follower in list(self._followers):
                self._look_after(follower, now)
            if now - told >= _LOOK:
                told = now
                for line in self.drops.lines(now):
                    self._tell(line)
            if ending is not None and self._has_ended(now, ending):
                return

    def _has_ended(self, now: float, since: float) -> bool:
        """Whether the followers have taken what was left and gone, or had the time to; a connection that is closed
        before its other side has read all may lose the last of it."""
        for follower in list(self._followers):
            patience = LAST if now - follower.heard < 2.0 * ALIVE else ENDING
            if now - since >= patience:
                self._drop(follower)
            elif not follower.waits:
                with contextlib.suppress(OSError):
                    follower.socket.shutdown(socket.SHUT_WR)
        return not self._followers

    def _serve(self, key: selectors.SelectorKey, mask: int) -> None:
        if key.fileobj is self._woken:
            self._woken.recv(1)
        elif key.data is None:
            self._accept(key.fileobj)
        else:
            follower = key.data
            try:
                if mask & selectors.EVENT_READ:
                    for line in follower.receive(self._clock()):
                        self._hear_line(follower, line)
                self._send(follower)
            except Gone as why:
                self._drop(follower, str(why))

    def _accept(self, listener: Any) -> None:
        try:
            link, address = listener.accept()
        except OSError:
            return  # it left before it was let in
        link.setblocking(False)
        is_instructor = self._instructors.admits(address)
        why = None
        if not is_instructor and not self._readers.admits(address):
            host = host_of(address)
            why = f"{host} is not named: on the driver's computer, start the drive with --share-with {host}"
            self.drops.add("the computer is not named", f"{host}: to let it follow, name it with --share-with {host}")
        elif len(self._followers) >= MOST_FOLLOWERS:
            why = f"{MOST_FOLLOWERS} follow already: let one of them leave"
            self.drops.add("too many followers", f"{MOST_FOLLOWERS} at most")
        if why is not None or self._ending is not None:
            with contextlib.suppress(OSError):
                link.send(line_of(refused=why or "the drive is ending"))
            link.close()
            return
        self._set_up(link)
        follower = Follower(link, written(address), is_instructor, self._clock())
        follower.tell(greeting_line(Greeting(self.id, self._name, is_instructor, self.has_begun)))
        self._selector.register(link, selectors.EVENT_READ, follower)
        self._followers.append(follower)
        try:
            self._send(follower)
        except Gone as gone:
            self._drop(follower, str(gone))

    def _set_up(self, link: socket.socket) -> None:
        with contextlib.suppress(OSError):  # it works without
            link.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            link.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, SEND_BUFFER)

    def _hear_line(self, follower: Follower, line: bytes) -> None:
        try:
            said = read(line)
        except FormatError:
            said = {}
        if said.get("follow") is not None and not follower.is_heard:
            self._hand_out()  # what was recalled before it said so is in its beginning
            follower.begin(self._top + self._recalled)
            role = ", and may instruct" if follower.is_instructor else ""
            self._tell(f"{follower.name} follows{role}")
        elif "ask" in said:
            answer = self._asked(follower, str(said["ask"]))
            follower.tell(answer)
        elif said.get("alive") is None:
            follower.malformed += 1
            self.drops.add("a line that was not understood", f"from {follower.name}")
            follower.tell(line_of(refused="not understood"))
            if follower.malformed >= MALFORMED:
                raise Gone("it says what is not understood")

    def _asked(self, follower: Follower, text: str) -> bytes:
        if not follower.is_instructor:
            host = follower.name.rpartition(":")[0].strip("[]")
            return line_of(refused=f"the driver has not named you an instructor: --instructor {host} does")
        if not self._may_ask(self._clock()):
            return line_of(refused="too often: wait a second")
        if not self.has_begun:
            return line_of(refused="nothing has come from the simulator yet")
        try:
            action = read_asked(text)
        except FormatError as error:
            return line_of(refused=str(error))
        self._hear(action)
        return line_of(taken=action)

    def _may_ask(self, now: float) -> bool:
        """Whether nobody has asked too often lately; counts as asked."""
        often = len(self._asks) == ASKS and now - self._asks[0] < ASKS_IN
        if not often:
            self._asks.append(now)
        return not often

    def _hand_out(self) -> None:
        with self._lock:
            items, self._items = self._items, []
            self._size = 0
            missed, self._left_out = self._left_out, 0
        if not items:
            return
        now = self._clock()
        lines = [(kind, datagram_line(at, data) if kind == _DATAGRAM else data) for kind, at, data in items]

        def give(follower: Follower) -> None:
            for kind, line in lines:
                if kind == _DATAGRAM:
                    follower.give(line, now)
                elif kind == _RECALLED:
                    follower.present(line)
                else:
                    follower.tell(line)
            if missed:
                follower.tell(line_of(missed=missed))

        self._each(give)
        self._recalled = next((line for kind, line in reversed(lines) if kind == _RECALLED), self._recalled)

    def _each(self, work: Callable[[Follower], None], only_heard: bool = True) -> None:
        for follower in list(self._followers):
            if only_heard and not follower.is_heard:
                continue
            try:
                work(follower)
                self._send(follower)
            except Gone as why:
                self._drop(follower, str(why))

    def _send(self, follower: Follower) -> None:
        follower.send(self._clock())
        wanted = selectors.EVENT_READ | (selectors.EVENT_WRITE if follower.waits else 0)
        if self._selector.get_key(follower.socket).events != wanted:
            self._selector.modify(follower.socket, wanted, follower)

    def _look_after(self, follower: Follower, now: float) -> None:
        if not follower.is_heard and now - follower.came > HELLO:
            self._drop(follower, "it did not say that it follows")
        elif now - follower.heard > DEAD:
            self._drop(follower, f"no sign of life for {DEAD:.0f} s")

    def _drop(self, follower: Follower, why: str | None = None) -> None:
        if follower not in self._followers:
            return
        self._followers.remove(follower)
        self._selector.unregister(follower.socket)
        follower.socket.close()
        if why is not None and follower.is_heard:
            self._tell(f"{follower.name} follows no more: {why}")
