"""A shared drive over real loopback sockets: what is given arrives, and nobody who follows can hold it up."""

from __future__ import annotations

import contextlib
import json
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from functools import partial
from typing import Any

import pytest

from coach.vocabulary.actions import INSTRUCTORS
from coach.vocabulary.errors import CornerwordError, FormatError, InputError, WorkError
from coach.vocabulary.faults import FAULTS
from feeds.allowed import Allowed
from feeds.base import Datagram
from feeds.recording import ActionLine, EndLine, RecalledLine, SilenceLine
from feeds.recording.lines import head_line
from feeds.sharing import Answer, Following, Lost, Missed, Share
from feeds.sharing.follow import Heard
from feeds.sharing.follower import BEHIND, BESIDE, SAYS, STUCK, Follower, Gone
from feeds.sharing.lines import LONGEST_ASKED, Greeting, greeting_line, line_of, read_aside, read_asked, read_greeting
from feeds.sharing.share import ASKS, DEAD, ENDING, HELLO, MALFORMED, MOST_FOLLOWERS, WAITING

HEAD = {"source": "generic", "layout": None, "engine": {"reference": [1.5] * 100}, "planner": None}
SOON = 5.0
"""s that a test waits at most for what takes milliseconds."""


class Clock:
    """A clock that the test may put forward."""

    def __init__(self) -> None:
        self.ahead = 0.0

    def __call__(self) -> float:
        return time.monotonic() + self.ahead


class Driven:
    """A share, what it told and what instructors asked for."""

    def __init__(self, share: Share, clock: Clock) -> None:
        self.share, self.clock = share, clock
        self.told: list[str] = []
        self.asked: list[str] = []

    def knows(self, number: int) -> None:
        """Wait until so many follow."""
        wait(lambda: sum(one.is_heard for one in self.share._followers) == number)


@contextmanager
def driven(readers: tuple[str, ...] = ("127.0.0.1",), instructors: tuple[str, ...] = ()) -> Iterator[Driven]:
    told: list[str] = []
    clock = Clock()
    made = Share("desk", Allowed(readers, "--share-with"), Allowed(instructors, "--instructor"), told.append, 0, clock)
    with made:
        drive = Driven(made, clock)
        drive.told = told
        made.start(HEAD, drive.asked.append)
        yield drive


def wait(until: Callable[[], bool]) -> None:
    end = time.monotonic() + SOON
    while not until():
        assert time.monotonic() < end, "it does not come"
        time.sleep(0.002)


def heard(following: Following, number: int) -> list[Heard]:
    """The next so many things."""
    found: list[Heard] = []
    end = time.monotonic() + SOON
    while len(found) < number and time.monotonic() < end:
        found += following.receive(0.05)
    return found


def raw(share: Share) -> socket.socket:
    """A follower of the test's own, that has read the greeting."""
    link = socket.create_connection(("127.0.0.1", share.port), SOON)
    line = b""
    while not line.endswith(b"\n"):
        line += link.recv(1)
    assert "share" in json.loads(line)
    return link


def reads(link: socket.socket, ends: bytes) -> bytes:
    data = b""
    while not data.endswith(ends):
        piece = link.recv(65536)
        if not piece:
            break
        data += piece
    return data


@pytest.mark.parametrize("host", ["127.0.0.1", "::1"])
def test_what_is_given_arrives_whole_and_in_order(host: str) -> None:
    with driven() as drive:
        try:
            following = Following(host, drive.share.port)
        except WorkError:
            if host == "::1":
                pytest.skip("no IPv6 loopback on this computer")
            raise
        with following:
            assert (following.name, following.id, following.is_instructor) == ("desk", drive.share.id, False)
            assert {key: following.head[key] for key in HEAD} == HEAD
            drive.knows(1)
            share = drive.share
            share.datagram(1.25, b'{"t": 1}')
            share.action(1.5, "mark")
            share.datagram(1.75, bytes(range(256)))
            share.action(2.0, "topic late_throttle", "instructor")
            share.silence(5.0)
            share.end(6.0)
            assert heard(following, 6) == [
                Datagram(1.25, b'{"t": 1}'),
                ActionLine(1.5, "mark"),
                Datagram(1.75, bytes(range(256))),
                ActionLine(2.0, "topic late_throttle", "instructor"),
                SilenceLine(5.0),
                EndLine(6.0),
            ]


