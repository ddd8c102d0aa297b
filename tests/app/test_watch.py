"""What a person is told of a live stream, against a clock of the test's own."""

from __future__ import annotations

from coach.app.watch import Watch
from coach.vocabulary.sample import Sample

SAMPLE = Sample(5.0, track="loop-a", car="car\n-a")


def test_a_stream_that_never_comes_is_told_once_with_what_to_check() -> None:
    watch = Watch(100.0, "127.0.0.1:26763", "generic")
    assert watch.tick(109.9, 0) == []
    assert watch.tick(110.0, 0) == [
        "no telemetry for 10 s: set the simulator to send its telemetry by UDP to 127.0.0.1:26763, "
        "and look for a firewall"
    ]
    assert watch.tick(300.0, 0) == []


def test_a_stream_that_no_feed_reads_is_told_as_such() -> None:
    watch = Watch(0.0, "127.0.0.1:26763", "generic")
    assert watch.tick(10.0, 500) == [
        'datagrams come, but none that the feed "generic" can read: choose another with --feed'
    ]


def test_begun_lost_and_back() -> None:
    watch = Watch(0.0, "127.0.0.1:26763", "generic")
    assert watch.sample(1.0, SAMPLE, "127.0.0.1:5000") == ["telemetry from 127.0.0.1:5000: loop-a, car?-a"]
    assert watch.sample(1.02, SAMPLE, "127.0.0.1:5000") == []
    assert watch.tick(3.0, 0) == []
    assert watch.tick(3.1, 0) == ["telemetry lost: nothing for 2 s; waiting for it to come back"]
    assert watch.tick(30.0, 0) == []
    assert watch.sample(31.0, SAMPLE, "127.0.0.1:5000") == ["telemetry is back after 30 s"]


def test_another_sender_is_named_and_so_is_the_one_that_returns() -> None:
    watch = Watch(0.0, "127.0.0.1:26763", "generic")
    watch.sample(1.0, SAMPLE, "127.0.0.1:5000")
    watch.tick(3.1, 0)
    assert watch.sample(4.0, SAMPLE, "127.0.0.1:6000") == [
        "telemetry from 127.0.0.1:6000 now, after 3 s of silence from 127.0.0.1:5000"
    ]
    assert watch.sample(4.1, SAMPLE, "127.0.0.1:6000") == []
    assert watch.sample(4.2, SAMPLE, "127.0.0.1:5000") == [
        "telemetry from 127.0.0.1:5000 now, in place of 127.0.0.1:6000"
    ]
    assert watch.sample(4.3, SAMPLE, "127.0.0.1:5000") == []


def test_a_source_without_labels() -> None:
    told = Watch(0.0, "127.0.0.1:26763", "generic").sample(1.0, Sample(0.0), "127.0.0.1:5000")
    assert told == ["telemetry from 127.0.0.1:5000: a track without a name, a car without a name"]
