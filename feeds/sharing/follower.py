"""One follower of a shared drive, as the driver's computer sees it: what waits to be sent to it, what it asks."""

from __future__ import annotations

import socket
from collections import deque

from feeds.sharing.lines import LONGEST_ASKED, line_of

BEHIND = 1024 * 1024
"""bytes of datagrams that may wait for one follower: ten seconds of a fast stream. Then they are left out, as a live
stream that is late is worth nothing."""
BESIDE = 64 * 1024
"""bytes of all else that may wait for one: whoever asks and does not read the answers is sent off."""
SEND_BUFFER = 256 * 1024
"""bytes asked of the system for what is on its way, so that little of it is stale when a follower reads again."""
STUCK = 10.0
"""s in which a follower that is too far behind has read nothing: it is gone."""
SAYS, SAYS_IN = 100, 1.0
"""lines at most in so many s (choice): what is asked for is pasted at most. To read a flood of them would take the
interpreter from the drive."""
_PIECE = 4096
_SENT_AT_ONCE = 64 * 1024


class Gone(Exception):
    """The follower is no longer there, or is sent off; the message says why."""


class Follower:
    """`name`: its address, for a person; the socket is non-blocking. Used by one thread. `now` is s of any clock."""

    def __init__(self, link: socket.socket, name: str, is_instructor: bool, now: float) -> None:
        self.socket = link
        self.name = name
        self.is_instructor = is_instructor
        self.is_heard = False
        """whether it has said what it is, and is given the stream"""
        self.came = self.heard = now
        self.malformed = 0
        self._waiting: deque[tuple[bytes, bool]] = deque()
        """lines, each with whether it may be left out"""
        self._sent = 0
        """bytes of the first that are gone"""
        self._stream = self._beside = 0
        """bytes that wait"""
        self._moved = now
        self._partial = b""
        self._said, self._since = 0, now

    @property
    def waits(self) -> bool:
        """Whether something is to be sent."""
        return bool(self._waiting)

    def begin(self, lines: bytes) -> None:
        """Give it what the stream begins with, of any size."""
        self.present(lines)
        self.is_heard = True

    def present(self, lines: bytes) -> None:
        """Give it something of any size that is never left out; the driver's computer alone decides how often."""
        self._waiting.append((lines, False))

    def give(self, line: bytes, now: float) -> None:
        """Give it a line of the stream; where too much waits, that is left out. Raises Gone."""
        if self._stream + len(line) > BEHIND:
            if now - self._moved > STUCK:
                raise Gone("it reads no more")
            self._leave_out()
        self._waiting.append((line, True))
        self._stream += len(line)

    def tell(self, line: bytes) -> None:
        """Give it a line that is never left out. Raises Gone."""
        if self._beside + len(line) > BESIDE:
            raise Gone("it asks and does not read the answers")
        self._waiting.append((line, False))
        self._beside += len(line)

    def send(self, now: float) -> None:
        """Send what the system takes now. Raises Gone."""
        while self._waiting:
            line, may_be_left_out = self._waiting[0]
            try:
                sent = self.socket.send(memoryview(line)[self._sent : self._sent + _SENT_AT_ONCE])
            except (BlockingIOError, InterruptedError):
                return
            except ConnectionError:  # it closed with something unread: a reset
                raise Gone("it left") from None
            except OSError as error:
                raise Gone(error.strerror or "the connection broke") from None
            self._moved = now
            self._sent += sent
            if self._sent == len(line):
                self._waiting.popleft()
                self._sent = 0
                self._forget(line, may_be_left_out)

    def receive(self, now: float) -> list[bytes]:
        """The lines that came. Raises Gone."""
        try:
            data = self.socket.recv(_PIECE)
        except (BlockingIOError, InterruptedError):
            return []
        except ConnectionError:
            raise Gone("it left") from None
        except OSError as error:
            raise Gone(error.strerror or "the connection broke") from None
        if not data:
            raise Gone("it left")
        self.heard = now
        *lines, self._partial = (self._partial + data).split(b"\n")
        if len(self._partial) > LONGEST_ASKED or any(len(line) > LONGEST_ASKED for line in lines):
            raise Gone("what it said was too long")
        if now - self._since >= SAYS_IN:
            self._said, self._since = 0, now
        self._said += len(lines)
        if self._said > SAYS:
            raise Gone("it says too much")
        return [line for line in lines if line.strip()]

    def _leave_out(self) -> None:
        """All datagrams that wait, but for one that is half sent."""
        first = self._waiting.popleft() if self._sent else None
        kept = [(line, False) for line, may_be_left_out in self._waiting if not may_be_left_out]
        missed = len(self._waiting) - len(kept)
        self._waiting.clear()
        self._stream = 0
        if first is not None:
            self._waiting.append(first)
            self._stream = len(first[0]) if first[1] else 0
        self.tell(line_of(missed=missed))
        self._waiting.extend(kept)

    def _forget(self, line: bytes, may_be_left_out: bool) -> None:
        if may_be_left_out:
            self._stream -= len(line)
        else:
            self._beside = max(self._beside - len(line), 0)  # what was presented was not counted
