"""Laps on the screen's grid: what is lost is what closed forms say, and it is lost where it was driven."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LinearRing, Point

from coach.debrief.lossmap import draw_map, land
from coach.debrief.strips import BINS, POINTS, Strip, screen_of
from coach.engine.lap import GridLap
from coach.review.model import KeptLap, KeptSession
from coach.vocabulary.laptime import lap_time
from tests.debrief.rounds import LENGTH, RADIUS, grid, lap, session_with

SLOW_FROM, SLOW_TO = 900.0, 1100.0
"""m: where the second lap is slower."""


def steady(place: float) -> float:
    return 50.0


def slower(place: float) -> float:
    return 40.0 if SLOW_FROM <= place <= SLOW_TO else 50.0


def slow_strip() -> tuple[Strip, np.ndarray]:
    screen = screen_of(session_with(lap(1, grid(steady)), lap(2, grid(slower, number=2))))
    assert screen is not None
    return screen.strips[1], screen.places


def test_one_per_cent_slower_everywhere_is_lost_evenly() -> None:
    """Closed form (checks.md, "exact time-loss cases"): 1 % slower over T s costs T (1 / 0.99 - 1), in step with d."""
    screen = screen_of(session_with(lap(1, grid(steady)), lap(2, grid(lambda place: 0.99 * 50.0, number=2))))
    assert screen is not None
    total = LENGTH / 50.0
    lost = screen.strips[1].delta
    assert lost[-1] == pytest.approx(total * (1 / 0.99 - 1), abs=1e-6)
    assert np.allclose(lost, lost[-1] * screen.places / LENGTH, atol=1e-6)
    assert np.allclose(screen.strips[1].rate, 100.0 / 50.0 * (1 / 0.99 - 1), atol=1e-5)


def test_what_is_lost_is_lost_where_it_was_driven() -> None:
    """200 m at 40 instead of 50 m/s: 200 (1/40 - 1/50) = 1.0 s, in closed form, and 0.5 s in 100 m."""
    strip, places = slow_strip()
    assert strip.delta[-1] == pytest.approx(1.0, abs=0.01)
    inside = (places > SLOW_FROM + 25.0) & (places < SLOW_TO - 25.0)
    outside = (places < SLOW_FROM - 25.0) | (places > SLOW_TO + 25.0)
    assert np.allclose(strip.rate[inside], 0.5, atol=0.01)
    assert np.allclose(strip.rate[outside], 0.0, atol=1e-6)


def test_bins_say_so() -> None:
    screen = screen_of(session_with(lap(1, grid(steady)), lap(2, grid(slower, number=2))))
    assert screen is not None
    bins = screen.bins(screen.strips[1])
    assert {BINS[bins[np.searchsorted(screen.places, place)]] for place in (950.0, 1000.0, 1050.0)} == {"lost2"}
    assert {BINS[bins[np.searchsorted(screen.places, place)]] for place in (100.0, 2000.0)} == {"even"}
    assert set(screen.bins(screen.strips[0])) == {2}


def test_the_best_clean_lap_is_what_all_are_held_against() -> None:
    quick = lap(1, grid(lambda place: 60.0), clean=False)
    screen = screen_of(session_with(quick, lap(2, grid(steady, number=2)), lap(3, grid(slower, number=3))))
    assert screen is not None
    assert screen.best == screen.own == 1
    assert "lap 2" in screen.against and "best lap of the session" in screen.against
    assert screen.strips[0].delta[-1] < 0.0


def test_a_given_reference_is_used_and_named() -> None:
    screen = screen_of(session_with(lap(1, grid(steady))), grid(lambda place: 55.0, number=9))
    assert screen is not None
    assert screen.own is None and "the reference, lap 9" in screen.against
    assert screen.strips[0].delta[-1] == pytest.approx(LENGTH / 50.0 - LENGTH / 55.0, abs=1e-5)


def held_against(given: GridLap, origin: str | None, *laps: KeptLap) -> KeptSession:
    session = session_with(*laps)
    session.reference, session.reference_time, session.reference_origin = given, given.total, origin
    return session


def test_the_sessions_own_reference_is_what_all_are_held_against() -> None:
    """Closed form: at 50 instead of 55 m/s a lap of s m takes s (1/50 - 1/55) longer."""
    session = held_against(grid(lambda place: 55.0, number=9), "a friend", lap(1, grid(steady)))
    screen = screen_of(session)
    assert screen is not None
    assert screen.own is None and screen.has_line
    assert screen.against == f"the reference, a friend: {lap_time(LENGTH / 55.0)}"
    assert screen.strips[0].delta[-1] == pytest.approx(LENGTH / 50.0 - LENGTH / 55.0, abs=1e-5)
    other = screen_of(session, grid(lambda place: 60.0, number=4))
    assert other is not None and "the reference, lap 4" in other.against


def test_a_reference_that_is_a_lap_of_the_session_is_called_so() -> None:
    laps = (lap(1, grid(steady)), lap(2, grid(slower, number=2)))
    for which, words in ((1, "the best lap of the session, lap 1"), (2, "the chosen lap of the session, lap 2")):
        chosen = grid(steady if which == 1 else slower, number=which)  # the same lap, read anew
        screen = screen_of(held_against(chosen, "chosen lap", *laps))
        assert screen is not None
        assert screen.own == which - 1 and words in screen.against
        assert not screen.strips[which - 1].delta.any()


def test_a_reference_without_a_line_leaves_the_laps_where_they_were_driven() -> None:
    bare = grid(lambda place: 55.0, number=9, position=False)
    screen = screen_of(held_against(bare, "bare", lap(1, grid(steady)), lap(2, grid(slower, number=2))))
    assert screen is not None and screen.base is not None and not screen.has_line
    assert np.array_equal(screen.base[0], screen.strips[0].xs) and screen.left is not None
    assert "bare" in screen.against
    drawn = draw_map(land(screen, 400.0, 300.0), screen.strips[1], [])
    assert 'class="against"' not in drawn and "held against: the reference, bare" in drawn


def test_laps_without_a_line_go_where_the_reference_went() -> None:
    driven = grid(steady, position=False)
    screen = screen_of(held_against(grid(lambda place: 55.0, number=9), "a", lap(1, driven)))
    assert screen is not None and screen.base is not None and screen.has_line
    assert screen.strips[0].xs is None
    assert screen_of(held_against(grid(steady, position=False), "a", lap(1, driven))).base is None  # type: ignore[union-attr]


@pytest.mark.parametrize("length", [300.0, 450.0])
def test_the_sessions_reference_of_another_circuit_is_left_out(length: float) -> None:
    screen = screen_of(held_against(grid(steady, radius=length, number=9), "elsewhere", lap(1, grid(steady))))
    assert screen is not None
    assert screen.own == 0 and "best lap of the session" in screen.against


def test_a_long_name_is_cut() -> None:
    screen = screen_of(held_against(grid(lambda place: 55.0), "x" * 5000, lap(1, grid(steady))))
    assert screen is not None and len(screen.against) < 100


def test_a_reference_of_another_circuit_is_left_out() -> None:
    screen = screen_of(session_with(lap(1, grid(steady))), grid(steady, radius=300.0, number=9))
    assert screen is not None
    assert screen.own == 0


def test_a_lap_of_another_length_is_left_out() -> None:
    screen = screen_of(session_with(lap(1, grid(steady)), lap(2, grid(steady, radius=450.0, number=2))))
    assert screen is not None
    assert [strip.lap.number for strip in screen.strips] == [1]


def test_the_middle_lap_is_a_lap_that_was_driven() -> None:
    laps = [lap(n, grid(lambda _, n=n: 50.0 - 0.1 * n, number=n)) for n in range(1, 5)]
    screen = screen_of(session_with(*laps))
    assert screen is not None
    assert screen.shown == (0, 2)


def test_edges_lie_as_far_from_the_path_as_was_sent() -> None:
    """By shapely: 6 m to the left, which is inside of the circle, and 4 m to the right."""
    screen = screen_of(session_with(lap(1, grid(steady))))
    assert screen is not None and screen.left is not None and screen.right is not None
    circle = LinearRing([(RADIUS * np.cos(a), RADIUS * np.sin(a)) for a in np.linspace(0.0, 2 * np.pi, 2000)])
    for (xs, ys), away, inside in ((screen.left, 6.0, True), (screen.right, 4.0, False)):
        for x, y in list(zip(xs, ys, strict=True))[5:-5:40]:
            assert circle.distance(Point(x, y)) == pytest.approx(away, abs=0.05)
            assert (np.hypot(x, y) < RADIUS) == inside


def test_the_neutral_of_a_gear_change_is_not_a_gear() -> None:
    driven = grid(steady)
    driven.channels["gear"][500:510], driven.channels["gear"][510:] = 0.0, 5.0
    screen = screen_of(session_with(lap(1, driven)))
    assert screen is not None and screen.strips[0].gear is not None
    assert set(screen.strips[0].gear) == {4.0, 5.0}


def test_no_more_points_than_a_screen_can_show(session: KeptSession) -> None:
    screen = screen_of(session)
    assert screen is not None
    for strip in screen.strips:
        assert len(strip.time) == len(screen.places) <= POINTS


def test_real_laps_end_with_their_difference(session: KeptSession) -> None:
    screen = screen_of(session)
    assert screen is not None
    base = screen.strips[screen.best].lap.time or 0.0
    for strip in screen.strips:
        assert strip.delta[-1] == pytest.approx((strip.lap.time or 0.0) - base, abs=2e-6)


@pytest.mark.parametrize("laps", [[], [lap(1, None)]])
def test_without_channels_there_is_no_screen(laps: list[KeptLap]) -> None:
    assert screen_of(session_with(*laps)) is None


@given(st.lists(st.floats(5.0, 90.0), min_size=1, max_size=4), st.floats(5.0, 1500.0))
@settings(max_examples=15, deadline=None)
def test_any_speeds_give_finite_numbers(speeds: list[float], radius: float) -> None:
    laps = [lap(n, grid(lambda _, v=v: v, radius=radius, number=n)) for n, v in enumerate(speeds)]
    screen = screen_of(session_with(*laps))
    assert screen is not None and screen.scale > 0.0
    for strip in screen.strips:
        assert all(np.isfinite(column).all() for column in (strip.time, strip.delta, strip.rate))
