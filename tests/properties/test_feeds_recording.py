"""What goes into a recording comes out of it."""

from __future__ import annotations

import tempfile
from itertools import pairwise
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from feeds.base import Datagram
from feeds.pacing import LONGEST_SILENCE, paced
from feeds.recording import ActionLine, EndLine, Item, RecalledLine, RecordingWriter, open_recording

times = st.floats(0, 4e9).map(lambda time: round(time, 6))
datagrams = st.builds(Datagram, times, st.binary(max_size=200) | st.text(max_size=60).map(str.encode))
actions = st.builds(ActionLine, times, st.text(max_size=20).filter(lambda text: text.isprintable()))
plain = st.none() | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=8)
recalled = st.builds(RecalledLine, times, st.dictionaries(st.text(max_size=8), plain | st.lists(plain), max_size=4))
labels = st.none() | st.booleans() | st.integers() | st.text(max_size=8)
heads = st.dictionaries(st.text(max_size=8), labels, max_size=4)


@given(heads, st.lists(datagrams | actions | recalled, max_size=30), st.lists(times, max_size=5))
def test_any_bytes_and_actions_come_back_in_order(
    head: dict[str, object], items: list[Item], ticks: list[float]
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.cwrec"
        with RecordingWriter(path, head) as writer:
            for index, item in enumerate(items):
                if isinstance(item, Datagram):
                    writer.datagram(item.received, item.data)
                elif isinstance(item, ActionLine):
                    writer.action(item.received, item.action)
                elif isinstance(item, RecalledLine):
                    writer.recalled(item.received, item.recalled)
                if index < len(ticks):
                    writer.tick(ticks[index])
        recording = open_recording(path)
        read = list(recording)
    assert read == [*items, EndLine(items[-1].received if items else 0.0)]
    assert recording.truncated is None
    assert recording.head == {**head, "format": "cornerword recording", "version": 1}


@given(st.lists(st.floats(-1e6, 1e6), max_size=40), st.floats(0.1, 50))
def test_pacing_keeps_order_and_never_waits_longer_than_a_silence(received: list[float], speed: float) -> None:
    now, waits = 0.0, []

    def sleep(seconds: float) -> None:
        nonlocal now
        waits.append(seconds)
        now += seconds

    items = [Datagram(time, b"") for time in received]
    assert list(paced(items, speed, lambda: now, sleep)) == items
    assert all(0.0 < wait <= LONGEST_SILENCE / speed + 1e-9 for wait in waits)
    expected = sum(min(max(b - a, 0.0), LONGEST_SILENCE) for a, b in pairwise(received)) / speed
    assert abs(now - expected) < 1e-6
