"""The summary's text, whole."""

from __future__ import annotations

import time
from typing import cast

from coach.app.console import line_of, plain, signed
from coach.app.keeping import Keeping
from coach.app.summary import Summary
from coach.app.telling.lines import WIDTH
from coach.review.collector import Collector
from coach.review.model import KeptSession
from coach.review.results import Thing
from coach.vocabulary.events import (
    Action,
    Cue,
    Detector,
    Event,
    Fault,
    Lap,
    Loss,
    LossPart,
    Passed,
    Reference,
    Run,
    Spoken,
    Stream,
)
from coach.vocabulary.laptime import lap_time
from coach.vocabulary.trace import LapTrace

TRACE = LapTrace(1000.0, 500.0, [0.0, 10.0, 20.0], [50.0] * 3, [1.0] * 3, [0.0] * 3, [0.0] * 3)


def told(*events: Event) -> str:
    summary = Summary()
    for event in events:
        summary.take(event)
    return summary.text()


def loss(lap: int, seconds: float) -> Loss:
    parts = (
        LossPart(1, "braking", seconds),
        LossPart(1, "entry", 0.0),
        LossPart(1, "exit", -0.0001),
        LossPart(1, "straight", 0.05, 0.02),
        LossPart(None, "straight", -0.1, None),
    )
    return Loss(lap * 60.0, lap, parts)


def cue(lap: int, spoken: bool, why_not: str | None = None) -> Cue:
    of = (Spoken(lap, 1, "late_throttle"),)
    return Cue(1.0, lap, "correction", "late_throttle", of, 1, "Throttle sooner", spoken, 1.0, 2.0, 3.0, why_not)


SESSION: list[Event] = [
    Run(0.0, 0, "0.1.0", "generic", "loop-a", "car-a", None, "en-us-175"),
    Detector(1.0, 0, "early_downshift", False, "engine_speed"),
    Stream(2.0, 1, "gap", 1.0, 2.0),
    Lap(60.0, 1, 66.5, None, False, ("standing_start", "off_track"), None, None),
    Reference(120.0, 2, 61.2344, "this session", TRACE),
    Lap(120.0, 2, 61.2344, 61.234, True, (), None, None),
    Fault(125.0, 3, "late_throttle", 1, 300.0, 124.0, 0.45, "s", 0.2, 0.18),
    cue(3, True),
    Lap(180.0, 3, 61.6464, 61.646, True, (), 0.412, 61.2344),
    loss(3, 0.462),
    Fault(185.0, 4, "late_throttle", 1, 300.0, 184.0, 0.25, "s", 0.1, None),
    cue(4, False, "no room before the corner came again"),
    Lap(240.0, 4, None, None, False, ("gap",), None, None),
]


def test_a_reference_that_was_chosen_while_driving_is_told_as_that() -> None:
    chosen = Reference(190.0, 3, 61.6464, "chosen lap", TRACE)
    text = told(*SESSION, chosen, Lap(300.0, 5, 61.5, None, True, (), -0.1464, 61.6464))
    assert "reference: 1:01.646, lap 3, chosen while driving\n" in text
    assert "each lap stands beside the reference that it had, 2 in all\n" in text
    assert "stands beside" not in told(*SESSION)


def test_a_whole_summary() -> None:
    assert told(*SESSION) == (
        """\
loop-a, car-a
4 laps ended, 2 clean
reference: 1:01.234, lap 2 of this session

LAPS
  lap        time   to the reference
    1    1:06.500          -            not clean: standing start, off track
    2    1:01.234          -
    3    1:01.646     +0.412
    4           -          -            not clean: gap

WHERE THE SECONDS ARE
Seconds against the reference over 1 whole lap, + is lost: the median of each
column, and in all their sum. The costliest place comes first. Of the straight,
(by exit) is what the speed at the corner's exit explains.
  place      braking    entry     exit  straight  (by exit)    a lap   in all
  turn 1      +0.462   +0.000   +0.000    +0.050     +0.020   +0.512   +0.512
  no corner        -        -        -    -0.100          -   -0.100   -0.100

FAULTS FOUND
Costs as told at the corner; NEXT TIME has what the whole laps lost by them.
  place      fault              times   cost s   median size        laps
  turn 1     late throttle          2    0.180   0.35 s             3 4

SAID
  about      words                              times   on laps
  turn 1     "Throttle sooner"                      1   3

HELD BACK
    1  no room before the corner came again

Not judged: early downshift, because this stream has no engine_speed.
The stream: gap 1.

NEXT TIME
  1. throttle sooner in turn 1: 0.26 s a lap
     In 2 of 2 passes, 0.26 s each time.
"""
    )


class Kept:
    """A drive's memory in which a session before this one ended with one thing, of turn 1."""

    def __init__(self) -> None:
        self.collector = Collector()
        for event in SESSION:
            self.collector.take(event)

    def sessions(self) -> list[KeptSession]:
        return self.collector.sessions

    def told_before(self, session: KeptSession) -> list[Thing]:
        assert session is self.collector.sessions[-1]
        return [Thing("late_throttle", 1, 0.4, 8, 8, 3.2, (1, 2), 0.4, "s", "In 8 of 8 passes, 0.40 s each time.")]


def test_with_a_memory_it_says_how_the_things_of_the_time_before_fared() -> None:
    summary = Summary()
    for event in [*SESSION, *[Passed(100.0 + 60.0 * lap, lap, 1, True, 0.0) for lap in range(1, 5)]]:
        summary.take(event)
    text = summary.text(cast(Keeping, Kept()))
    assert "\n\nHOW THE LAST ONES FARED\n  better   throttle sooner in turn 1\n           Before 8 of 8 passes" in text
    assert text.index("HOW THE LAST ONES FARED") < text.index("\nNEXT TIME\n")
    assert "HOW THE LAST ONES FARED" not in summary.text()