def test_all_who_follow_get_the_same_from_where_they_came_in() -> None:
    with driven() as drive, ExitStack() as opened:
        first = opened.enter_context(Following("127.0.0.1", drive.share.port))
        drive.knows(1)
        drive.share.datagram(1.0, b"a")
        assert heard(first, 1) == [Datagram(1.0, b"a")]
        second = opened.enter_context(Following("127.0.0.1", drive.share.port))
        drive.knows(2)
        drive.share.datagram(2.0, b"b")
        assert heard(first, 1) == heard(second, 1) == [Datagram(2.0, b"b")]


RECALLED = {"known": {"reference": [0.125] * 200_000}, "stage": None}
"""More than may wait of anything else: a lap with its channels."""


def test_what_was_recalled_is_given_whole_and_to_who_joins_later_behind_the_head() -> None:
    with driven() as drive, ExitStack() as opened:
        drive.share.recalled(0.5, {"known": None})
        first = opened.enter_context(Following("127.0.0.1", drive.share.port))
        drive.knows(1)
        drive.share.datagram(1.0, b"a")
        drive.share.recalled(1.5, RECALLED)
        drive.share.datagram(2.0, b"b")
        assert heard(first, 4) == [
            RecalledLine(0.5, {"known": None}),
            Datagram(1.0, b"a"),
            RecalledLine(1.5, RECALLED),
            Datagram(2.0, b"b"),
        ]
        second = opened.enter_context(Following("127.0.0.1", drive.share.port))
        drive.knows(2)
        drive.share.datagram(3.0, b"c")
        assert heard(second, 2) == [RecalledLine(1.5, RECALLED), Datagram(3.0, b"c")]
        assert heard(first, 1) == [Datagram(3.0, b"c")]


def test_who_is_not_named_is_refused_with_the_mend_counted_and_told_once() -> None:
    with driven(readers=("198.51.100.20",)) as drive:
        for _ in range(3):
            with pytest.raises(WorkError, match=r"refuses: 127\.0\.0\.1 is not named: .* --share-with 127\.0\.0\.1$"):
                Following("127.0.0.1", drive.share.port)
        wait(lambda: bool(drive.told))
        assert drive.told == [
            "not followed: the computer is not named (127.0.0.1: to let it follow, name it with --share-with 127.0.0.1)"
        ] or drive.told[0].startswith("not followed 3 times")
        assert drive.share.drops.by_cause() == {"the computer is not named": 3}
        assert drive.share._followers == []


def test_it_listens_beyond_this_computer_only_where_another_is_named() -> None:
    for named, only_here in ((("127.0.0.1",), True), (("127.0.0.1", "198.51.100.20"), False)):
        with driven(readers=named) as drive:
            assert drive.share.only_here is only_here
            hosts = {listener.getsockname()[0] for listener in drive.share._listeners}
            assert hosts <= ({"127.0.0.1", "::1"} if only_here else {"0.0.0.0", "::"})
            ports = {listener.getsockname()[1] for listener in drive.share._listeners}
            assert ports == {drive.share.port}


def test_a_port_in_use_is_no_hindrance() -> None:
    with driven() as one:
        readers = Allowed(["127.0.0.1"], "--share-with")
        with Share("desk", readers, Allowed([], "--instructor"), print, one.share.port) as other:
            assert other.port != one.share.port


