"""Counting by cause, and telling once in a while."""

from __future__ import annotations

from feeds.counts import Counts


def test_a_new_cause_is_told_at_once_and_then_at_most_each_30_s() -> None:
    counts = Counts("datagram dropped")
    counts.add("not JSON", "at 7")
    assert counts.lines(100.0) == ["datagram dropped: not JSON (at 7)"]
    told = []
    for second in range(1, 91):
        for _ in range(10):
            counts.add("not JSON", f"at {second}")
        told += [(second, line) for line in counts.lines(100.0 + second)]
    assert told == [
        (30, "datagram dropped 300 times: not JSON (at 30)"),
        (60, "datagram dropped 300 times: not JSON (at 60)"),
        (90, "datagram dropped 300 times: not JSON (at 90)"),
    ]
    assert counts.by_cause() == {"not JSON": 901}


def test_causes_have_their_own_clocks() -> None:
    counts = Counts("dropped")
    counts.add("a")
    counts.lines(0.0)
    counts.add("a")
    counts.add("b")
    assert counts.lines(5.0) == ["dropped: b"]
    assert counts.lines(29.9) == []
    assert counts.lines(30.0) == ["dropped: a"]
    assert counts.lines(300.0) == []
    assert counts.total == 3


def test_time_zero_counts_as_a_time() -> None:
    counts = Counts("dropped")
    counts.add("a")
    assert counts.lines(0.0) == ["dropped: a"]
    counts.add("a")
    assert counts.lines(0.0) == []
