"""What the two sides of a shared drive say: any bytes are read, refused or counted, and the drive goes on.

For minutes: `EXAMPLES=20000 python -m pytest tests/fuzz/test_fuzz_share.py`.
"""

from __future__ import annotations

import json
import os
import socket
import threading
import time
from collections.abc import Callable
from typing import Any

from hypothesis import example, given, settings
from hypothesis import strategies as st

from coach.app.following.instructor import Typed
from coach.vocabulary.actions import INSTRUCTORS, TOPIC, topic_of
from coach.vocabulary.errors import CornerwordError, FormatError
from feeds.allowed import Allowed
from feeds.base import Datagram
from feeds.recording import ActionLine, Item
from feeds.recording.lines import datagram_line, head_line
from feeds.sharing import Answer, Following, Lost, Missed, Share
from feeds.sharing.follower import Follower, Gone
from feeds.sharing.lines import (
    LONGEST_ASKED,
    Greeting,
    greeting_line,
    line_of,
    read_aside,
    read_asked,
    read_greeting,
)

EXAMPLES = int(os.environ.get("EXAMPLES", "40"))
FEW = max(12, EXAMPLES // 10)
"""Of what opens sockets."""

scalars = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20)
values = st.recursive(scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner))
KEYS = ["share", "id", "name", "instructor", "follow", "alive", "ask", "missed", "taken", "refused", "received", "text"]
objects = st.dictionaries(st.sampled_from(KEYS), values, max_size=5).map(lambda one: json.dumps(one).encode())
actions = st.sampled_from([*INSTRUCTORS, "next", "topic late_throttle", "topic x", "use_lap", ""])
lines = st.one_of(
    st.binary(max_size=80),
    objects,
    actions.map(lambda text: line_of(ask=text).strip()),
    st.just(line_of(follow=1).strip()),
    st.just(b"x" * (LONGEST_ASKED + 1)),
    st.just(b"[" * 900),
    st.just(b'{"received":1e400,"text":"a"}'),
    st.just(datagram_line(1.0, b"{}").strip()),
)
streams = st.lists(lines, max_size=8).map(lambda several: b"\n".join(several) + b"\n")


@settings(max_examples=EXAMPLES, deadline=None)
@given(lines)
@example(b'{"share":1,"id":null,"name":[],"instructor":1}')
@example(b"\xed\xa0\x80")
def test_a_line_is_read_or_refused_with_a_fixed_cause(line: bytes) -> None:
    causes = {"not JSON", "not an object", "not a shared drive", "version"}
    readers: list[Callable[[bytes], object]] = [read_greeting, read_aside]
    for reader in readers:
        try:
            found = reader(line)
        except FormatError as error:
            assert error.cause in causes
            assert "\n" not in str(error)
        else:
            assert isinstance(found, Greeting | Answer | Missed | None)
            if isinstance(found, Greeting):
                assert isinstance(found.id, str) and isinstance(found.name, str) and isinstance(found.instructor, bool)


@settings(max_examples=EXAMPLES, deadline=None)
@given(st.text(max_size=60) | actions)
def test_words_ask_for_an_action_that_there_is_or_for_none(text: str) -> None:
    try:
        action = read_asked(text)
    except FormatError:
        return
    name = action.partition(" ")[0]
    assert name in INSTRUCTORS
    assert (topic_of(action) is not None) is (name == TOPIC)
    assert read_asked(action) == action


@settings(max_examples=EXAMPLES, deadline=None)
@given(streams, st.integers(1, 40))
def test_a_follower_says_anything_in_any_pieces(data: bytes, size: int) -> None:
    here, there = socket.socketpair()
    with here, there:
        here.setblocking(False)
        follower = Follower(here, "x", True, 0.0)
        whole: list[bytes] = []
        try:
            for start in range(0, len(data), size):
                there.send(data[start : start + size])
                whole += follower.receive(0.0)
        except Gone:
            assert any(len(line) > LONGEST_ASKED for line in data.split(b"\n"))
            return
        assert whole == [line for line in data.split(b"\n") if line.strip()]


@settings(max_examples=EXAMPLES, deadline=None)
@given(st.lists(st.binary(max_size=60) | actions.map(lambda text: text.encode() + b"\n"), max_size=6))
def test_an_instructor_types_anything(pieces: list[bytes]) -> None:
    told: list[str] = []
    typed = Typed(lambda action: told.append(action), told.append)
    for piece in pieces:
        typed.take(piece)
    for line in told:
        assert "\n" not in line and len(line) < 1000


@settings(max_examples=FEW, deadline=None)
@given(streams)
def test_whatever_a_follower_sends_the_others_go_on(data: bytes) -> None:
    told: list[str] = []
    asked: list[str] = []
    named = Allowed(["127.0.0.1"], "--instructor")
    with Share("desk", Allowed([], "--share-with"), named, told.append, 0) as share:
        share.start({"source": "generic"}, asked.append)
        with (
            Following("127.0.0.1", share.port) as good,
            socket.create_connection(("127.0.0.1", share.port)) as bad,
        ):
            bad.sendall(data)
            share.datagram(1.0, data)
            _heard(good, lambda one: one == Datagram(1.0, data))
            share.action(2.0, "mark")
            _heard(good, lambda one: one == ActionLine(2.0, "mark"))
    assert all(read_asked(action) == action for action in asked)
    assert not any("report" in line for line in told)


@settings(max_examples=FEW, deadline=None)
@given(streams, st.booleans())
def test_whatever_answers_is_one_error_or_is_counted(data: bytes, is_greeted: bool) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        link: list[socket.socket] = []

        def serve() -> None:
            one, _ = server.accept()
            link.append(one)
            one.sendall((greeting_line(Greeting("1", "x", False)) + head_line({}) if is_greeted else b"") + data)
            one.shutdown(socket.SHUT_WR)

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            with Following("127.0.0.1", port, 0.5) as following:
                try:
                    while True:
                        for one in following.receive(0.5):
                            assert isinstance(one, Item | Missed | Answer)
                except Lost as error:
                    assert "\n" not in str(error)
        except CornerwordError as error:
            assert "\n" not in str(error)
        finally:
            thread.join()
            for one in link:
                one.close()


def _heard(following: Following, wanted: Callable[[Any], bool]) -> None:
    end = time.monotonic() + 5.0
    while time.monotonic() < end:
        if any(wanted(one) for one in following.receive(0.05)):
            return
    raise AssertionError("it does not come")
