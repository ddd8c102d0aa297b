"""The three things, their seconds, and how they fared. Thresholds are choices of `coach/review/things.py`."""

from __future__ import annotations

import pytest

from coach.review.costs import GIVEN_UP
from coach.review.results import BETTER, MENDED, SAME, UNKNOWN, WORSE, Thing
from coach.review.things import fared, things
from coach.review.words import thing_words
from coach.vocabulary.events import LossPart
from coach.vocabulary.faults import FAULTS
from tests.review.made import Did, Drove, session


def pairs(found: list[Thing]) -> list[tuple[str, int | None]]:
    return [(thing.fault, thing.corner) for thing in found]


def coasts(*laps: bool, corner: int = 2, cost: float = 0.2) -> list[Drove]:
    return [Drove((Did("coasting", corner, cost),)) if hit else Drove() for hit in laps]


def test_the_dearest_pairs_first_by_what_they_cost_in_all() -> None:
    """Truth by hand: coasting 3 x 0.2 s, late throttle 2 x 0.25 s, early braking once 0.4 s, narrow exit once 0.3 s."""
    found = things(
        session(
            Drove((Did("coasting", 2), Did("late_throttle", 3, 0.25))),
            Drove((Did("coasting", 2), Did("early_braking", 1, 0.4))),
            Drove((Did("coasting", 2), Did("narrow_exit", 4, 0.3))),
            Drove((Did("late_throttle", 3, 0.25),)),
            Drove(),
        )
    )
    assert pairs(found) == [("coasting", 2), ("late_throttle", 3), ("early_braking", 1)]
    first = found[0]
    assert (first.total, first.seconds) == (pytest.approx(0.6), pytest.approx(0.12))
    assert (first.times, first.passes, first.laps, first.unit) == (3, 5, (1, 2, 3), "s")
    assert first.why == "In 3 of 5 passes, 0.20 s each time."
    assert found[2].why == "Once in 5 passes, in lap 2: 0.40 s."


def test_what_costs_nothing_to_speak_of_is_no_thing() -> None:
    """A net under 0.03 s is never spoken of (contract, section 5)."""
    assert things(session(*[Drove((Did("coasting", 2, 0.02),))] * 4)) == []
    assert things(session(*coasts(*[True] + [False] * 40, cost=0.1))) == []  # 0.0025 s a lap


def test_what_hurts_sooner_or_later_fills_the_list_where_it_is_a_habit() -> None:
    locks = Drove((Did("lock_up", 1, 0.0),))
    assert pairs(things(session(locks, locks, Drove((Did("coasting", 2),))))) == [("coasting", 2), ("lock_up", 1)]
    assert things(session(locks, Drove(), Drove())) == []  # once is chance


def test_a_spin_costs_what_the_lap_lost_there() -> None:
    spun = Drove((Did("spin", 3, None),), clean=False, why_not=("spin",), lost={3: 6.5})
    (spin,) = things(session(spun, Drove(), Drove(), Drove()))
    assert (spin.fault, spin.total, spin.seconds) == ("spin", pytest.approx(6.5), pytest.approx(6.5 / 4))
    assert spin.why.endswith("it spoilt 1 lap.")


def test_a_pass_over_the_line_is_one_pass() -> None:
    """The straight behind the last corner ends in the next lap; a corner may be braked for before the line."""
    spun = Did("spin", 4, None)
    made = session(Drove((spun,), lost={4: 1.0}), Drove((Did("spin", 1, None),)), Drove())
    behind = LossPart(4, "straight", 2.0)
    made.laps[1].parts = (behind, *made.laps[1].parts)
    made.laps[0].parts = (LossPart(4, "straight", 50.0), *made.laps[0].parts)  # of a pass before the session
    assert {thing.corner: thing.total for thing in things(made)} == {4: pytest.approx(3.0)}

    made = session(Drove(lost={4: 0.0}), Drove((Did("spin", 1, None),), lost={1: 1.0}))
    lead = LossPart(1, "braking", 2.0)
    made.laps[0].parts = (*made.laps[0].parts, lead)
    assert {thing.corner: thing.total for thing in things(made)} == {1: pytest.approx(3.0)}
    made.laps[1].faults[0].distance, made.laps[1].faults[0].lap = 990.0, 1  # begun before the line: of the lap before
    made.laps[0].faults[:] = made.laps[1].faults
    made.laps[1].faults.clear()
    assert {thing.corner: thing.total for thing in things(made)} == {1: pytest.approx(3.0)}


def test_a_lap_that_was_given_up_for_a_spin_is_counted() -> None:
    (spin,) = things(session(Drove(), Drove(), Drove((Did("spin", 1, None),), ends=False)))
    assert spin.total == GIVEN_UP
    assert "given up" in spin.why


def test_an_off_that_was_priced_is_not_counted_as_a_lap_given_up() -> None:
    """The last lap of a session never ends, and nobody gave it up for a slip."""
    (off,) = things(session(Drove(), Drove(), Drove((Did("off_track", 1, 0.1),), ends=False)))
    assert off.total == pytest.approx(0.1)


def test_what_belongs_to_no_corner_is_counted_by_laps() -> None:
    shifts = Drove((Did("early_upshift", None, 0.2),))
    (thing,) = things(session(shifts, shifts, Drove(), Drove(judged=False)))
    assert (thing.corner, thing.times, thing.passes) == (None, 2, 3)
    assert thing.why == "In 2 of 3 laps, 0.20 s each time."


def test_a_spin_that_ends_off_the_road_is_one_trouble() -> None:
    both = (Did("spin", 3, None), Did("off_track", 3, None))
    found = things(session(Drove(both, clean=False, why_not=("off_track", "spin"), lost={3: 6.5}), Drove()))
    assert sum(thing.total for thing in found) == pytest.approx(6.5)


