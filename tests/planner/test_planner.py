from collections.abc import Callable
from dataclasses import replace

import pytest

from coach.planner import rules
from coach.planner.planner import Planner
from coach.vocabulary.events import Corners, Cue, Detector, Lap, Moment, Reference, Run, Spoken, Stream
from tests.planner.made_circuit import (
    MARKS,
    PARTS,
    Part,
    drive,
    fault,
    knowing,
    lap_trace,
    leaving,
    planner,
    play,
    unkept,
)

TRACE = lap_trace()
T0 = 100.0
FULL = T0 + TRACE.at(TRACE.time, 560.0)
"""s: the throttle is full from the exit of turn one on; the corner ends at 600 m."""


def in_piece(start: float, end: float, **values: float | str | None) -> Callable[[Moment], Moment]:
    """Changes the moments between two places (m), on lap 1."""

    def change(moment: Moment) -> Moment:
        inside = moment.lap == 1 and moment.distance is not None and start <= moment.distance < end
        return replace(moment, **values) if inside else moment  # type: ignore[arg-type]

    return change


def said(cues: list[Cue]) -> list[tuple[str, int]]:
    return [(cue.text, cue.lap) for cue in cues if cue.spoken]


def only(cues: list[Cue]) -> Cue:
    assert len(cues) == 1
    return cues[0]


def test_a_late_throttle_is_spoken_of_behind_its_own_corner() -> None:
    cue = only(play(knowing(planner(), TRACE), drive(TRACE), (600.0, fault(cost=0.3))))
    assert (cue.kind, cue.about, cue.text, cue.corner) == ("correction", "late_throttle", "Throttle sooner", 1)
    assert cue.of == (Spoken(1, 1, "late_throttle"),)
    assert cue.spoken and cue.why_not is None
    assert cue.starts is not None and cue.ends is not None and cue.deadline is not None
    assert cue.t == cue.starts
    assert FULL + 0.5 <= cue.starts <= FULL + 1.5
    assert cue.ends == cue.starts + 0.8
    assert cue.deadline == pytest.approx(T0 + TRACE.at(TRACE.time, 898.0), abs=0.1)


def test_where_the_next_straight_is_too_short_the_cue_waits_and_names_its_corner() -> None:
    finding = fault(corner=2, distance=1000.0)
    cue = only(play(knowing(planner(), TRACE), drive(TRACE), (1060.0, finding)))
    full = T0 + TRACE.at(TRACE.time, 1200.0)
    assert cue.text == "Throttle sooner, turn two"
    assert cue.starts is not None and full + 0.5 <= cue.starts <= full + 1.5


def test_of_one_corner_pass_only_the_costliest_is_spoken() -> None:
    cheap, dear = fault("over_slowed", cost=0.1), fault("late_throttle", cost=0.3)
    for pair in ((cheap, dear), (dear, cheap)):
        cues = play(knowing(planner(), TRACE), drive(TRACE), *[(600.0, found) for found in pair])
        assert [(cue.about, cue.spoken, cue.why_not) for cue in cues] == [
            ("over_slowed", False, "another cue for this corner"),
            ("late_throttle", True, None),
        ]


def test_a_finding_that_comes_when_its_corner_was_spoken_of_is_held_back() -> None:
    late = (850.0, fault("throttle_lift", cost=0.9))
    cues = play(knowing(planner(), TRACE), drive(TRACE), (600.0, fault()), late)
    assert [(cue.spoken, cue.why_not) for cue in cues] == [(True, None), (False, "another cue for this corner")]


def test_the_costliest_corner_of_a_linked_run_comes_first_the_other_on_a_later_straight() -> None:
    findings = (1060.0, fault(corner=2, cost=0.1)), (1240.0, fault("over_slowed", corner=3, cost=0.3, distance=1165.0))
    cues = play(knowing(planner(), TRACE), drive(TRACE, laps=2), *findings)
    assert said(cues) == [("Carry more speed", 1), ("Throttle sooner, turn two", 2)]


