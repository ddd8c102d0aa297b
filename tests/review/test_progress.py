"""Several sessions: habits with their story, losses against one lap, setups side by side."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from coach.engine.engine import Engine
from coach.engine.learned import Learned
from coach.review.habits import story
from coach.review.model import KeptSession
from coach.review.places import nearest
from coach.review.progress import progress
from coach.review.review import review
from coach.review.seconds import best_lap, course_of, losses_of
from coach.review.tally import Share
from coach.vocabulary.events import CornerMark, Corners, Loss
from tests.engine.drives import learned as start
from tests.engine.drives import told
from tests.review import season
from tests.review.made import MARKS, Did, Drove, session


def sessions(*rates: tuple[int, int], corner: int = 2) -> list[KeptSession]:
    """A session for each (laps with coasting, laps)."""
    return [
        session(*[Drove((Did("coasting", corner),)) if lap < hits else Drove() for lap in range(laps)])
        for hits, laps in rates
    ]


@pytest.mark.parametrize(
    ("rates", "expected"),
    [
        (((4, 5), (0, 5), (0, 5), (3, 5)), ("there", "mended", "gone", "back")),
        (((0, 5), (4, 5), (4, 5), (0, 5)), ("", "new", "there", "mended")),
        (((0, 5), (0, 5), (3, 5), (1, 5)), ("", "", "new", "there")),
        (((0, 5), (3, 5)), ("", "there")),  # 0 of 5 may have been luck
        (((5, 5), (1, 5), (0, 5), (1, 5)), ("there", "there", "mended", "gone")),  # one of five is as it was
        (((2, 8), (0, 8), (0, 9)), ("there", "unsure", "mended")),  # 2 of 8 against 0 of 8 is luck, 0 of 17 is not
        (((0, 8), (2, 8), (2, 8)), ("", "there", "there")),  # nor is it new
        (((0, 5), (5, 5), (1, 3), (0, 5), (2, 5)), ("", "new", "there", "mended", "back")),
        (((0, 2), (3, 5)), ("", "there")),  # two passes do not say that it was not there
        (((3, 5), (0, 2), (0, 8)), ("there", "there", "mended")),
    ],
)
def test_the_story_of_a_habit(rates: tuple[tuple[int, int], ...], expected: tuple[str, ...]) -> None:
    (habit,) = progress(sessions(*rates)).habits
    assert (habit.fault, habit.corner, habit.story) == ("coasting", 2, expected)
    assert habit.shares == tuple(hits / laps if laps >= 3 else None for hits, laps in rates)
    assert habit.why.startswith(("There in ", "New in "))


def test_the_story_in_words_has_its_figures() -> None:
    (habit,) = progress(sessions((4, 5), (0, 5), (0, 6), (3, 5))).habits
    assert habit.why == (
        "There in session 1 (4 of 5 passes), mended in session 2 (0 of 5 passes), back in session 4 (3 of 5 passes)."
    )


def test_what_was_not_seen_is_not_told_as_there() -> None:
    (habit,) = progress(sessions((2, 8), (0, 8))).habits
    assert habit.why == (
        "There in session 1 (2 of 8 passes), not seen in session 2 (0 of 8 passes), which may be luck."
    )


def test_a_habit_that_never_changes_is_seldom_told_as_mended() -> None:
    """Told as mended in one story of five at most: six sessions of five laps, a hundred drivers (seeded)."""
    chance = random.Random(8)
    for rate in (0.2, 0.4, 0.6):
        stories = [
            story([Share(sum(chance.random() < rate for _ in range(5)), 5) for _ in range(6)]) for _ in range(100)
        ]
        assert sum("mended" in told for told in stories) <= 25, rate  # 20 and its sampling error


def test_too_few_passes_are_not_told_as_evidence() -> None:
    (habit,) = progress(sessions((4, 5), (1, 1))).habits
    assert habit.story == ("there", "there")  # as it was: one pass tells nothing
    assert habit.why == "There in session 1 (4 of 5 passes)."


def test_a_one_off_is_no_habit() -> None:
    assert progress(sessions((1, 5), (1, 5), (1, 5))).habits == []


def test_corners_have_the_newest_map_s_numbers() -> None:
    """The older session was kept before the circuit's map was known here, and counts otherwise."""
    old, new = sessions((3, 4), (3, 4))
    numbers = {1: 2, 2: 3, 3: 4, 4: 1}
    new.corners = tuple(sorted((replace(m, corner=numbers[m.corner]) for m in MARKS), key=lambda m: m.corner))
    for lap in new.laps:
        lap.faults[:] = [replace(fault, corner=3) for fault in lap.faults]
        lap.passes[:] = [replace(passed, corner=numbers[passed.corner]) for passed in lap.passes]
    (habit,) = progress([old, new]).habits
    assert (habit.corner, habit.story) == (3, ("there", "there"))
    assert old.laps[0].faults[0].corner == 2  # what was given is left as it is


def test_a_corner_that_the_newest_map_has_not_gets_no_other_s_number() -> None:
    more = [*MARKS, CornerMark(5, "left", 480.0, 490.0, 515.0, 520.0, (515.0,))]
    numbers = nearest(more, [replace(m, corner=m.corner % 4 + 2) for m in MARKS], 1000.0)
    assert numbers == {1: 3, 2: 4, 3: 5, 4: 2, 5: 6}


