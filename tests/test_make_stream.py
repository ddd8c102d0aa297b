"""The test driver's own truth: what it sends agrees with itself and with what it says it drove."""

from __future__ import annotations

import math

import pytest
from make_stream import LIMIT, Arc, Circuit, Drive, Mistake, Straight, make_drive, test_loop, without

CIRCUIT = test_loop()


def test_the_circuit_closes() -> None:
    assert math.hypot(CIRCUIT.x[-1], CIRCUIT.y[-1]) < 1e-5
    assert CIRCUIT.heading[-1] == pytest.approx(-math.tau)


def test_a_circuit_that_cannot_close_is_refused() -> None:
    with pytest.raises(ValueError, match="turns 360 degrees"):
        Circuit([Straight(100.0, fit=True), Arc(50.0, math.pi), Straight(100.0, fit=True)])


def test_the_way_driven_is_the_speed_over_time(practice: Drive) -> None:
    """Trapezoid over 40 ms: the rest, a dt^2 / 8 where the acceleration changes (14 m/s^2 at most), is under 3 mm."""
    for before, now in zip(practice.rows, practice.rows[1:], strict=False):
        way = math.hypot(now["x"] - before["x"], now["y"] - before["y"])
        span = now["t"] - before["t"]
        assert way == pytest.approx((before["speed"] + now["speed"]) / 2 * span, abs=0.008)


def test_the_heading_turns_by_the_yaw_rate(practice: Drive) -> None:
    for before, now in zip(practice.rows, practice.rows[1:], strict=False):
        turned = math.remainder(now["yaw"] - before["yaw"], math.tau)
        assert turned == pytest.approx((before["yaw_rate"] + now["yaw_rate"]) / 2 * (now["t"] - before["t"]), abs=0.004)


def test_the_source_times_laps_as_the_truth_has_them(practice: Drive) -> None:
    for lap in practice.laps:
        told = {row["last_lap_time"] for row in practice.rows if row["lap"] == lap.lap + 1}
        assert told == {round(lap.time, 3)}
        first = next(row for row in practice.rows if row["lap"] == lap.lap)
        assert lap.crossing <= first["t"] < lap.crossing + 0.0401


def test_it_stays_on_the_road_and_in_the_revs(practice: Drive) -> None:
    early = next(truth for truth in practice.mistakes if truth.mistake.kind == "early_downshift")
    for row in practice.rows:
        assert row["edge_left"] > row["car_width"] / 2 and row["edge_right"] > row["car_width"] / 2
        if not early.begins - 0.1 < row["t"] < early.begins + 1.0:
            assert row["engine_speed"] <= LIMIT


def test_the_mistakes_are_in_the_rows(practice: Drive) -> None:
    late, early = practice.mistakes
    held = [row for row in practice.rows if late.begins < row["t"] < late.begins + 0.5]
    assert held and all(row["throttle"] < 0.2 for row in held)
    over = max(row["engine_speed"] for row in practice.rows if 0.0 < row["t"] - early.begins < 0.2)
    assert LIMIT + 200.0 < over <= LIMIT + 400.0
    assert practice.laps[3].time > practice.laps[2].time + 0.2


def test_a_mistake_where_the_corner_does_not_allow_it_is_refused() -> None:
    with pytest.raises(ValueError, match="not driven"):
        make_drive(CIRCUIT, 2, mistakes=[Mistake("early_downshift", 2, 5, 400.0)])


def test_the_same_seed_drives_the_same_and_scatter_differs() -> None:
    drives = [make_drive(CIRCUIT, 1, 10.0, seed=seed, scatter=0.02, wander=0.3) for seed in (4, 4, 5)]
    assert drives[0].rows == drives[1].rows
    assert drives[0].laps != drives[2].laps


def test_channels_can_be_left_out(practice: Drive) -> None:
    assert all("lap" not in row and "x" in row for row in without(practice.rows, "lap", "lap_time"))