def test_next_time_is_about_the_last_session_in_which_a_lap_ended() -> None:
    again = Run(300.0, 0, "0.1.0", "generic", "loop-b", "car-a", None, "en-us-175")
    assert told(*SESSION, again).endswith("\nNEXT TIME" + told(*SESSION).rpartition("\nNEXT TIME")[2])
    text = told(*SESSION, again, Lap(400.0, 1, 66.5, None, True, (), None, None))
    assert text.endswith(
        "\nNEXT TIME\n  nothing yet: no corner was held against a reference; drive a few clean laps in\n  a row\n"
    )


def test_a_remembered_lap_is_named_once() -> None:
    """The memory says which lap it was; of a file it is not known but by its number."""
    for origin, words in (
        ("lap 2 of 2026-11-26", "lap 2 of 2026-11-26"),
        ("practice.cwrec", "lap 3 of practice.cwrec"),
    ):
        assert f"reference: 1:01.000, {words}\n" in told(*SESSION, Reference(300.0, 3, 61.0, origin, TRACE))


def test_nothing_came() -> None:
    assert told() == "No telemetry came, so there is nothing to sum up.\n"


def test_a_session_without_a_lap_says_so() -> None:
    text = told(SESSION[0])
    assert "0 laps ended, 0 clean\n" in text
    assert "reference: none" in text and "SAID\n  nothing\n" in text


def test_why_something_was_not_judged() -> None:
    mend = "let the source send 0 for a pedal at rest and 1 for one fully pressed"
    text = told(
        SESSION[0],
        Detector(1.0, 0, "early_downshift", False, "gearbox (assist)"),
        Detector(1.0, 0, "position", False, "lap_distance, or x and y"),
        Detector(1.0, 0, "late_throttle", False, "throttle"),
        Detector(2.0, 0, "late_throttle", True, None),
        Detector(2.0, 0, "brake_off", False, f"brake never under 0.12: {mend}"),
    )
    assert text.endswith(
        """
Not judged: early downshift, because the gearbox assist is on.
Not judged: position, because this stream has no lap_distance, or x and y.
Brake never under 0.12: let the source send 0 for a pedal at rest and 1 for one
fully pressed.
"""
    )


def test_only_the_first_of_many_tracks_are_named_and_their_number_costs_nothing() -> None:
    summary = Summary()
    for number in range(20_000):
        summary.take(Run(0.0, 0, "0.1.0", "generic", f"loop-{number}", "car-a", None, "en-us-175"))
        summary.take(Run(0.0, 0, "0.1.0", "generic", "loop-0", "car-a", None, "en-us-175"))
    start = time.perf_counter()
    text = summary.text()
    assert time.perf_counter() - start < 0.1
    heading = "loop-0, car-a\nloop-1, car-a\nloop-2, car-a\nand 19997 more\n0 laps ended"
    assert text.startswith(heading)


def test_it_stays_within_80_columns() -> None:
    events: list[Event] = [Run(0.0, 0, "0.1.0", "generic", "t" * 900, "c\x1b[31m\n" * 90, None, "en-us-175")]
    for lap in range(1, 40):
        why_not = ("off_track", "cut", "pit", "gap", "reset", "standing_start", "out_lap", "in_lap", "spin", "paused")
        events.append(Lap(lap * 60.0, lap, 3601.0, None, False, why_not, 1234.5, 61.0))
        events.append(Loss(lap * 60.0, lap, tuple(LossPart(n, "entry", -123.4) for n in range(30))))
        events.append(Fault(lap * 60.0, lap, "early_downshift", 33, 1.0, 1.0, 12345.678, "rev/min", 1.0, 99.0))
        events.append(cue(lap, True))
    text = told(*events)
    assert max(len(line) for line in text.splitlines()) <= WIDTH
    assert "\x1b" not in text


def test_numbers_as_a_person_reads_them() -> None:
    assert [lap_time(s) for s in (None, 0.0, 59.9994, 59.9996, 77.508, 3725.25)] == [
        "-",
        "0:00.000",
        "0:59.999",
        "1:00.000",
        "1:17.508",
        "62:05.250",
    ]
    assert [signed(s) for s in (None, 0.0, -0.0001, 0.4125, -1.0)] == ["-", "+0.000", "+0.000", "+0.412", "-1.000"]


def test_a_label_of_a_stream_is_made_safe_to_print() -> None:
    assert plain("loop\n\x1b[2Ja\ud800") == "loop??[2Ja?"
    assert len(plain("x" * 1000)) == 60


def test_lines_told_while_driving() -> None:
    assert [line_of(event) for event in SESSION] == [
        None,
        None,
        None,
        "lap 1  1:06.500  not clean: standing start, off track",
        None,
        "lap 2  1:01.234  clean",
        None,
        'lap 3  "Throttle sooner"',
        "lap 3  1:01.646  +0.412  clean",
        None,
        None,
        None,
        "lap 4  -  not clean: gap",
    ]


def test_what_an_instructor_asks_for_is_told_and_what_the_driver_presses_is_not() -> None:
    assert line_of(Action(61.0, 2, "topic late_throttle", by="instructor")) == (
        "lap 2  the instructor asks: topic late_throttle"
    )
    assert line_of(Action(61.0, 2, "mark")) is None