def test_a_follower_that_stops_reading_holds_nothing_up_and_fills_no_memory() -> None:
    data, number = b"x" * 1000, 6000
    with driven() as drive, closing(raw(drive.share)) as stuck, Following("127.0.0.1", drive.share.port) as reading:
        stuck.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        stuck.sendall(line_of(follow=1))
        drive.knows(2)
        came: list[Heard] = []
        until = time.monotonic() + 4 * SOON

        def read() -> None:
            while len(came) < number and time.monotonic() < until:
                came.extend(reading.receive(0.05))

        def has_read(least: int) -> bool:
            return len(came) > least

        reader = threading.Thread(target=read)
        reader.start()
        longest = 0.0
        for count in range(number):
            began = time.thread_time()
            drive.share.datagram(float(count), data)
            longest = max(longest, time.thread_time() - began)
            if count % 50 == 49:  # no more than a good reader takes on a busy computer
                wait(partial(has_read, count - 200))
        reader.join()
        assert [one.received for one in came if isinstance(one, Datagram)] == [float(one) for one in range(number)]
        assert longest < 0.005  # s of the caller's own time
        held = next(one for one in drive.share._followers if one.name.endswith(f":{stuck.getsockname()[1]}"))
        assert held._stream <= BEHIND and sum(len(line) for line, _ in held._waiting) < BEHIND + BESIDE
        # It reads again: what waited, how much was left out, and then what is new.
        stuck.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2**20)
        drive.share.action(9000.0, "mark")
        lines = reads(stuck, b'"action":"mark"}\n').split(b"\n")[1:-1]  # behind the head
        missed = sum(json.loads(line)["missed"] for line in lines if line.startswith(b'{"missed"'))
        got = [json.loads(line)["received"] for line in lines if b'"text"' in line]
        assert missed > 0 and missed + len(got) == number
        assert got == sorted(got)


