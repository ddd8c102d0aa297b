"""What may come between a simulator and the coach, done to the real command: it tells, and it goes on."""

from __future__ import annotations

import json
import random
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import Future
from pathlib import Path

import pytest
from make_stream import Drive
from sending import sender

from coach.app.cli import main
from tests.real.command import TOP, Command, caught_up, running, send, spoken_for

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGINT for another process")


@pytest.fixture(scope="module", autouse=True)
def unheard() -> Iterator[tuple[Command, Future[tuple[str, float]]]]:
    """A drive to which nothing comes, beside all tests of this file: what it says, and after how many s."""
    said: Future[tuple[str, float]] = Future()
    began = time.monotonic()
    with running("drive") as command:
        errors = command.process.stderr
        assert errors is not None

        def listen() -> None:
            said.set_result((errors.readline(), time.monotonic() - began))

        threading.Thread(target=listen, daemon=True).start()
        yield command, said


def events(log: Path, kind: str) -> list[dict[str, object]]:
    found = [json.loads(line) for line in log.read_text().splitlines()]
    return [event for event in found if event["type"] == kind]


def taken(port: int) -> None:
    """Wait until nothing waits at the port any more (proc_net_udp: the fifth column holds both queues)."""
    until = time.monotonic() + 30.0
    while time.monotonic() < until:
        for line in Path("/proc/net/udp").read_text().splitlines()[1:]:
            fields = line.split()
            if int(fields[1].rpartition(":")[2], 16) == port and int(fields[4].rpartition(":")[2], 16) == 0:
                return
        time.sleep(0.05)
    pytest.fail("what came is not taken")


def mangled(datagrams: list[bytes]) -> list[bytes]:
    """One in a hundred lost, one in a hundred twice, one in a hundred overtaken by the next."""
    chance, out = random.Random(5), list[bytes]()
    for datagram in datagrams:
        fate = chance.randrange(100)
        if fate == 0 and out:
            continue
        if fate == 1:
            out += [datagram, datagram]
        elif fate == 2 and out:
            out.insert(-1, datagram)
        else:
            out.append(datagram)
    return out


def test_loss_repeats_and_overtaking_are_judged_live_as_in_the_replay_of_the_same(
    practice: Drive, tmp_path: Path
) -> None:
    live, replayed, file = tmp_path / "live.jsonl", tmp_path / "replayed.jsonl", tmp_path / "mangled.jsonl"
    datagrams = mangled(practice.datagrams())
    file.write_bytes(b"\n".join(datagrams) + b"\n")
    with running("drive", "--events", live) as command, sender(command.port) as source:
        send(source, datagrams)
        caught_up(live, datagrams[-1])
        assert command.end() == 0
    assert main(["replay", "--fast", "--events", str(replayed), str(file)]) == 0
    assert spoken_for(live) == spoken_for(replayed)
    assert [event["clean"] for event in events(live, "lap")].count(True) >= 3
    assert {"late", "duplicate"} <= {event["what"] for event in events(live, "stream")}
    told = re.search(r"^telemetry: (\d+) samples \((\d\.\d) %\) were lost on the way: ", command.err, re.MULTILINE)
    assert told, command.err
    gone = len(set(practice.datagrams())) - len(set(datagrams))
    assert abs(int(told[1]) - gone) <= 2, "the first and the last cannot be missed"


def test_a_computer_that_was_held_up_works_through_what_waited(
    practice: Drive, expected: list[str], tmp_path: Path
) -> None:
    """Stopped for over 2 s while datagrams come: as after a sleep in which the clock went on."""
    live = tmp_path / "live.jsonl"
    datagrams = practice.datagrams()
    third = len(datagrams) // 3
    with running("drive", "--events", live) as command, sender(command.port) as source:
        send(source, datagrams[:third])
        caught_up(live, datagrams[third - 1])
        command.process.send_signal(signal.SIGSTOP)
        send(source, datagrams[third : third + 150])  # fits in what a system gives that was never tuned, 208 KiB
        time.sleep(2.3)
        command.process.send_signal(signal.SIGCONT)
        send(source, datagrams[third + 150 :])
        caught_up(live, datagrams[-1])
        assert command.end() == 0
    assert spoken_for(live) == expected
    assert "dropped" not in command.err
    assert re.search(r"^telemetry is back after [2-9] s$", command.err, re.MULTILINE), command.err


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells what it dropped")
def test_what_the_system_dropped_is_told_and_nothing_else_is_missing(practice: Drive, tmp_path: Path) -> None:
    recording = tmp_path / "kept.cwrec"
    datagrams, sent = practice.datagrams(), 0
    with running("record", recording) as command, sender(command.port) as source:
        send(source, datagrams[:500])
        taken(command.port)
        command.process.send_signal(signal.SIGSTOP)
        for _ in range(10):  # more than the 8 MiB that it has at most
            for datagram in datagrams[500:3500]:
                source.send(datagram)
                sent += 1
        command.process.send_signal(signal.SIGCONT)
        taken(command.port)
        send(source, datagrams[3500:4000])
        sent += 1000
        taken(command.port)
        assert command.end() == 0
    told = re.search(r"^the system dropped (\d+) datagrams that came faster than they were taken$", command.err, re.M)
    kept = re.search(r": (\d+) datagrams recorded in", command.out)
    assert told and kept, command.err
    assert int(told[1]) > 0 and int(told[1]) + int(kept[1]) == sent