@pytest.mark.parametrize(
    ("found", "reason"),
    [
        (fault(net=0.01), "costs nothing"),
        (fault(net=None, cost=None), "no reference to price it"),
        (fault("coasting"), "not in focus"),
    ],
)
def test_what_is_not_worth_saying_is_logged_at_once_with_its_reason(found: object, reason: str) -> None:
    plan = knowing(planner(focus=("late_throttle",)), TRACE)
    cue = only(play(plan, drive(TRACE), (600.0, found), finish=False))  # type: ignore[arg-type]
    assert (cue.spoken, cue.starts, cue.ends, cue.deadline, cue.why_not) == (False, None, None, None, reason)
    assert cue.text


def test_a_finding_without_a_price_does_not_displace_one_that_has() -> None:
    findings = (600.0, fault("late_throttle", cost=0.1)), (600.0, fault("over_slowed", net=0.0, cost=0.5))
    cues = play(knowing(planner(), TRACE), drive(TRACE), *findings)
    assert said(cues) == [("Throttle sooner", 1)]


def test_a_straight_has_one_cue_whatever_is_found_on_it_later() -> None:
    findings = (1240.0, fault(corner=3, distance=1165.0)), (1700.0, fault("late_upshift", corner=None, distance=1650.0))
    cues = play(knowing(planner(), TRACE), drive(TRACE, laps=2), *findings)
    assert said(cues) == [("Throttle sooner", 1), ("Shift up sooner", 2)]
    assert cues[1].starts is not None and cues[1].starts > T0 + TRACE.time[-1] + TRACE.at(TRACE.time, 560.0)


def test_between_two_cues_is_silence() -> None:
    """A bend in the middle of a straight ends the room there, and begins it anew a second later."""
    bent = lap_trace([*PARTS[:-1], Part(150, 55.0), Part(20, 55.0, lateral=15.0), Part(590, 55.0)])
    findings = (1240.0, fault(corner=3, cost=0.9)), (1240.0, fault("over_slowed", corner=2, cost=0.1))
    first, second = play(knowing(planner(seconds=1.5), bent), drive(bent), *findings)
    assert (first.text, second.text) == ("Throttle sooner", "Carry more speed, turn two")
    assert first.ends is not None and second.starts is not None
    assert second.starts == pytest.approx(first.ends + rules.GAP, abs=0.021)
    bend = T0 + bent.at(bent.time, 1410.0)
    assert bend < second.starts < bend + 1.5


def test_an_older_finding_does_not_take_the_straight_from_a_corner_that_is_not_over() -> None:
    """Turn three opens so early that there is room before its exit, where what was found in it becomes known."""
    parts = (*PARTS[:-2], Part(160, 40.0, lateral=5.0), PARTS[-1])
    opening = lap_trace(parts)
    marks = (*MARKS[:2], replace(MARKS[2], exit=1360.0))
    findings = (1060.0, fault("over_slowed", corner=2, cost=0.1)), (1360.0, fault(corner=3, cost=0.5))
    cues = play(knowing(planner(), opening, marks), drive(opening), *findings)
    assert said(cues) == [("Throttle sooner", 1)]


def test_nothing_starts_within_the_cut_of_a_gear_change() -> None:
    cut = in_piece(1600.0, 1612.0, throttle=0.0)
    found = (1600.0, fault(corner=3, distance=1165.0))
    cue = only(play(knowing(planner(), TRACE), drive(TRACE, change=cut), found))
    assert cue.starts == pytest.approx(T0 + TRACE.at(TRACE.time, 1612.0), abs=0.021)


def test_a_fault_on_a_straight_is_spoken_of_without_a_corner() -> None:
    finding = fault("late_upshift", corner=None, distance=1500.0)
    cues = play(knowing(planner(), TRACE), drive(TRACE, laps=2), (1500.0, finding))
    assert said(cues)[0][0] == "Shift up sooner"


def test_one_decided_far_behind_full_throttle_is_spoken_at_once() -> None:
    cue = only(play(knowing(planner(), TRACE), drive(TRACE), (1600.0, fault(corner=3, distance=1165.0))))
    decided = T0 + TRACE.at(TRACE.time, 1600.0)
    assert cue.starts == pytest.approx(decided, abs=0.05)
    assert cue.text == "Throttle sooner"


