"""What each stage asks, and that it is earned by that and by nothing less."""

from __future__ import annotations

import random
import re
from statistics import stdev

import pytest
from scipy.stats import theilslopes

from coach.practice.evidence import Evidence, Verdict
from coach.practice.rehearse import falls_off, steadiness
from coach.practice.tally import Tally
from coach.vocabulary.events import Fault, Stores
from coach.vocabulary.marks import APEX, BRAKE, EXIT
from coach.vocabulary.stages import CLEAN, LEARN, PACE, REHEARSE, STAGES
from tests.practice.laps_made import drive, passed

STEADY, HUMAN = (-1.5, 1.0, 0.5, -0.5, 1.5), (-6.0, 5.0, 3.0, -4.0, 4.5)
"""m: brake points of a steady driver and of one with a person's scatter, 1.3 and 5.1 m of standard deviation."""


def verdict(stage: str, *laps: dict[str, object]) -> Verdict:
    evidence = Evidence()
    for one in laps:
        drive(evidence, **one)  # type: ignore[arg-type]
    return evidence.verdict(stage)


def lacks(found: Verdict) -> str:
    return "; ".join(found.lacking)


def test_every_stage_has_a_verdict_from_the_first_lap_on_and_before_it() -> None:
    for stage in STAGES:
        for laps in (0, 1, 2):
            found = verdict(stage, {"laps": laps})
            assert not found.earned, (stage, laps)
            assert found.lacking
            assert set(found.lacking) <= set(found.evidence)


def test_learn_asks_for_three_laps_on_the_road_the_same_way_round() -> None:
    assert lacks(verdict(LEARN, {"laps": 2})) == "2 clean laps in a row, 3 are needed"
    assert verdict(LEARN, {"laps": 3, "off": HUMAN}).earned
    lost = verdict(LEARN, {"laps": 4, "off": (-15.0, 12.0, 3.0)})
    assert not lost.earned
    assert "brake points lie within" in lacks(lost)


def test_learn_can_be_earned_from_a_source_that_shows_no_marks() -> None:
    assert verdict(LEARN, {"laps": 3, "corners": 0}).earned
    assert not verdict(LEARN, {"laps": 2, "corners": 0}).earned


def test_clean_asks_for_five_laps_marks_and_a_small_spread() -> None:
    assert verdict(CLEAN, {"laps": 5, "off": STEADY}).earned
    assert lacks(verdict(CLEAN, {"laps": 4, "off": STEADY})) == "4 clean laps in a row, 5 are needed"
    wild = verdict(CLEAN, {"laps": 10, "off": HUMAN})
    assert not wild.earned
    assert "brake points scatter by 5.1 m, 3.0 m at most" in lacks(wild)
    assert stdev(HUMAN) == pytest.approx(5.1, abs=0.05)


def test_clean_is_not_earned_by_marks_that_are_missed_alike_each_time() -> None:
    """8 m late everywhere: no spread at all, and two marks of three are hit."""
    same = verdict(CLEAN, {"laps": 5, "off": (8.0,)})
    assert not same.earned
    assert lacks(same) == "60 of 90 marks hit in the last laps, 80 % are needed"


def test_no_sentence_of_clean_holds_a_time() -> None:
    for laps in range(7):
        for off in (STEADY, HUMAN):
            text = " ".join(verdict(CLEAN, {"laps": laps, "off": off, "time": 83.217}).evidence)
            assert "83" not in text
            assert not re.search(r"\d s\b|\d:\d", text)


def test_pace_asks_for_five_laps_near_the_best_and_no_topic() -> None:
    evidence = Evidence()
    drive(evidence, 1, time=89.0)
    drive(evidence, 4, time=89.5)
    assert evidence.verdict(PACE).earned
    evidence.topic = "late_throttle"
    assert evidence.verdict(PACE).lacking == ("late throttle is not mended yet",)
    evidence.topic = None
    drive(evidence, 3, time=90.5)
    assert lacks(evidence.verdict(PACE)) == "the median of the last 5 is 1.7 % slower than the best, 1 % at most"


def test_pace_takes_no_time_of_a_lap_that_was_not_clean() -> None:
    evidence = Evidence()
    drive(evidence, 5, time=90.0)
    drive(evidence, 1, time=70.0, clean=False, why_not=("cut",))
    assert evidence.verdict(PACE).earned


def stint(*times: float, fuel: float | None = None) -> Evidence:
    evidence = Evidence()
    for time in times:
        drive(evidence, 1, time=time, fuel=fuel)
    return evidence


