"""A recorder that is killed outright, mid-write, loses at most the last second."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from feeds.base import Datagram
from feeds.recording import open_recording

RECORDER = """
import sys, time
from feeds.recording import RecordingWriter
RATE, FASTER = 60, 20  # recorded time runs 20 times as fast as real time, so that the test is short
writer = RecordingWriter(sys.argv[1], {"source": "killed"})
out = open(1, "wb", buffering=0)
for number in range(100_000):
    writer.datagram(1000 + number / RATE, b'{"t":%.3f,"x":%d}' % (number / RATE, number * 2654435761 % 2**32))
    out.write(b"%d\\n" % number)  # unbuffered: said only after the writer has taken it
    time.sleep(1 / RATE / FASTER)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal on this system")
@pytest.mark.parametrize("after", [0.21, 0.34, 0.52, 0.73])
def test_a_kill_loses_at_most_the_last_second(tmp_path: Path, after: float) -> None:
    path = tmp_path / "killed.cwrec"
    with subprocess.Popen([sys.executable, "-c", RECORDER, str(path)], stdout=subprocess.PIPE) as recorder:
        assert recorder.stdout is not None
        first = recorder.stdout.readline()
        time.sleep(after)
        recorder.kill()
        said = [int(line) for line in [first, *recorder.stdout.read().split(b"\n")] if line.strip()]
    assert len(said) > 60, "the recorder hardly ran"
    recording = open_recording(path)
    assert recording.head is not None
    read = list(recording)
    assert [item.received for item in read] == [round(1000 + number / 60, 6) for number in range(len(read))]
    assert all(isinstance(item, Datagram) for item in read)
    lost = said[-1] + 1 - len(read)
    assert 0 <= lost <= 60, f"{lost / 60:.2f} s lost"
    assert recording.truncated is not None