def test_speed_that_is_missing_at_the_exit_is_missing_in_the_bend_behind() -> None:
    """Corner 3 is reached without braking: what corner 2 lost there, beyond the usual, was made in corner 2."""
    carried = Drove((Did("throttle_lift", 2, 0.2),), lost={3: 0.3})
    made = session(*[Drove()] * 3, carried)
    assert things(made)[0].total == pytest.approx(0.2)  # braked for in between
    made.corners = tuple(
        mark
        if mark.corner != 3
        else type(mark)(3, mark.direction, mark.entry, mark.entry, mark.apex, mark.exit, mark.apexes)
        for mark in made.corners
    )
    assert things(made)[0].total == pytest.approx(0.5)


def test_a_habit_of_every_lap_costs_what_it_costs_against_the_reference() -> None:
    """A driver who is far off is told of costs against his own pace, by which such a habit costs nothing."""
    laps = [Drove((Did("narrow_exit", 1, 0.0),), lost={1: 0.75}) for _ in range(4)]
    made = session(*laps)
    for lap in made.laps:
        lap.faults[0].net = 0.0
    (thing,) = things(made)
    assert (thing.times, thing.total) == (4, pytest.approx(3.0))


def test_a_standing_start_is_no_driving_of_the_first_corner() -> None:
    start = Drove((Did("coasting", 1, 0.1),), clean=False, why_not=("standing_start",), lost={1: 3.0})
    made = session(start, Drove())
    made.laps[0].faults[0].net = 0.1  # as it was told there; the ledger has the start besides
    assert things(made)[0].total == pytest.approx(0.1)


def test_a_pass_that_nobody_judged_says_nothing_of_what_was_not_there() -> None:
    found = things(session(Drove(judged=False), *coasts(True, True, False)))
    assert (found[0].times, found[0].passes) == (2, 3)


@pytest.mark.parametrize(
    ("before", "after", "verdict"),
    [
        ([True] * 6, [False] * 6, MENDED),
        ([True] * 2 + [False] * 6, [False] * 3, UNKNOWN),  # came up no more, but that may be luck
        ([True] + [False] * 9, [False] * 10, UNKNOWN),  # a one-off that did not come again tells nothing
        ([True] * 6, [True] + [False] * 7, BETTER),
        ([True] * 5 + [False], [True] * 5 + [False], SAME),
        ([True, True, True] + [False] * 9, [True] * 9 + [False], WORSE),
        ([True] * 6, [False] * 2, UNKNOWN),
    ],
)
def test_how_a_thing_fared(before: list[bool], after: list[bool], verdict: str) -> None:
    (told,) = things(session(*coasts(*before)))
    (outcome,) = fared([told], session(*coasts(*after)))
    assert outcome.verdict == verdict
    assert outcome.before == told.seconds
    if verdict == UNKNOWN:
        assert outcome.after is None
        assert ("2 passes that tell: too few to say" if len(after) < 3 else "may be luck") in outcome.why
    else:
        assert f"{sum(before)} of {len(before)} passes" in outcome.why
        assert f"now {sum(after)} of {len(after)} passes" in outcome.why


def test_as_often_but_for_half_the_seconds_is_better() -> None:
    (told,) = things(session(*coasts(*[True] * 5, cost=0.4)))
    (outcome,) = fared([told], session(*coasts(*[True] * 5, cost=0.1)))
    assert (outcome.verdict, outcome.after) == (BETTER, pytest.approx(0.1))
    assert outcome.why.endswith(": as often, but 0.10 s each time for 0.40 s.")
    (outcome,) = fared([told], session(*coasts(True, True, True, False, False, cost=0.3)))
    assert outcome.verdict == SAME  # rarer by what may be luck: the seconds a lap are fewer by that alone
    (outcome,) = fared([told], session(*coasts(*[True] * 5, cost=0.9)))
    assert outcome.verdict == WORSE


def test_a_corner_that_was_not_driven_is_unknown() -> None:
    (told,) = things(session(*coasts(*[True] * 3)))
    (outcome,) = fared([told], session())
    assert (outcome.verdict, outcome.after, outcome.chance) == (UNKNOWN, None, None)
    assert outcome.why == "Nothing was judged in turn 2 this time."


def test_every_fault_has_words() -> None:
    """What is said fits a line, names the corner, and is no name of the program's."""
    seen = set()
    for fault in FAULTS:
        words = thing_words(Thing(fault, 7, 0.1, 2, 5, 0.2, (1, 2), 0.5, "s", ""))
        assert "turn 7" in words
        assert "_" not in words and "{" not in words
        assert len(words) <= 50
        seen.add(words)
        assert "turn" not in thing_words(Thing(fault, None, 0.1, 2, 5, 0.2, (1, 2), 0.5, "s", "")).replace(
            "turn in", ""
        )
    assert len(seen) == len(FAULTS)
    assert thing_words(Thing("late_throttle", 6, 0.1, 2, 5, 0.2, (1,), 0.5, "s", "")) == "throttle sooner in turn 6"


def test_a_fault_that_is_not_known_here_is_told_by_its_name() -> None:
    """A memory of a later version, or a damaged one, may hold any text."""
    assert thing_words(Thing("odd_{x}", 6, 0.1, 2, 5, 0.2, (1,), 0.5, "s", "")) == "odd {x} in turn 6"
    assert thing_words(Thing("{0}", None, 0.1, 2, 5, 0.2, (1,), 0.5, "s", "")) == "{0} in the lap"