def test_an_older_finding_whose_moment_has_gone_waits_for_the_next_straight() -> None:
    """Room for the older one is 0.5 to 1.5 s after full throttle; a yellow flag keeps it silent there."""
    flag = in_piece(1200.0, 1400.0, quiet="yellow")
    cues = play(knowing(planner(), TRACE), drive(TRACE, laps=2, change=flag), (1060.0, fault(corner=2)))
    assert said(cues) == [("Throttle sooner, turn two", 2)]


def test_where_only_a_shorter_wording_fits_that_is_said() -> None:
    plan = planner(lengths={"Carry more speed": 5.2, "More speed": 0.6})
    cues = play(knowing(plan, TRACE), drive(TRACE), (600.0, fault("over_slowed")))
    assert said(cues) == [("More speed", 1)]


def test_a_wording_over_the_cap_gives_way_although_it_fits() -> None:
    plan = planner(lengths={"Carry more speed": rules.LONGEST + 0.1, "More speed": 1.0})
    cues = play(knowing(plan, TRACE), drive(TRACE), (600.0, fault("over_slowed")))
    assert said(cues) == [("More speed", 1)]


def test_what_fits_nowhere_is_held_back_before_its_corner_comes_again() -> None:
    plan = knowing(planner(seconds=40.0), TRACE)
    cue = only(play(plan, drive(TRACE, laps=2), (600.0, fault()), finish=False))
    assert cue.why_not == "no room before the corner came again"
    again = T0 + TRACE.time[-1] + TRACE.at(TRACE.time, MARKS[0].brake)
    assert again - rules.SIGHT - 0.1 <= cue.t < again
    assert cue.lap == 2


def test_a_newer_reason_is_given_where_only_silence_kept_it_back() -> None:
    cues = play(
        knowing(planner(), TRACE),
        drive(TRACE, laps=2, change=lambda moment: replace(moment, quiet="beside")),
        (600.0, fault()),
    )
    assert only(cues).why_not == "silent: beside"


@pytest.mark.parametrize("what", ["reset", "rewind", "teleport", "pit", "pause", "source"])
def test_a_break_in_the_stream_clears_what_waits(what: str) -> None:
    plan = knowing(planner(), TRACE)
    moments = list(drive(TRACE))
    play(plan, moments[:400], finish=False)
    assert plan.push(replace(fault(corner=3), t=moments[399].t)) == []
    (cue,) = plan.push(Stream(moments[400].t, 1, what, None, None))
    assert isinstance(cue, Cue)
    assert not cue.spoken and cue.why_not
    assert unkept(plan.finish()) == []


@pytest.mark.parametrize("what", ["gap", "late", "duplicate", "lost", "back"])
def test_a_hiccup_of_the_stream_clears_nothing(what: str) -> None:
    plan = knowing(planner(), TRACE)
    plan.push(next(drive(TRACE)))
    assert plan.push(replace(fault(), t=100.0)) == []
    assert plan.push(Stream(100.1, 1, what, None, None)) == []
    (cue,) = unkept(plan.finish())
    assert isinstance(cue, Cue) and cue.why_not == "the run ended first"


def test_a_clock_that_steps_back_is_a_rewind_and_the_planner_goes_on() -> None:
    plan = knowing(planner(), TRACE)
    first = play(plan, drive(TRACE), (600.0, fault()), (1060.0, fault(corner=2)), finish=False)
    assert said(first) == [("Throttle sooner", 1), ("Throttle sooner, turn two", 1)]
    assert plan.push(replace(fault(corner=3), t=150.0)) == []
    again = play(plan, drive(TRACE, t=T0 - 50), (600.0, fault()))
    assert [(cue.spoken, cue.why_not) for cue in again] == [(False, "the session was rewound"), (True, None)]


def test_without_any_lap_to_time_it_by_a_finding_is_held_back() -> None:
    cue = only(play(planner(), drive(TRACE), (600.0, fault("early_downshift")), finish=False))
    assert cue.why_not == "no lap known yet to time it by"


def test_before_there_is_a_reference_the_lap_of_the_map_says_where_there_is_room() -> None:
    plan = planner()
    plan.push(Corners(0.0, 0, "made", MARKS, TRACE))
    cue = only(play(plan, drive(TRACE), (600.0, fault("early_downshift", net=None, cost=None))))
    assert cue.spoken and cue.text == "Shift down later"