def test_rehearse_asks_for_the_length_of_the_race() -> None:
    ten = [90.0, 90.2, 89.9, 90.1, 90.0, 90.1, 89.9, 90.2, 90.0, 90.1]
    assert stint(*ten).verdict(REHEARSE).earned
    nine = stint(*ten[:9]).verdict(REHEARSE)
    assert lacks(nine) == "a stint of 9 clean laps, 10 are needed"
    short = Evidence()
    short.stores(Stores(0.0, 1, None, 5.0, None))
    for time in ten[:5]:
        drive(short, 1, time=time)
    assert short.verdict(REHEARSE).earned
    long = Evidence()
    long.stores(Stores(0.0, 1, None, 60.0, None))
    for time in ten:
        drive(long, 1, time=time)
    assert "20 are needed" in lacks(long.verdict(REHEARSE))


def test_rehearse_a_spoilt_lap_begins_the_stint_anew() -> None:
    evidence = stint(*[90.0] * 9)
    drive(evidence, 1, time=93.0, clean=False, why_not=("off_track",))
    drive(evidence, 4, time=90.0)
    assert "a stint of 4 clean laps, 10 are needed" in lacks(evidence.verdict(REHEARSE))


def test_rehearse_laps_that_scatter_or_fall_off_do_not_earn_it() -> None:
    wild = stint(*[89.0, 91.0] * 5)
    assert "lap times scatter by 1.17 %" in lacks(wild.verdict(REHEARSE))
    assert steadiness(wild) == (False, False)
    tired = stint(*[90.0 + 0.12 * lap for lap in range(10)])
    assert "each lap is 0.12 s slower than the one before" in lacks(tired.verdict(REHEARSE))
    assert steadiness(tired) == (True, True)


def test_rehearse_fuel_that_does_not_last_is_told_with_what_it_lacks() -> None:
    evidence = stint(*[90.0] * 10, fuel=2.5)
    evidence.stores(Stores(0.0, 11, 24.0, 10.0, None))
    assert lacks(evidence.verdict(REHEARSE)).endswith("2.50 L of fuel a lap, 24.0 L for 10 laps: 1.0 L short")
    evidence.stores(Stores(0.0, 11, 25.0, 10.0, None))
    assert evidence.verdict(REHEARSE).earned or "20 are needed" in lacks(evidence.verdict(REHEARSE))
    assert any(text.endswith("25.0 L for 10 laps: it lasts") for text in evidence.verdict(REHEARSE).evidence)


def test_the_fall_off_is_the_theil_sen_slope() -> None:
    """scipy.stats.theilslopes (Sen 1968, J Am Stat Assoc 63:1379)."""
    chance = random.Random(4)
    for laps in (2, 3, 7, 12):
        times = [90.0 + 0.05 * lap + chance.gauss(0.0, 0.3) for lap in range(laps)]
        assert falls_off(times) == pytest.approx(float(theilslopes(times).slope), abs=1e-12)
    assert falls_off([90.0]) == 0.0


def test_the_tally_counts_hits_and_spreads_by_corner() -> None:
    tally = Tally([passed(2, 1, brake=-6.0), passed(2, 2, brake=1.0), passed(2, 3, brake=2.0), passed(1, 1, exit=2.0)])
    assert [(row.corner, row.name) for row in tally.rows[:4]] == [(1, BRAKE), (1, APEX), (1, EXIT), (2, BRAKE)]
    assert (tally.told, tally.hit) == (12, 10)
    brakes = tally.rows[3]
    assert (brakes.passes, brakes.hit) == (3, 2)
    assert brakes.spread == pytest.approx(stdev([-6.0, 1.0, 2.0]))  # the standard library's
    assert tally.rows[0].spread is None
    widest = tally.widest(BRAKE, APEX, EXIT)
    assert widest is not None
    assert (widest.corner, widest.name) == (2, BRAKE)


def test_a_kept_session_and_a_live_one_give_the_same_verdict() -> None:
    """The same calls, with what is only known live left out: stage clean does not look at it."""
    live, kept = Evidence(), Evidence()
    for lap in range(6):
        for evidence in (live, kept):
            for corner in range(1, 7):
                evidence.passed(passed(corner, lap, brake=STEADY[lap % 5]))
            if lap == 2:
                evidence.found(Fault(0.0, lap, "off_track", 3, 200.0))
        live.stores(Stores(0.0, lap, 40.0 - lap, None, None))
        live.lap_over(90.0, lap != 2, ("off_track",) if lap == 2 else ())
        kept.lap_over(90.0, lap != 2, ("off_track",) if lap == 2 else ())
    assert live.verdict(CLEAN) == kept.verdict(CLEAN)
    assert live.row.count == 3
