"""The line: silence is said at the same place whether the clock or the next datagram shows it."""

from __future__ import annotations

import pytest
from make_stream import Drive

from coach.app.line import Line
from coach.app.source import Source
from coach.app.start import fresh
from coach.vocabulary.events import Action, Event, Stream, record
from coach.vocabulary.sample import Sample
from feeds.generic import GenericFeed


class Kept:
    def __init__(self) -> None:
        self.events: list[Event] = []

    def take(self, event: Event) -> None:
        self.events.append(event)


@pytest.fixture
def samples(practice: Drive) -> list[Sample]:
    feed = GenericFeed()
    return [feed.decode(data) for data in practice.datagrams()[:400]]


def line_and_log() -> tuple[Line, Kept]:
    kept, start = Kept(), fresh(Source(), None, ())
    return Line(start.engine, start.planner, [kept]), kept


def lost_and_back(events: list[Event]) -> list[tuple[str, float, float | None, float | None]]:
    return [
        (event.what, event.t, event.start, event.end)
        for event in events
        if isinstance(event, Stream) and event.what in ("lost", "back")
    ]


def test_silence_is_said_the_same_by_the_clock_and_by_the_next_datagram(samples: list[Sample]) -> None:
    logs = []
    for by_clock in (True, False):
        line, kept = line_and_log()
        for index, sample in enumerate(samples):
            late = 0.0 if index < 200 else 3.0
            if by_clock and index == 200:
                received = samples[199].t
                for tick in range(30):
                    line.silence(received + tick * 0.1)
            line.push(sample, sample.t + late)
        line.finish()
        logs.append([record(event) for event in kept.events])
        before, after = samples[199].t, samples[200].t
        assert lost_and_back(kept.events) == [("lost", before, before, None), ("back", before, before, after)]
    assert logs[0] == logs[1]


def test_a_silence_of_two_seconds_to_the_microsecond_is_none(samples: list[Sample]) -> None:
    line, kept = line_and_log()
    line.push(samples[0], 1000.0)
    line.push(samples[1], 1002.0000004)
    line.push(samples[2], 1004.000002)
    assert [what for what, *_ in lost_and_back(kept.events)] == ["lost", "back"]


def test_silence_before_the_first_sample_is_none() -> None:
    line, kept = line_and_log()
    line.silence(50.0)
    line.finish()
    assert kept.events == []


def test_an_action_is_logged_at_the_last_sample(samples: list[Sample]) -> None:
    line, kept = line_and_log()
    line.push(samples[0], 1.0)
    line.act("silence")
    actions = [event for event in kept.events if isinstance(event, Action)]
    assert [(action.t, action.action) for action in actions] == [(samples[0].t, "silence")]


def test_sinks_hear_only_what_is_logged(samples: list[Sample]) -> None:
    line, kept = line_and_log()
    for sample in samples:
        line.push(sample, sample.t)
    line.finish()
    assert kept.events and all(event.logged for event in kept.events)