def test_a_new_session_forgets_the_circuit() -> None:
    plan = knowing(planner(), TRACE)
    plan.push(replace(fault(), t=1.0))
    (cue,) = plan.push(Run(2.0, 0, "0", "made", None, None, None, "made"))
    assert isinstance(cue, Cue) and cue.why_not == "a new session began"
    assert only(play(plan, drive(TRACE), (600.0, fault()))).why_not == "no lap known yet to time it by"


def test_a_refused_reference_is_forgotten() -> None:
    plan = knowing(planner(), TRACE)
    assert plan.push(Detector(1.0, 0, "reference", False, "it is a lap of another circuit")) == []
    assert only(play(plan, drive(TRACE), (600.0, fault()))).why_not == "no lap known yet to time it by"


@pytest.mark.parametrize("channel", ["distance", "throttle"])
def test_without_place_or_throttle_nothing_is_said(channel: str) -> None:
    plan = knowing(planner(), TRACE)
    moments = list(drive(TRACE))
    cues = play(plan, moments[:300], finish=False)
    plan.push(replace(fault(), t=moments[299].t))
    cues += play(plan, [replace(moment, **{channel: None}) for moment in moments[300:]])  # type: ignore[arg-type]
    assert only(cues).why_not == "the run ended first"


def test_what_waits_while_the_place_stays_unknown_is_given_up_in_the_end() -> None:
    plan = knowing(planner(), TRACE)
    plan.push(replace(fault(), t=T0))
    moments = (replace(moment, distance=None) for moment in drive(TRACE, laps=3))
    assert only(play(plan, moments, finish=False)).why_not == "no room before the corner came again"


@pytest.mark.parametrize("channel", ["speed", "brake", "lateral"])
def test_a_channel_that_the_source_lacks_does_not_silence_the_coach(channel: str) -> None:
    plan = knowing(planner(), TRACE)
    moments = (replace(moment, **{channel: None}) for moment in drive(TRACE))  # type: ignore[arg-type]
    assert said(play(plan, moments, (600.0, fault()))) == [("Throttle sooner", 1)]


def test_a_corner_that_still_loads_the_car_long_after_full_throttle_delays_the_cue() -> None:
    parts = [Part(160, 40.0, lateral=12.0) if part == leaving(40) else part for part in PARTS]
    long_exit = lap_trace(parts)
    cue = only(play(knowing(planner(), long_exit, ()), drive(long_exit), (620.0, fault())))
    assert cue.starts == pytest.approx(T0 + long_exit.at(long_exit.time, 720.0) + rules.CALM, abs=0.05)
    assert cue.text == "Throttle sooner, turn one"


@pytest.mark.parametrize("held", [{"brake": 0.1}, {"lateral": -10.0}, {"throttle": 0.9}, {"quiet": "off"}])
def test_a_driver_who_is_still_busy_is_left_alone(held: dict[str, float | str]) -> None:
    busy_until = 680.0
    change = in_piece(560.0, busy_until, **held)
    cue = only(play(knowing(planner(), TRACE), drive(TRACE, change=change), (600.0, fault())))
    assert cue.starts is not None
    assert cue.starts >= T0 + TRACE.at(TRACE.time, busy_until)


def test_the_cut_of_a_gear_change_does_not_begin_the_half_second_anew() -> None:
    cut = in_piece(580.0, 585.0, throttle=0.0)
    cue = only(play(knowing(planner(), TRACE), drive(TRACE, change=cut), (600.0, fault())))
    uncut = only(play(knowing(planner(), TRACE), drive(TRACE), (600.0, fault())))
    assert cue.starts == uncut.starts


def test_a_driver_who_brakes_sooner_than_the_reference_is_not_spoken_to_under_brakes() -> None:
    def brakes_soon(moment: Moment) -> Moment:
        soon = moment.distance is not None and 640.0 <= moment.distance < 900.0
        return replace(moment, throttle=0.0, brake=0.5) if soon else moment

    plan = knowing(planner(), TRACE)
    cues = play(plan, drive(TRACE, laps=2, change=brakes_soon), (600.0, fault(lap=2)))
    assert said(cues) == [("Throttle sooner, turn one", 2)], (
        "lap 1 showed that the straight ends at 640 m: no room there"
    )


