"""After an incident: what upsets, and when the car counts as settled."""

from dataclasses import replace

import pytest

from coach.planner.settled import Settling
from coach.vocabulary.events import Fault, Moment
from tests.planner.made_circuit import drive, fault, knowing, lap_trace, planner, play, playbook
from tests.planner.session import cues, late, practise

BARE = {"reminders": False, "summary_every": 0, "focus": False, "praise": False}


def moment(t: float, speed: float | None, quiet: str = "") -> Moment:
    return Moment(t, 1, 0.0, speed, 1.0, 0.0, 0.0, quiet)


@pytest.mark.parametrize(("name", "upset"), [("spin", True), ("off_track", True), ("rear_step_out", False)])
def test_a_spin_and_an_excursion_upset_a_slide_that_was_caught_does_not(name: str, upset: bool) -> None:
    settling = Settling(3.0)
    settling.found(replace(fault(name), t=10.0))
    assert settling.is_upset is upset


def test_it_takes_its_seconds_and_four_fifths_of_the_references_speed() -> None:
    settling = Settling(3.0)
    settling.found(replace(fault("spin"), t=10.0))
    settling.update(moment(12.9, 50.0), 50.0)
    assert settling.is_upset
    settling.update(moment(15.0, 39.0), 50.0)
    assert settling.is_upset
    settling.update(moment(16.0, 41.0), 50.0)
    assert (settling.is_upset, settling.since) == (False, 16.0)


def test_where_no_speed_is_known_the_seconds_alone_count() -> None:
    for speed, reference in ((None, 50.0), (10.0, None)):
        settling = Settling(3.0)
        settling.found(replace(fault("spin"), t=10.0))
        settling.update(moment(13.0, speed), reference)
        assert not settling.is_upset


def test_the_seconds_count_from_when_the_car_is_back_on_the_road() -> None:
    settling = Settling(3.0)
    settling.update(moment(10.0, 50.0, "off"), 50.0)
    settling.update(moment(12.0, 50.0, "off"), 50.0)
    settling.update(moment(14.9, 50.0), 50.0)
    assert settling.is_upset
    settling.update(moment(15.0, 50.0), 50.0)
    assert not settling.is_upset


def test_a_car_that_was_put_elsewhere_is_settled() -> None:
    settling = Settling(3.0)
    settling.found(replace(fault("spin"), t=10.0))
    settling.reset()
    assert not settling.is_upset


def test_what_waited_for_the_car_to_settle_is_said_then_and_not_a_lap_later() -> None:
    """Its second and a half behind turn three is over by the time that the three seconds are."""
    found: dict[tuple[int, int], str | Fault] = {(1, 3): fault("spin", net=2.0, cost=2.0)}
    (cue,) = cues(practise(planner(book=playbook({"after_incident": 4.0}, **BARE)), 2, found))
    trace = lap_trace()
    assert cue.starts is not None
    assert cue.starts - 100.0 - trace.at(trace.time, 1240.0) == pytest.approx(4.0, abs=0.1)


def test_nothing_of_another_kind_is_said_to_a_driver_who_is_upset() -> None:
    """Off in turn one, 20 s of quiet; the straights behind turns one and three pass without a word."""
    found = late(1, corner=3) | {(1, 1): fault("off_track", net=2.0, cost=2.0)}
    events = practise(planner(book=playbook({"after_incident": 20.0}, **BARE)), 2, found)
    trace = lap_trace()
    assert all(
        cue.starts is not None and cue.starts >= 120.0 + trace.at(trace.time, 600.0) - 1e-6 for cue in cues(events)
    )
    assert cues(events)


def test_a_reset_ends_the_wait() -> None:
    plan = knowing(planner(book=playbook({"after_incident": 60.0}, **BARE)), lap_trace())
    before = play(plan, drive(lap_trace(), laps=0.5), (600.0, fault("spin", net=2.0)), finish=False)
    after = play(plan, drive(lap_trace(), laps=1, t=90.0), (600.0, fault()))
    assert [cue.spoken for cue in before] == []
    assert [(cue.about, cue.spoken) for cue in after] == [("spin", False), ("late_throttle", True)]
