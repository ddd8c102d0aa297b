"""Following a drive that is shared: what the follower is told is what the driver is told."""

from __future__ import annotations

import io
import itertools
import json
import os
import re
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from make_stream import Drive

from coach.app import config
from coach.app.cli import main
from coach.app.console import Console
from coach.app.follow import chosen, listed
from coach.app.following.followloop import FollowLoop, TheirClock
from coach.app.intake import Intake
from coach.app.replay import replay
from coach.app.session import Session, ended
from coach.app.source import Source as CarSource
from coach.app.start import fresh
from coach.app.stop import Stop
from coach.vocabulary.errors import InputError, WorkError
from coach.vocabulary.events import Event, record
from feeds.base import Datagram
from feeds.counts import Counts
from feeds.discovery import Shared
from feeds.recording import ActionLine, EndLine, SilenceLine, open_recording
from feeds.sharing import Answer, Missed
from feeds.sharing.follow import Heard
from tests.app.following import QUIET, Relay, Source, driving, following, running, wait


class Silent:
    """No announcement: what is followed by its address needs none."""

    def __init__(self, *given: object) -> None:
        self.given = given

    def close(self) -> None:
        """Nothing to take back."""


@pytest.fixture
def unannounced(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("coach.app.following.sharing.Announcement", Silent)


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """Write to it what the instructor types; closed at the end, so that nobody reads on."""
    source, into = os.pipe()
    monkeypatch.setattr("coach.app.following.instructor.standard_input", lambda: source)
    yield into
    os.close(into)
    wait(lambda: not any(thread.name == "typed" for thread in threading.enumerate()))
    os.close(source)


def events(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text().splitlines()]


def test_the_follower_says_what_the_driver_says(practice: Drive, tmp_path: Path, typed: int, unannounced: None) -> None:
    logs = {name: tmp_path / f"{name}.jsonl" for name in ("drive", "one")}
    kept = {name: tmp_path / f"{name}.cwrec" for name in ("drive", "one")}
    data = practice.datagrams()
    data = data[len(data) // 5 : len(data) * 66 // 100]  # a clean lap for the reference, to the first fault and cue
    with ExitStack() as opened:
        run, source, shared = opened.enter_context(
            driving(instructor=("127.0.0.1",), events=str(logs["drive"]), record=kept["drive"], focus="late_throttle")
        )
        one = opened.enter_context(following(at=f"127.0.0.1:{shared}", events=str(logs["one"]), record=kept["one"]))
        one.says("you may instruct")
        source.send(data[: len(data) // 2])
        one.says("telemetry of .*: loop-a, car-a")
        os.write(typed, b"mark\nuse_lap\nquiet\ntopic early_down")
        one.says("choose one of topic, next_topic, quiet, speak, mark")
        os.write(typed, b"shift\n")
        one.says("done: topic early_downshift")
        source.send(data[len(data) // 2 :])
        summary = run.end()
        assert one.ended() == summary
    assert logs["drive"].read_bytes() == logs["one"].read_bytes()
    pressed = [(one["action"], one["by"]) for one in events(logs["drive"]) if one["type"] == "action"]
    assert pressed == [("mark", "instructor"), ("quiet", "instructor"), ("topic early_downshift", "instructor")]
    assert {"fault", "cue", "lap"} <= {one["type"] for one in events(logs["drive"])}
    assert one.told[-1] == "the drive is over"
    # Both recordings are whole, and alike to the byte of each datagram: what one replays, the other does.
    *mine, _ = open_recording(kept["drive"])
    recording = open_recording(kept["one"])
    *theirs, _ = recording
    assert theirs == mine and recording.truncated is None
    assert [item.by for item in theirs if isinstance(item, ActionLine)] == ["instructor"] * 3
    again = tmp_path / "again.jsonl"
    options = config.ReplayOptions(file=kept["one"], fast=True, events=str(again), **QUIET)
    assert replay(options, Console(io.StringIO()), Stop()) == summary
    assert again.read_bytes() == logs["drive"].read_bytes()


def test_it_is_the_same_over_ipv6(practice: Drive, tmp_path: Path, unannounced: None) -> None:
    try:
        socket.create_server(("::1", 0), family=socket.AF_INET6).close()
    except OSError:
        pytest.skip("no IPv6 loopback on this computer")
    mine, theirs = tmp_path / "drive.jsonl", tmp_path / "one.jsonl"
    with ExitStack() as opened:
        run, source, shared = opened.enter_context(driving(share_with=("::1",), events=str(mine)))
        one = opened.enter_context(following(at=f"[::1]:{shared}", events=str(theirs)))
        one.says(r"following .* at \[::1\]:")
        source.send(practice.datagrams()[:1200])
        run.end()
        one.ended()
    assert mine.read_bytes() == theirs.read_bytes() != b""


def test_who_may_only_follow_is_not_read_from_and_cannot_ask(
    practice: Drive, unannounced: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("coach.app.following.instructor.standard_input", lambda: pytest.fail("it reads"))
    with driving(share_with=("127.0.0.1",)) as (run, source, shared), following(at=f"127.0.0.1:{shared}") as one:
        one.says("following ")
        source.send(practice.datagrams()[:200])
        one.says("telemetry of ")
        run.end()
        assert one.ended().startswith("loop-a, car-a\n")
        assert not any("instruct" in line for line in one.told)


def test_one_that_joins_in_the_middle_has_its_own_laps_from_there(
    practice: Drive, tmp_path: Path, unannounced: None
) -> None:
    data = practice.datagrams()
    log = tmp_path / "late.jsonl"
    with driving(share_with=("127.0.0.1",)) as (run, source, shared):
        source.send(data[: len(data) * 28 // 100])
        run.says("lap 1 ")
        with following(at=f"127.0.0.1:{shared}", events=str(log)) as late:
            late.says("the drive had begun before: laps, topic and what is said here are from now on")
            source.send(data[len(data) * 28 // 100 : len(data) * 52 // 100])
            late.says("lap 2 ")
            run.end()
            late.ended()
    laps = [one["lap"] for one in events(log) if one["type"] == "lap"]
    assert laps == [2]


def test_it_goes_on_with_the_same_drive_when_the_connection_was_lost(
    practice: Drive, unannounced: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("coach.app.following.followloop.AGAIN", 0.05)
    data = practice.datagrams()
    with driving(share_with=("127.0.0.1",)) as (run, source, shared), closing(Relay(shared)) as relay:
        with following(at=f"127.0.0.1:{relay.port}") as one:
            one.says("following ")
            source.send(data[:300])
            one.says("telemetry of ")
            relay.cut()
            one.says("trying to connect again, Ctrl-C ends")
            one.says("connected again to ")
            source.send(data[300:600])
            run.end()
            assert one.ended().startswith("loop-a, car-a\n")
        assert one.told[-1] == "the drive is over"


def test_another_drive_in_its_place_is_told_and_not_mixed_in(
    practice: Drive, unannounced: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("coach.app.following.followloop.AGAIN", 0.05)
    with (
        driving(share_with=("127.0.0.1",)) as (_, source, shared),
        driving(share_with=("127.0.0.1",)) as (_, _, other),
        closing(Relay(shared)) as relay,
        following(at=f"127.0.0.1:{relay.port}") as one,
    ):
        one.says("following ")
        source.send(practice.datagrams()[:200])
        one.says("telemetry of ")
        relay.to = other
        relay.cut()
        one.says("another drive has begun there: follow it anew")
        assert one.ended().startswith("loop-a, car-a\n")


def test_by_its_name_over_the_real_discovery(practice: Drive) -> None:
    name = socket.gethostname().partition(".")[0]
    with driving(share_with=("127.0.0.1",)) as (run, source, _), following(name=name[:3]) as one:
        one.says(f'following "{name}')
        source.send(practice.datagrams()[:200])
        one.says("telemetry of ")
        run.end()
        one.ended()


def test_the_end_may_be_asked_for_here_too(practice: Drive, unannounced: None) -> None:
    with driving(share_with=("127.0.0.1",)) as (run, source, shared), following(at=f"127.0.0.1:{shared}") as one:
        one.says("following ")
        source.send(practice.datagrams()[:200])
        one.says("telemetry of ")
        assert one.end().startswith("loop-a, car-a\n")
        run.says("follows no more: it left")


@contextmanager
def program(*arguments: str) -> Iterator[subprocess.Popen[str]]:
    """The real command, killed at the end as the system kills: without a word."""
    command = [sys.executable, "-m", "coach", *arguments, "--no-voice", "--no-overlay"]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=pipe, stderr=pipe, text=True) as process:
        try:
            yield process
        finally:
            process.kill()


def test_a_follower_that_is_killed_costs_the_driver_nothing(practice: Drive, tmp_path: Path, unannounced: None) -> None:
    data = practice.datagrams()
    with driving(share_with=("127.0.0.1",), record=tmp_path / "drive.cwrec") as (run, source, shared):
        with program("follow", "--at", f"127.0.0.1:{shared}"):
            run.says(r"127\.0\.0\.1:\d+ follows\n")
            source.send(data[:300])
        run.says("follows no more")
        source.send(data[300:600])
        assert run.end().startswith("loop-a, car-a\n")
    items = list(open_recording(tmp_path / "drive.cwrec"))
    assert len(items) == 601  # every datagram, and the end


def test_a_driver_that_is_killed_leaves_the_follower_its_session(practice: Drive, tmp_path: Path) -> None:
    with ExitStack() as opened:
        with program("drive", "--port", "0", "--no-buttons", "--share-with", "127.0.0.1") as process:
            assert process.stderr is not None
            said = process.stderr.readline() + process.stderr.readline()
            ports = [int(found) for both in re.findall(r"at port (\d+)|:(\d+) \(UDP", said) for found in both if found]
            at = f"127.0.0.1:{ports[0]}"
            one = opened.enter_context(following(at=at, record=tmp_path / "one.cwrec"))
            one.says("following ")
            with closing(Source(ports[1])) as source:
                source.send(practice.datagrams()[:300])
            one.says("telemetry of ")
            wait(lambda: _lines(tmp_path / "one.cwrec") >= 301)
        one.says("trying to connect again, Ctrl-C ends")
        assert one.end().startswith("loop-a, car-a\n")
    recording = open_recording(tmp_path / "one.cwrec")
    assert len(list(recording)) == 301 and recording.truncated is None


def _lines(path: Path) -> int:
    """How many are on the disk, the head too."""
    return 1 + sum(1 for _ in open_recording(path)) if path.exists() else 0


class Given:
    """What a session gives to those who follow, as they read it."""

    def __init__(self) -> None:
        self.items: list[Heard] = []

    def datagram(self, received: float, data: bytes) -> None:
        self.items.append(Datagram(received, data))

    def action(self, received: float, action: str, by: str) -> None:
        self.items.append(ActionLine(received, action, by))

    def silence(self, received: float) -> None:
        self.items.append(SilenceLine(received))

    def end(self, received: float) -> None:
        self.items.append(EndLine(received))


class Linked:
    """A link that gives these, and then says whether it is still there."""

    is_other = False

    def __init__(self, items: list[Heard], is_connected: bool = True) -> None:
        self.left, self.is_connected = items, is_connected
        self.now = self
        self.name = "desk\x1b"
        self.drops = Counts("line dropped")

    def close(self) -> None:
        """Nothing to leave."""

    def receive(self, timeout: float, stop: Stop) -> list[Heard]:
        items, self.left = self.left, []
        stop.asked = not items
        return items


class Log:
    """A sink that keeps all."""

    def __init__(self) -> None:
        self.lines: list[dict[str, Any]] = []

    def take(self, event: Event) -> None:
        self.lines.append(record(event))


def followed(items: list[Heard], is_connected: bool = True, given: Given | None = None) -> tuple[Log, list[str]]:
    """What a follower logs and is told of these; `given` hears what its own session would pass on."""
    log, told, start = Log(), io.StringIO(), fresh(CarSource(), None, ())
    console, clock = Console(told), TheirClock()
    sharing: Any = given
    with ended(Session(start, [log], None, console, sharing=sharing), clock) as session:
        link: Any = Linked(items, is_connected)
        FollowLoop(link, clock, Intake(start.new_feed(), console.say), session, console).run(Stop())
    return log, told.getvalue().splitlines()


def test_a_silence_is_the_drivers_own_and_is_followed_at_its_place(practice: Drive) -> None:
    given, log, start = Given(), Log(), fresh(CarSource(), None, ())
    sharing: Any = given
    session, feed = Session(start, [log], None, Console(io.StringIO()), sharing=sharing), start.new_feed()
    now = 1000.0
    for number, data in enumerate(practice.datagrams()[:90]):
        now += 5.0 if number == 40 else 0.04
        if number in (40, 60):
            session.tick(now - 1.5, idle=True)  # at 40 the clock finds the silence, before the next datagram does
        if number == 50:
            session.keep_action(now, "mark", "instructor")
            session.act("mark", "instructor")
        session.keep(Datagram(now, data))
        sample = feed.decode(data)
        assert sample is not None
        session.coach(sample, now)
    session.finish(now + 3.0)
    session.close(now + 3.0)
    assert [type(item) for item in given.items if not isinstance(item, Datagram)] == [SilenceLine, ActionLine, EndLine]
    mine, told = followed(given.items)
    assert mine.lines == log.lines
    assert [line["what"] for line in log.lines if line["type"] == "stream"] == ["lost", "back", "lost"]
    assert told == ["telemetry of desk?: loop-a, car-a", "the drive is over"]


@pytest.mark.parametrize("is_connected", [True, False])
def test_only_without_a_connection_is_the_silence_its_own(practice: Drive, is_connected: bool) -> None:
    items: list[Heard] = [Datagram(1000.0 + n / 25, data) for n, data in enumerate(practice.datagrams()[:50])]
    given = Given()
    with patch(
        "coach.app.following.followloop.perf_counter", side_effect=itertools.count(0.0, 3.0)
    ):  # 3 s at each look
        followed(items, is_connected, given)
    assert sum(isinstance(item, SilenceLine) for item in given.items) == (not is_connected)


def test_what_was_left_out_and_what_cannot_be_read_is_told(practice: Drive) -> None:
    items: list[Heard] = [Missed(7), Datagram(1.0, b"nonsense"), Missed(5), Answer(False, "no\nway"), EndLine(2.0)]
    _, told = followed(items)
    assert told[0] == "refused: no?way"
    assert any(line.startswith("datagram dropped: not JSON") for line in told)
    assert "12 datagrams were left out: this computer, or the network, was too slow" in told


def test_nothing_is_shared_unless_it_is_asked_for() -> None:
    from coach.app.drive import drive

    with running(drive, config.DriveOptions(port=0, buttons=False, voice=False, overlay=False)) as run:
        run.says("listening on ")
        assert len(run.told) == 1
        run.end()


DESK, DEN = Shared("desk", ("192.168.1.10",), 26764), Shared("The Den\x1b[2J", ("fd00::7", "x"), 26765)


def test_those_that_are_shared_are_listed_one_a_line() -> None:
    assert listed([DESK, DEN, DESK]) == "The Den?[2J  [fd00::7]:26765\ndesk  192.168.1.10:26764\n"
    with pytest.raises(WorkError, match="no shared drive was found on this network: start the drive"):
        listed([])


def test_a_name_or_a_part_of_it_chooses() -> None:
    assert chosen("DESK", [DEN, DESK]) is DESK
    assert chosen("den", [DEN, DESK]) is DEN
    assert chosen("desk", [Shared("desk-2", ("a",), 1), DESK]) is DESK
    with pytest.raises(InputError, match='"de" is in the names of several drives: choose one of The Den'):
        chosen("de", [DEN, DESK])
    with pytest.raises(WorkError, match=r'no shared drive "garage\?" was found'):
        chosen("garage\n", [DEN, DESK])


@pytest.mark.parametrize(
    ("arguments", "code", "line"),
    [
        (["follow", "--at", "127.0.0.1:1"], 1, "nobody answers"),
        (["follow", "--at", "127.0.0.1:0"], 2, "is no address: give one as 192.168.1.20:26764"),
        (["follow", "--at", "no.such.host.invalid"], 2, "there is no such address"),
        (["drive", "--share-with", "everywhere/0"], 2, "--share-with: 'everywhere/0' is no address"),
        (["drive", "--instructor", "0.0.0.0/0"], 2, "--instructor: 0.0.0.0/0 is everyone"),
        (["drive", "--port", "0", "--allow", "198.51.100.20"], 2, "--allow: on 127.0.0.1:"),
    ],
)
def test_what_is_wrong_is_one_line(
    arguments: list[str], code: int, line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*arguments, "--no-voice", "--no-overlay"]) == code
    error = capsys.readouterr().err
    assert error.startswith("cornerword: ") and error.count("\n") == 1
    assert line in error