def test_a_quicker_driver_meets_the_deadline_sooner_and_a_slower_one_is_not_trusted_to_be_later() -> None:
    left = {}
    for pace in (0.8, 1.0, 1.25):
        cue = only(play(knowing(planner(), TRACE), drive(TRACE, pace=pace), (600.0, fault())))
        assert cue.starts is not None and cue.deadline is not None
        begun = T0 + (TRACE.at(TRACE.time, 560.0)) / pace
        place = 600.0 + (cue.starts - begun - 40 / 40 / pace) * 45 * pace
        left[pace] = (cue.deadline - cue.starts, (898.0 - place) / 45)
    assert left[1.0][0] == pytest.approx(left[1.0][1], abs=0.1)
    assert left[0.8][0] == pytest.approx(left[0.8][1], abs=0.1)
    assert left[1.25][0] == pytest.approx(left[1.25][1] / 1.25, abs=0.1)


@pytest.mark.parametrize("rate", [20.0, 50.0, 360.0])
def test_any_rate_of_samples_says_the_same_at_the_same_time(rate: float) -> None:
    findings = (600.0, fault()), (1060.0, fault("over_slowed", corner=2))
    cues = play(knowing(planner(), TRACE), drive(TRACE, laps=2, rate=rate), *findings)
    assert said(cues) == [("Throttle sooner", 1), ("Carry more speed, turn two", 1)]
    fine = play(knowing(planner(), TRACE), drive(TRACE, laps=2, rate=1000.0), *findings)
    assert [cue.starts for cue in cues] == pytest.approx([cue.starts for cue in fine], abs=3 / rate)


@pytest.mark.parametrize("t", [-4096.0, 0.0, 65536.0])
def test_the_clock_may_begin_anywhere(t: float) -> None:
    findings = (600.0, fault()), (1060.0, fault("over_slowed", corner=2))
    here = play(knowing(planner(), TRACE), drive(TRACE, laps=2, t=t), *findings)
    there = play(knowing(planner(), TRACE), drive(TRACE, laps=2, t=T0), *findings)
    assert said(here) == said(there) != []
    starts = [cue.starts - t for cue in here if cue.starts is not None]
    assert starts == pytest.approx([cue.starts - T0 for cue in there if cue.starts is not None], abs=1e-6)


def test_a_reference_that_changes_on_the_straight_does_not_give_it_a_second_cue() -> None:
    plan = knowing(planner(), TRACE)
    first = play(plan, drive(TRACE), (1060.0, fault(corner=2)), (1240.0, fault("coasting", 3, cost=0.1)), finish=False)
    assert said(first) == [("Throttle sooner, turn two", 1)]
    t = T0 + TRACE.time[-1]
    plan.push(Lap(t, 1, TRACE.time[-1], None, True, (), 0.0, None))
    slower = lap_trace([replace(part, speed=part.speed * 0.98) for part in PARTS])
    plan.push(Reference(t, 1, slower.time[-1], "lap", slower))
    straight = (moment for moment in drive(TRACE, t=t) if moment.distance is not None and moment.distance < 400)
    assert play(plan, straight, (100.0, fault("late_upshift", None)), finish=False) == []


def test_a_lap_shorter_than_any_phrase_only_holds_back() -> None:
    tiny = lap_trace([replace(part, metres=part.metres / 20) for part in PARTS], step=0.1)
    cues = play(planner_of(tiny), drive(tiny, laps=3, rate=360.0), (30.0, fault(distance=26.0)))
    assert [cue.spoken for cue in cues] == [False]


def planner_of(trace: object) -> Planner:
    return knowing(planner(), trace, ())  # type: ignore[arg-type]


def test_a_reference_that_holds_no_lap_is_passed_over() -> None:
    plan = planner()
    empty = replace(TRACE, time=[], speed=[], throttle=[], brake=[], lateral=[])
    plan.push(Reference(0.0, 0, 0.0, "file", empty))
    assert only(play(plan, drive(TRACE), (600.0, fault()))).why_not == "no lap known yet to time it by"


def test_finish_before_anything_is_nothing() -> None:
    assert planner().finish() == []