def test_an_apex_that_moved_in_a_long_bend_is_the_same_corner() -> None:
    """By the road that both have in common, over the line too; a neighbour whose apex is nearer is another one."""
    long = CornerMark(1, "left", 900.0, 930.0, 950.0, 60.0, (950.0,))
    short = CornerMark(2, "left", 70.0, 75.0, 90.0, 110.0, (90.0,))
    moved = CornerMark(7, "left", 900.0, 935.0, 55.0, 62.0, (55.0,))
    assert nearest([long, short], [moved, replace(short, corner=8)], 1000.0) == {1: 7, 2: 8}
    assert nearest([long, short], [replace(moved, corner=1), short], 1000.0) == {}


def test_setups_stand_side_by_side() -> None:
    made = sessions((0, 4), (0, 4), (0, 4))
    for one, label, lost in zip(made, ("soft", "stiff", "soft"), (0.0, 1.0, 0.1), strict=True):
        one.setup = label
        for number, lap in enumerate(one.laps):
            assert lap.time is not None
            lap.time += lost + 0.01 * number
    soft, stiff = progress(made).setups
    assert (soft.label, soft.sessions, stiff.label, stiff.sessions) == ("soft", (0, 2), "stiff", (1,))
    assert soft.steadiness.median is not None and stiff.steadiness.median is not None
    assert stiff.steadiness.median - soft.steadiness.median > 0.8
    assert stiff.chance == soft.chance and stiff.chance is not None and stiff.chance < 0.01
    assert progress(made[:1]).setups == []


def test_nothing_and_next_to_nothing() -> None:
    empty = progress([])
    assert (empty.days, empty.habits, empty.reference) == ([], [], None)
    (day,) = progress([session()]).days
    assert (day.steadiness.laps, day.steadiness.best, day.losses) == (0, None, {})


def test_the_ledger_of_a_kept_lap_is_that_of_the_running_one() -> None:
    """Against the engine's own `Loss` events, which are reckoned from the samples and not from the grid."""
    engine = Engine(start())
    events = [event for sample in told(3, 25.0) for event in engine.push(sample)]
    grids = {event.lap: event.grid for event in events if isinstance(event, Learned)}
    losses = {event.lap: event.parts for event in events if isinstance(event, Loss)}
    corners = next(event for event in events if isinstance(event, Corners))
    reference = start().reference
    assert reference is not None and len(losses) >= 2
    course = course_of(reference, corners.map, corners.corners)
    for lap, parts in losses.items():
        grid = grids[lap]
        assert grid is not None
        mine = losses_of(grid, course)
        assert [(part.corner, part.phase) for part in mine] == [(part.corner, part.phase) for part in parts]
        assert sum(part.seconds for part in mine) == pytest.approx(grid.total - reference.total, abs=1e-4)
        for own, theirs in zip(mine, parts, strict=True):
            assert own.seconds == pytest.approx(theirs.seconds, abs=2e-3)  # a grid of 1 m (choice)


def test_the_made_season_tells_the_story_that_was_put_in() -> None:
    """Six sessions of the built-in car: one habit mends and returns, one mends, one stays, one is new at the end."""
    made = progress(season.short_season())
    told = {(habit.fault, habit.corner): habit.story for habit in made.habits}
    assert told == {(habit.fault, habit.corner): habit.story for habit in season.SEASON}
    for planted in season.SEASON:
        (habit,) = [one for one in made.habits if (one.fault, one.corner) == (planted.fault, planted.corner)]
        for number, lost in enumerate(habit.seconds, 1):
            assert (lost >= 0.05) == (number in planted.when), (habit, number)  # (choice) half of the least of them


def test_the_made_season_has_one_lap_for_all_its_losses() -> None:
    kept = list(season.short_season())
    made = progress(kept)
    best = best_lap(lap for one in kept for lap in one.laps)
    assert best is not None and made.reference is not None
    assert made.reference[1] == pytest.approx(best.time, abs=1e-3)
    fourth = made.days[3]  # the only session in which three of the four habits are gone
    others = [day for day in made.days if day is not fourth]
    assert all(sum(fourth.losses.values()) < sum(day.losses.values()) for day in others)
    assert made.days[0].losses[3] > made.days[4].losses[3] + 0.1  # early braking there is mended
    assert made.days[5].losses[1] > made.days[4].losses[1] + 0.1  # narrow exit there is new


def test_the_made_season_s_things_are_what_was_put_in() -> None:
    for number, one in enumerate(season.short_season(), 1):
        planted = {(habit.fault, habit.corner) for habit in season.SEASON if number in habit.when}
        told = {(thing.fault, thing.corner) for thing in review(one).things[: len(planted)]}
        assert told == planted, number


def test_a_given_lap_may_be_of_another_length_than_some_of_the_laps() -> None:
    """A kept lap of another layout is left out, and breaks nothing."""
    one = session(Drove(grid=True), Drove(grid=True, lost={1: 0.5}))
    grid = one.laps[0].grid
    assert grid is not None
    strange = replace(grid, length=2 * grid.length)
    one.laps[1].grid = strange
    assert set(progress([one], grid).days[0].losses.values()) == {0.0}


def test_shares() -> None:
    assert Share(0, 0).share is None
    assert Share(1, 4).share == 0.25
