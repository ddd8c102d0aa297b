"""What a person is told of a live stream, against a clock of the test's own."""

from __future__ import annotations

import pytest

from coach.app.watch import ENOUGH, Unused, Watch, way
from coach.vocabulary.sample import Sample
from feeds.arrival import Arrival, ArrivalReport

SAMPLE = Sample(5.0, track="loop-a", car="car\n-a")
NOTHING = Unused()


@pytest.mark.parametrize("where", ["127.0.0.1:26763", "[::1]:26763"])
def test_a_stream_that_never_comes_is_told_once_with_what_to_check(where: str) -> None:
    watch = Watch(100.0, where, "generic")
    assert watch.tick(109.9, NOTHING) == []
    assert watch.tick(110.0, NOTHING) == [
        f"no telemetry for 10 s: be on track, not in a menu; set the simulator to send it by UDP to {where}, and to no "
        "other program's port, and let the firewall pass it; if it runs on another computer, listen with --host "
        "0.0.0.0 --allow and that one's address"
    ]
    assert watch.tick(300.0, NOTHING) == []


@pytest.mark.parametrize("where", ["0.0.0.0:26763", "[::]:26763", "192.0.2.7:26763", "[fe80::1%eth0]:26763"])
def test_where_it_listens_to_the_network_the_check_is_of_this_computer(where: str) -> None:
    assert Watch(0.0, where, "generic").tick(10.0, NOTHING) == [
        "no telemetry for 10 s: be on track, not in a menu; set the simulator to send it by UDP to this computer's "
        "address, port 26763, and to no other program's port, and let this computer's firewall pass it"
    ]


def test_a_stream_that_no_feed_reads_is_told_as_such() -> None:
    watch = Watch(0.0, "127.0.0.1:26763", "generic")
    assert watch.tick(10.0, Unused(unread=500, refused=3)) == [
        'datagrams come, but none that the feed "generic" can read: choose another with --feed or --layout'
    ]


def test_a_stream_that_may_not_come_is_told_as_such() -> None:
    assert Watch(0.0, "0.0.0.0:26763", "generic").tick(10.0, Unused(refused=500)) == [
        "datagrams come, but only from senders that may not send: name the simulator's computer with --allow"
    ]


def test_a_stream_of_which_a_kind_is_missing_is_told_as_such() -> None:
    assert Watch(0.0, "127.0.0.1:26763", "layout").tick(10.0, Unused(unread=20, unfinished=500)) == [
        'datagrams come, but the feed "layout" waits for another kind of them before it has a sample: '
        "set the simulator to send all kinds"
    ]


def test_begun_lost_and_back() -> None:
    watch = Watch(0.0, "127.0.0.1:26763", "generic")
    assert watch.sample(1.0, SAMPLE, "127.0.0.1:5000") == ["telemetry from 127.0.0.1:5000: loop-a, car?-a"]
    assert watch.sample(1.02, SAMPLE, "127.0.0.1:5000") == []
    assert watch.tick(3.0, NOTHING) == []
    assert watch.tick(3.1, NOTHING) == ["telemetry lost: nothing for 2 s; waiting for it to come back"]
    assert watch.tick(30.0, NOTHING) == []
    assert watch.sample(31.0, SAMPLE, "127.0.0.1:5000") == ["telemetry is back after 30 s"]


def test_another_sender_is_named_and_so_is_the_one_that_returns() -> None:
    watch = Watch(0.0, "127.0.0.1:26763", "generic")
    watch.sample(1.0, SAMPLE, "127.0.0.1:5000")
    watch.tick(3.1, NOTHING)
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


def test_a_computer_that_slept_tells_how_long() -> None:
    """Nobody looked at the clock meanwhile, so that it was not called lost."""
    watch = Watch(0.0, "127.0.0.1:26763", "generic")
    watch.sample(1.0, SAMPLE, "127.0.0.1:5000")
    assert watch.sample(601.0, SAMPLE, "127.0.0.1:5000") == ["telemetry is back after 600 s"]
    assert watch.sample(601.02, SAMPLE, "127.0.0.1:5000") == []


def came(share: float = 0.0, uneven: float = 0.0, number: int = 2 * ENOUGH, pace: float = 1.0) -> ArrivalReport:
    """60 a second, of which each so-manieth is lost, by turns early and late by `uneven` s."""
    arrival = Arrival()
    for k in range(number):
        if not share or k % round(1 / share) != 5:
            arrival.take((10.0 + k / 60) / pace + uneven * (k % 2), k / 60, 300)
    return arrival.report()


def test_a_good_way_is_not_worth_a_line() -> None:
    assert way(came()) == []
    assert way(came(share=0.004, uneven=0.009)) == []
    assert way(Arrival().report()) == []
    assert way(came(share=0.05, uneven=0.03, number=ENOUGH)) == [], "too few came to tell"


def test_loss_and_jitter_are_told_when_all_is_over() -> None:
    mend = "a cable in place of a wireless network, or a less busy computer, helps"
    assert way(came(share=0.02)) == [f"telemetry: 24 samples (2.0 %) were lost on the way: {mend}"]
    (told,) = way(came(uneven=0.015))
    assert told == f"telemetry: it came unevenly, with a jitter of 15 ms: {mend}"
    (told,) = way(came(share=0.02, uneven=0.02))
    assert "were lost on the way, and it came unevenly" in told


def test_what_is_sent_faster_than_it_was_driven_has_no_jitter() -> None:
    assert came(pace=20.0).mean_jitter > 0.010
    assert way(came(pace=20.0)) == []