def test_one_that_reads_no_more_for_some_seconds_is_sent_off() -> None:
    with driven() as drive, closing(raw(drive.share)) as stuck:
        stuck.sendall(line_of(follow=1))
        drive.knows(1)
        wait(lambda: not drive.share._followers[0].waits)
        for count in range(2 * BEHIND // 60_000 + 90):  # beyond what both systems buffer
            drive.share.datagram(float(count), b"x" * 60_000)
            time.sleep(0.001)
        drive.share._followers[0].heard = time.monotonic() + 3600.0  # it still says that it lives
        drive.clock.ahead = STUCK + 1.0
        for count in range(2 * BEHIND // 60_000):
            drive.share.datagram(float(count), b"x" * 60_000)
            time.sleep(0.001)
        wait(lambda: not drive.share._followers)
        wait(lambda: drive.told[-1].endswith("follows no more: it reads no more"))


def test_what_waits_for_the_thread_is_bounded_too() -> None:
    readers = Allowed(["127.0.0.1"], "--share-with")
    with Share("desk", readers, Allowed([], "--instructor"), print, 0) as share:
        share._followers.append(None)  # type: ignore[arg-type]  # it is not started: nobody takes anything
        for count in range(100):
            share.datagram(float(count), b"x" * 60_000)
        assert share._size <= WAITING
        assert len(share._items) + share._left_out == 100
        share._followers.clear()


def test_one_that_vanishes_is_gone_after_some_seconds_and_may_come_back() -> None:
    with driven() as drive, closing(raw(drive.share)) as gone:
        gone.sendall(line_of(follow=1))
        drive.knows(1)
        drive.clock.ahead = DEAD + 1.0
        wait(lambda: not drive.share._followers)
        wait(lambda: drive.told[-1].endswith(f"follows no more: no sign of life for {DEAD:.0f} s"))
        with Following("127.0.0.1", drive.share.port):
            drive.knows(1)
        drive.knows(0)
        wait(lambda: drive.told[-1].endswith("follows no more: it left"))


def test_one_that_leaves_with_something_unread_has_left() -> None:
    """Closing so is a reset to the other side: RFC 2525, section 2.17."""
    with driven() as drive:
        with closing(raw(drive.share)) as hasty:
            hasty.sendall(line_of(follow=1))
            drive.knows(1)
            drive.share.datagram(1.0, b"x" * 1000)
            wait(lambda: not drive.share._items and not drive.share._followers[0].waits)
        drive.knows(0)
        wait(lambda: drive.told[-1].endswith("follows no more: it left"))


def test_one_that_does_not_say_that_it_follows_gets_no_stream() -> None:
    with driven() as drive, closing(raw(drive.share)) as silent:
        drive.share.datagram(1.0, b"a")
        drive.clock.ahead = HELLO + 1.0
        assert b"received" not in reads(silent, b"never")
        assert drive.share._followers == []


def test_there_are_only_so_many() -> None:
    with driven() as drive, ExitStack() as opened:
        for _ in range(MOST_FOLLOWERS):
            opened.enter_context(closing(raw(drive.share)))
        with pytest.raises(WorkError, match="follow already"):
            Following("127.0.0.1", drive.share.port)


def test_the_end_arrives_however_soon_the_closing_comes() -> None:
    for _ in range(10):
        with driven() as drive, Following("127.0.0.1", drive.share.port) as following:
            drive.knows(1)
            drive.share.end(1.0)
            closer = threading.Thread(target=drive.share.close)
            closer.start()
            assert heard(following, 1) == [EndLine(1.0)]
            following.close()
            closer.join()


def test_the_end_arrives_although_much_still_waits() -> None:
    with driven() as drive, Following("127.0.0.1", drive.share.port) as following:
        drive.knows(1)
        for count in range(500):
            drive.share.datagram(float(count), b"x" * 1000)
        drive.share.end(500.0)
        closer = threading.Thread(target=drive.share.close)
        closer.start()
        assert heard(following, 501)[-1] == EndLine(500.0)
        following.close()
        began = time.monotonic()
        closer.join()
        assert time.monotonic() - began < 1.0


def test_the_end_waits_for_one_that_lives_and_not_for_one_that_does_not() -> None:
    for is_alive in (True, False):
        with driven() as drive, closing(raw(drive.share)) as slow:
            slow.sendall(line_of(follow=1))
            drive.knows(1)
            for count in range(90):  # more than both systems buffer
                drive.share.datagram(float(count), b"x" * 60_000)
                time.sleep(0.001)
            drive.share.end(90.0)
            (follower,) = drive.share._followers
            if not is_alive:
                follower.heard -= 5.0
            closer = threading.Thread(target=drive.share.close)
            closer.start()
            wait(lambda: drive.share._ending is not None)
            drive.clock.ahead = ENDING + 0.5
            if is_alive:
                time.sleep(0.05)
                assert drive.share._followers == [follower]
                assert b'"end":true' in reads(slow, b'"end":true}\n')
                slow.close()
            closer.join(1.0)
            assert not closer.is_alive()


def test_what_an_instructor_asks_for_is_heard_and_answered() -> None:
    with driven((), ("127.0.0.1",)) as drive, Following("127.0.0.1", drive.share.port) as following:
        assert following.is_instructor
        drive.knows(1)
        following.ask("mark")
        drive.share.datagram(0.5, b"not a sample")
        asked = heard(following, 2)
        assert Answer(False, "nothing has come from the simulator yet") in asked
        drive.share.has_begun = True
        drive.share.datagram(1.0, b"a")
        assert heard(following, 1) == [Datagram(1.0, b"a")]
        for asked in ("mark", "next", "topic late_throttle"):
            following.ask(asked)
        assert heard(following, 3) == [
            Answer(True, "mark"),
            Answer(True, "next_topic"),
            Answer(True, "topic late_throttle"),
        ]
        assert drive.asked == ["mark", "next_topic", "topic late_throttle"]
        assert any(line.endswith("follows, and may instruct") for line in drive.told)


def test_who_may_only_follow_asks_in_vain() -> None:
    with driven(("127.0.0.1",), ("198.51.100.20",)) as drive:
        with Following("127.0.0.1", drive.share.port) as following:
            assert not following.is_instructor
            drive.knows(1)
            drive.share.has_begun = True
            following.ask("quiet")
            answers = heard(following, 1)
        assert answers == [Answer(False, "the driver has not named you an instructor: --instructor 127.0.0.1 does")]
        assert drive.asked == []


def test_no_more_is_asked_than_a_person_can_however_often_it_connects() -> None:
    with driven((), ("127.0.0.1",)) as drive, Following("127.0.0.1", drive.share.port) as following:
        drive.share.has_begun = True
        drive.knows(1)
        for _ in range(3 * ASKS):
            following.ask("mark")
        answers = heard(following, 3 * ASKS)
        assert [one for one in answers if isinstance(one, Answer) and one.taken] == [Answer(True, "mark")] * ASKS
        assert drive.asked == ["mark"] * ASKS
        with Following("127.0.0.1", drive.share.port) as again:
            again.ask("mark")
            assert heard(again, 1) == [Answer(False, "too often: wait a second")]
        drive.clock.ahead = 1.5
        following.ask("quiet")
        assert heard(following, 1) == [Answer(True, "quiet")]


def test_what_is_not_understood_is_answered_counted_and_at_last_too_much() -> None:
    with driven() as drive, closing(raw(drive.share)) as link:
        for _ in range(MALFORMED - 1):
            link.sendall(b"\xff\x00 nonsense {\n")
            assert json.loads(reads(link, b"\n")) == {"refused": "not understood"}
        link.sendall(b"[]\n")
        reads(link, b"never")
        assert drive.share.drops.by_cause() == {"a line that was not understood": MALFORMED}
        assert drive.share._followers == []


def test_a_line_without_an_end_is_the_end() -> None:
    with driven() as drive, closing(raw(drive.share)) as link:
        link.sendall(b"x" * (LONGEST_ASKED + 1))
        wait(lambda: not drive.share._followers)


def test_one_that_says_more_than_a_person_is_sent_off() -> None:
    with driven() as drive, closing(raw(drive.share)) as link:
        link.sendall(line_of(follow=1))
        drive.knows(1)
        link.settimeout(SOON)
        with pytest.raises(ConnectionError):  # the other side is gone
            for _ in range(200_000):
                link.sendall(line_of(ask="x") * 100)
        wait(lambda: not drive.share._followers)
        wait(lambda: any(line.endswith("follows no more: it says too much") for line in drive.told))


def test_one_may_say_much_in_a_long_time_and_little_in_a_short_one() -> None:
    here, there = socket.socketpair()
    with here, there:
        follower = Follower(here, "x", True, 0.0)
        for second in range(5):
            there.sendall(b"1\n" * SAYS)
            assert len(follower.receive(float(second))) == SAYS
        there.sendall(b"\n")
        with pytest.raises(Gone, match="it says too much"):
            follower.receive(4.5)


def test_who_asks_and_reads_no_answer_is_sent_off() -> None:
    here, there = socket.socketpair()
    with here, there:
        follower = Follower(here, "x", True, 0.0)
        answer = line_of(refused="no")
        for _ in range(BESIDE // len(answer)):
            follower.tell(answer)
        with pytest.raises(Gone, match="does not read the answers"):
            follower.tell(answer)


def test_who_joins_later_is_told_that_the_drive_has_begun() -> None:
    with driven() as drive:
        with Following("127.0.0.1", drive.share.port) as first:
            assert not first.has_begun
        drive.share.has_begun = True
        with Following("127.0.0.1", drive.share.port) as later:
            assert later.has_begun


@pytest.mark.parametrize("action", [name for name in INSTRUCTORS if name != "topic"])
def test_each_action_of_an_instructor_is_one_word(action: str) -> None:
    assert read_asked(f"  {action} ") == action
    with pytest.raises(FormatError, match="stands alone"):
        read_asked(f"{action} now")


@pytest.mark.parametrize("fault", FAULTS)
def test_a_topic_is_one_of_the_faults(fault: str) -> None:
    assert read_asked(f"topic  {fault}") == f"topic {fault}"


@pytest.mark.parametrize(
    "text",
    ["", " ", "use_lap", "quiet_or_speak", "QUIET", "topic", "topic x", "topic late_throttle now", "\0", "é" * 500],
)
def test_other_words_are_refused_with_what_there_is(text: str) -> None:
    with pytest.raises(FormatError) as caught:
        read_asked(text)
    assert "late_throttle" in str(caught.value) or "next_topic" in str(caught.value)


@contextmanager
def answering(*sent: bytes) -> Iterator[int]:
    """A server that says this to the first who comes, and then waits for it to leave."""
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve() -> None:
            link, _ = server.accept()
            with link:
                link.settimeout(SOON)
                try:
                    for data in sent:
                        link.sendall(data)
                    while link.recv(4096):
                        pass
                except OSError:
                    return  # it has left

        thread = threading.Thread(target=serve)
        thread.start()
        yield server.getsockname()[1]
        thread.join()


GREETED = greeting_line(Greeting("1", "desk", False))
TOP = head_line(HEAD)


@pytest.mark.parametrize(
    ("sent", "kind", "why"),
    [
        ([b"HTTP/1.1 400 Bad Request\r\n"], FormatError, "no line of a shared drive"),
        ([b"[1]\n"], FormatError, "no line of a shared drive"),
        ([b"{}\n"], FormatError, "no shared drive"),
        ([line_of(share=2, id="1")], FormatError, "of another version: install the same version on both computers"),
        ([line_of(refused="no\x1b[2J\nway")], WorkError, r"refuses: no\\x1b\[2J\\nway$"),
        ([], WorkError, "does not answer"),
        ([GREETED], WorkError, "does not answer"),
        ([GREETED, line_of(alive=True), b"{\n"], FormatError, "no line of a shared drive"),
        ([GREETED, line_of(format="cornerword recording", version=2)], FormatError, "of another version"),
    ],
)
def test_what_is_no_shared_drive_is_one_line(sent: list[bytes], kind: type[CornerwordError], why: str) -> None:
    with answering(*sent) as port, pytest.raises(kind, match=why) as caught:
        Following("127.0.0.1", port, 0.3)
    assert str(caught.value).startswith(f"127.0.0.1:{port}") and "\n" not in str(caught.value)


def test_one_that_says_everything_but_the_head_is_not_waited_for_for_ever() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        over = threading.Event()

        def serve() -> None:
            link, _ = server.accept()
            with link, contextlib.suppress(OSError):  # it has left
                link.sendall(GREETED)
                while not over.wait(0.02):
                    link.sendall(line_of(alive=True))

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            with pytest.raises(WorkError, match="does not answer"):
                Following("127.0.0.1", server.getsockname()[1], 0.2)
        finally:
            over.set()
            thread.join()


def test_nobody_there_is_one_line_with_the_mend() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    with pytest.raises(WorkError, match=r"nobody answers \(.*\): start the drive there with --share-with"):
        Following("127.0.0.1", port)
    with pytest.raises(InputError, match="there is no such address"):
        Following("no.such.host.invalid", port)  # RFC 6761, section 6.4: it never resolves


def test_lines_that_cannot_be_read_are_counted_and_the_rest_goes_on() -> None:
    sent = [b'{"received":"x"}\n', b"nonsense\n", b"\n", line_of(later=1), b'{"received":1.0,"text":"a"}\n']
    with answering(GREETED, TOP, *sent) as port, Following("127.0.0.1", port) as following:
        assert heard(following, 1) == [Datagram(1.0, b"a")]
        assert following.drops.by_cause() == {"damaged line": 1, "not JSON": 1}


def test_a_line_without_an_end_breaks_the_connection(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("feeds.sharing.follow.LINE_LIMIT", 100_000)
    with (
        answering(GREETED, TOP, b"x" * 200_000) as port,
        Following("127.0.0.1", port) as following,
        pytest.raises(Lost, match="a line without an end"),
    ):
        heard(following, 1)


def test_a_silent_connection_is_lost_and_a_closed_one_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("feeds.sharing.follow.SILENT", 0.1)
    with answering(GREETED, TOP) as port, Following("127.0.0.1", port) as following:
        with pytest.raises(Lost, match="nothing heard"):
            heard(following, 1)
        following.close()
        for lost in (lambda: following.receive(0.1), lambda: following.ask("mark")):
            with pytest.raises(Lost, match="the connection is gone"):
                lost()


@pytest.mark.parametrize(
    ("said", "read"),
    [
        ({"missed": 3}, Missed(3)),
        ({"missed": True}, None),
        ({"taken": "mark"}, Answer(True, "mark")),
        ({"refused": 1}, Answer(False, "1")),
        ({"alive": True}, None),
        ({}, None),
    ],
)
def test_what_is_said_beside_the_stream(said: dict[str, Any], read: object) -> None:
    assert read_aside(line_of(**said)) == read


def test_a_greeting_reads_back() -> None:
    greeting = Greeting("12", "d\N{LATIN SMALL LETTER E WITH ACUTE}sk", True, True)
    assert read_greeting(greeting_line(greeting)) == greeting