def test_a_simulator_that_was_restarted_sends_from_a_new_port_and_is_taken_up(practice: Drive, tmp_path: Path) -> None:
    live = tmp_path / "live.jsonl"
    datagrams = practice.datagrams()[:4000]
    with running("drive", "--events", live) as command:
        for pause in (2.5, 0.0):
            with sender(command.port) as source:
                send(source, datagrams)
                caught_up(live, datagrams[-1])
            time.sleep(pause)
        assert command.end() == 0
    laps = [(event["lap"], event["time"]) for event in events(live, "lap")]
    assert laps and laps[: len(laps) // 2] == laps[len(laps) // 2 :], "the second time as the first"
    told = re.findall(r"^telemetry from (\S+) now, after [2-9] s of silence from (\S+)$", command.err, re.MULTILINE)
    assert len(told) == 1 and told[0][0] != told[0][1]
    assert "rewind" in {event["what"] for event in events(live, "stream")}


def test_of_two_sources_the_first_stays_and_the_second_is_named(
    practice: Drive, expected: list[str], tmp_path: Path
) -> None:
    """Both send a whole drive at once, as two simulators would; the second is not heard, and is told to be stopped."""
    live = tmp_path / "live.jsonl"
    datagrams = practice.datagrams()
    with running("drive", "--events", live) as command, sender(command.port) as first, sender(command.port) as second:
        send(first, datagrams[:10])
        assert command.process.stderr is not None and "telemetry from" in command.process.stderr.readline()
        for begin in range(10, len(datagrams), 100):
            send(first, datagrams[begin : begin + 100])
            send(second, datagrams[begin : begin + 100])
        caught_up(live, datagrams[-1])
        assert command.end() == 0
        names = [f"127.0.0.1:{source.getsockname()[1]}" for source in (second, first)]
    assert spoken_for(live) == expected
    line = r"^datagram dropped(?: (\d+) times)?: another source \(%s, while %s is listened to: stop one of them\)$"
    told = re.findall(line % (re.escape(names[0]), re.escape(names[1])), command.err, re.MULTILINE)
    assert sum(int(number or 1) for number in told) == len(datagrams) - 10


def test_where_nothing_comes_it_says_what_to_check_and_a_taken_port_is_told(
    unheard: tuple[Command, Future[tuple[str, float]]],
) -> None:
    command, said = unheard
    again = [sys.executable, "-m", "coach", "drive", "--no-voice", "--no-overlay", "--port", str(command.port)]
    second = subprocess.run(again, capture_output=True, text=True, cwd=TOP, timeout=60, check=False)
    assert second.returncode == 1
    assert second.stderr == (
        f"cornerword: UDP port {command.port} on 127.0.0.1 is in use by another program: close it, or choose "
        "another port\n"
    )
    line, after = said.result(30.0)
    assert 10.0 < after < 40.0
    assert line == (
        "no telemetry for 10 s: be on track, not in a menu; set the simulator to send it by UDP to "
        f"127.0.0.1:{command.port}, and to no other program's port, and let the firewall pass it; if it runs on "
        "another computer, listen with --host 0.0.0.0 --allow and that one's address\n"
    )
    assert command.end() == 0


def own_network() -> list[str]:
    """The command that runs another in a network of its own, which may be taken down; empty where there is none."""
    command = ["unshare", "--map-root-user", "--net"]
    if shutil.which("unshare") is None or subprocess.run([*command, "true"], capture_output=True).returncode != 0:
        return []
    return command


def test_a_network_card_that_goes_away_and_comes_back(practice: Drive, practice_file: Path, tmp_path: Path) -> None:
    alone = own_network()
    if not alone:
        pytest.skip("no network of its own to be had here (unshare)")
    live = tmp_path / "live.jsonl"
    command = [*alone, sys.executable, "-m", "tests.real.unplugged", str(practice_file), str(live)]
    ran = subprocess.run(command, capture_output=True, text=True, cwd=TOP, timeout=120, check=False)
    assert ran.returncode == 0, ran.stderr
    seen = json.loads(ran.stdout)
    assert seen["code"] == 0
    assert "telemetry lost: nothing for 2 s; waiting for it to come back" in seen["err"]
    assert re.search(r"^telemetry is back after [2-9] s$", seen["err"], re.MULTILINE), seen["err"]
    assert len(events(live, "lap")) == 5, "the drive went on"
    assert "gap" in {event["what"] for event in events(live, "stream")}, "what was sent meanwhile is gone"
    assert re.search(r"^datagram not passed on.*: to 192\.0\.2\.7:26763 \(.+\)$", seen["err"], re.MULTILINE)
