"""The real command in a process of its own: started, fed through UDP, and ended."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

TOP = Path(__file__).parents[2]
PACE = 10_000
"""datagrams a second: hundreds of times a simulator's, and no machine's limit."""


class Command:
    """A running `cornerword drive` or `record`; `port` is where it listens."""

    def __init__(self, process: subprocess.Popen[str], port: int) -> None:
        self.process, self.port = process, port
        self.out, self.err = "", ""

    def end(self, number: int = signal.SIGINT) -> int:
        self.process.send_signal(number)
        self.out, self.err = self.process.communicate(timeout=60)
        return self.process.returncode


@contextmanager
def running(*arguments: str | Path) -> Iterator[Command]:
    command = [sys.executable, "-m", "coach", *map(str, arguments), "--port", "0"]
    if arguments[0] == "drive":
        command += ["--no-voice", "--no-overlay"]
    environment = {**os.environ, "PYTHONPATH": str(TOP)}
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=TOP, env=environment
    )
    try:
        assert process.stderr is not None
        greeting = process.stderr.readline()
        if "--pass-on" in command:
            assert greeting == f"passing the stream on to {command[command.index('--pass-on') + 1]}\n"
            greeting = process.stderr.readline()
        found = re.match(r'listening on 127\.0\.0\.1:(\d+) \(UDP, feed "generic"\); Ctrl-C ends\n', greeting)
        assert found, greeting
        yield Command(process, int(found[1]))
    finally:
        if process.poll() is None:
            process.kill()
        process.communicate()


def send(source: socket.socket, datagrams: Iterable[bytes]) -> None:
    """At `PACE`, in bursts of a hundredth of a second."""
    began = time.perf_counter()
    for number, datagram in enumerate(datagrams):
        source.send(datagram)
        if number % (PACE // 100) == 0:
            time.sleep(max(0.0, began + number / PACE - time.perf_counter()))


def caught_up(log: Path, last: bytes) -> None:
    """Wait until the log has come near the last datagram's `t`; a log is flushed at least each second."""
    until, t = time.monotonic() + 60.0, json.loads(last)["t"]
    while time.monotonic() < until:
        lines = log.read_text().rpartition("\n")[0].splitlines() if log.exists() else []
        if lines and json.loads(lines[-1])["t"] > t - 0.5:
            return
        time.sleep(0.05)
    pytest.fail("the command does not keep up")


def spoken_for(log: Path) -> list[str]:
    """The lines that must be the same live and replayed."""
    kinds = ("lap", "fault", "cue")
    return [line for line in log.read_text().splitlines() if json.loads(line)["type"] in kinds]
