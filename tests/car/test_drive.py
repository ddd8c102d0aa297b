"""What a drive sends: one car in one place, whatever the rate; each row agrees with itself and with the next."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import islice, pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from coach.vocabulary.errors import InputError
from coach.vocabulary.sample import CHANNELS
from feeds.car.circuit import GRAVITY, Bend, Circuit, Straight, Wave, brack_mere
from feeds.car.drive import RATES, RUN_UP, STEERING_RATIO, Drive, DriveSpec, Row
from feeds.car.person import PERSONS
from feeds.car.send import encode
from feeds.car.spec import PELLOW_R
from feeds.generic import GenericFeed

CIRCUIT = brack_mere()
BASE = DriveSpec(CIRCUIT, PELLOW_R, PERSONS["steady"], laps=1, run_out=1.0)
RATE = 60
RATES_TRIED = (20, RATE, 360)
SAME = 0.015
"""s between lap times at two rates (choice). Measured: 0.004 s between 60 and 360 Hz in 21 s (on Brack Mere 0.020 s in
89 s), none between 20 and 60. A driver who looks 360 times a second and not 180 drives a little otherwise."""


@dataclass
class Run:
    """A lap's rows, its time as the drive tells it, and columns of it."""

    rows: list[Row]
    lap_time: float

    def column(self, name: str) -> NDArray[np.float64]:
        return np.array([row[name] for row in self.rows], dtype=np.float64)


def driven(spec: DriveSpec) -> Run:
    drive = Drive(spec)
    rows = list(drive)
    return Run(rows, drive.lap_times[1])


@pytest.fixture(scope="module")
def runs() -> dict[int, Run]:
    """The same lap of a short circuit at each rate."""
    turn = math.radians
    short = Circuit(
        "Short Loop",
        [
            *(Straight(160.0, fit=True), Bend(turn(90), 30.0), Straight(80.0, fit=True), Bend(turn(60), 45.0)),
            *(Straight(60.0), Bend(turn(120), 25.0, ramp=15.0), Straight(100.0), Bend(turn(90), 40.0)),
        ],
        width=10.0,
        hills=(Wave(2.0, 1, 0.0),),
    )
    return {rate: driven(replace(BASE, circuit=short, rate=rate)) for rate in RATES_TRIED}


@pytest.fixture(scope="module")
def run() -> Run:
    """A lap of Brack Mere."""
    return driven(replace(BASE, rate=RATE))


def smooth(values: NDArray[np.float64], reach: int = 3) -> NDArray[np.float64]:
    return np.convolve(values, np.full(2 * reach + 1, 1.0 / (2 * reach + 1)), "valid")


def change(values: NDArray[np.float64], reach: int = 3) -> NDArray[np.float64]:
    """The central difference by time, over `reach` rows to each side."""
    return (values[2 * reach :] - values[: -2 * reach]) * RATE / (2 * reach)


def test_the_rate_changes_no_lap_time(runs: dict[int, Run]) -> None:
    times = [run.lap_time for run in runs.values()]
    assert max(times) - min(times) < SAME
    assert 20.0 < min(times) < 60.0


def test_rows_come_at_their_rate(runs: dict[int, Run]) -> None:
    for rate, run in runs.items():
        assert run.column("t") == pytest.approx(np.arange(len(run.rows)) / rate, abs=1e-6)
        assert len(run.rows) == pytest.approx((run.lap_time + 1.0) * rate, abs=rate * RUN_UP / 20.0)


def test_the_lap_clock_is_the_crossings(runs: dict[int, Run]) -> None:
    """The line is crossed between two rows: the row before and the one behind it hold it within a row's time."""
    for rate, run in runs.items():
        starts = [after for before, after in pairwise(run.rows) if after["lap"] > before["lap"]]
        assert [row["lap"] for row in starts] == [1, 2]
        assert all(0.0 <= row["lap_time"] <= 1.0 / rate + 1e-4 for row in starts)
        crossed = [row["t"] - row["lap_time"] for row in starts]
        assert crossed[1] - crossed[0] == pytest.approx(run.lap_time, abs=2e-4)
        assert run.rows[0]["lap_time"] is None
        assert {row["last_lap_time"] for row in run.rows} == {None, round(run.lap_time, 4)}
        # an even speed between the rows on either side of the line gives the same moment
        for moment, row in zip(crossed, starts, strict=True):
            before = run.rows[run.rows.index(row) - 1]
            left = before["track_length"] - before["lap_distance"]
            share = left / (left + row["lap_distance"])
            assert before["t"] + share / rate == pytest.approx(moment, abs=2e-3)


def test_the_same_seed_gives_the_same_bytes_and_another_seed_others() -> None:
    def datagrams(seed: int) -> list[bytes]:
        return [encode(row) for row in islice(Drive(replace(BASE, seed=seed, rate=20)), 15 * 20)]

    first = datagrams(1)
    assert datagrams(1) == first
    assert datagrams(2) != first


def test_iterating_again_gives_the_same_drive() -> None:
    drive = Drive(replace(BASE, rate=20))
    assert list(islice(drive, 200)) == list(islice(drive, 200))


def test_speed_is_the_length_of_the_velocity(run: Run) -> None:
    # rounded to 1 mm/s each
    assert np.abs(run.column("speed") - np.hypot(run.column("vx"), run.column("vy"))).max() < 1.5e-3


def test_the_way_between_two_rows_is_speed_times_time(run: Run) -> None:
    x, y, speed = (run.column(name) for name in ("x", "y", "speed"))
    gone, expected = np.hypot(np.diff(x), np.diff(y)), (speed[1:] + speed[:-1]) / 2 / RATE
    assert np.abs(gone - expected).max() < 3e-3
    assert gone.sum() == pytest.approx(expected.sum(), rel=1e-5)


def test_the_distance_grows_by_the_speed_along_the_road(run: Run) -> None:
    """ds/dt = v cos(course - road) / (1 - offset x curvature): a path beside a bend's centre line is that much longer
    or shorter (differential geometry, any text)."""
    distance, speed = run.column("lap_distance"), run.column("speed")
    course = run.column("yaw") + np.arctan2(run.column("vy"), run.column("vx"))
    road = np.interp(distance, CIRCUIT.station, CIRCUIT.heading)
    bend = np.interp(distance, CIRCUIT.station, CIRCUIT.curvature)
    offset = (run.column("edge_right") - run.column("edge_left")) / 2
    rate = speed * np.cos(course - road) / (1.0 - offset * bend)
    grown = np.diff(distance)
    grown[grown < -100.0] += CIRCUIT.length
    assert grown.min() > 0.0
    expected = (rate[1:] + rate[:-1]) / 2 / RATE
    # the centre line is known at half metres: a corner of it holds 0.5 m / 17 m x 5 m
    assert np.abs(grown - expected).max() < 0.15
    assert grown.sum() == pytest.approx(expected.sum(), rel=1e-3)


def test_the_edges_are_the_roads_width_apart_and_where_the_car_is(run: Run) -> None:
    left, right = run.column("edge_left"), run.column("edge_right")
    assert np.abs(left + right - CIRCUIT.width).max() < 2e-3
    distance = run.column("lap_distance")
    heading, offset = np.interp(distance, CIRCUIT.station, CIRCUIT.heading), CIRCUIT.width / 2 - left
    x = np.interp(distance, CIRCUIT.station, CIRCUIT.x) - offset * np.sin(heading)
    y = np.interp(distance, CIRCUIT.station, CIRCUIT.y) + offset * np.cos(heading)
    assert np.hypot(x - run.column("x"), y - run.column("y")).max() < 0.15  # see there


def test_across_the_accelerometer_reads_yaw_rate_times_speed_where_the_car_is_steady(run: Run) -> None:
    """ay = dvy/dt + r vx (kinematics of axes that turn, any text): r v where the car's slide does not change."""
    vy, rate = run.column("vy"), run.column("yaw_rate")
    across, turning = smooth(run.column("ay")), smooth(rate * run.column("vx"))
    assert np.percentile(np.abs(across - turning - change(vy)), 99) < 0.3
    steady = np.abs(change(vy)) < 0.2
    assert steady.mean() > 0.5
    assert np.abs(across - turning)[steady].max() < 0.4
    assert np.abs(across[steady]).max() > 8.0


def test_along_it_reads_the_change_of_speed_and_the_hills_share_of_gravity(run: Run) -> None:
    """Specific force (any text on inertial navigation, from memory): f = a - g, in the body's axes; uphill it reads
    g sin(slope) more than the car gains. The slope is that of the z that is sent."""
    vx, vy, rate = run.column("vx"), run.column("vy"), run.column("yaw_rate")
    over = smooth(run.column("ax")) - (change(vx) - smooth(rate * vy))
    distance, z = run.column("lap_distance"), run.column("z")
    grown = np.diff(distance)
    grown[grown < -100.0] += CIRCUIT.length
    reach = 30  # rows of z, which is rounded to 1 mm
    way = np.concatenate(([0.0], np.cumsum(grown)))
    slope = np.arctan2(z[2 * reach :] - z[: -2 * reach], way[2 * reach :] - way[: -2 * reach])
    over, slope = over[reach - 3 : len(over) - reach + 3], slope
    per_slope, still = np.polyfit(np.sin(slope), over, 1)
    assert np.ptp(slope) > 0.03
    assert per_slope == pytest.approx(GRAVITY, rel=0.05)
    assert still == pytest.approx(0.0, abs=0.02)


def test_the_accelerometer_reads_gravity_across_the_slope(run: Run) -> None:
    slope = np.arctan([CIRCUIT.grade(row["lap_distance"]) for row in run.rows])
    assert np.abs(run.column("az") - GRAVITY * np.cos(slope)).max() < 2e-3


def test_in_a_gear_engine_and_driven_wheels_turn_in_a_fixed_ratio(run: Run) -> None:
    """n = 60 v i / (2 pi r) (any text); the differential turns at the mean of its wheels. The clutch is closed 0.15 s
    behind a change, and never slips then."""
    gear, turns = run.column("gear"), run.column("engine_speed")
    axle = np.array([sum(row["wheel_speed"][2:]) / 2 for row in run.rows])
    held = round(0.15 * RATE)
    tried = set()
    for i in range(held, len(gear)):
        if gear[i] > 0 and np.all(gear[i - held : i] == gear[i]):
            ratio = PELLOW_R.gears[int(gear[i]) - 1] * PELLOW_R.final_drive
            assert turns[i] == pytest.approx(60.0 * axle[i] * ratio / (math.tau * PELLOW_R.tyre_radius), rel=3e-3)
            tried.add(int(gear[i]))
    assert tried == {1, 2, 3, 4, 5, 6}


def test_the_wheels_roll_at_the_speed_of_their_hubs_on_the_straight(run: Run) -> None:
    """With neither pedal pressed far and no bend, kappa is near nothing (SAE J670)."""
    for row in run.rows:
        if row["brake"] == 0.0 and row["throttle"] < 0.3 and abs(row["ay"]) < 1.0 and row["gear"] > 0:
            assert row["wheel_speed"] == pytest.approx([row["speed"]] * 4, rel=0.03)


def test_steering_is_the_wheels_and_small_in_slow_steady_bends(run: Run) -> None:
    """Ackermann: L / R at the road wheels (Gillespie, ch. 6, from memory), and what the slip angles differ by."""
    hairpin = CIRCUIT.corners[3]
    inside = [row for row in run.rows if row["lap"] == 1 and hairpin.begins < row["lap_distance"] < hairpin.ends]
    slowest = min(inside, key=lambda row: row["speed"])
    kinematic = PELLOW_R.wheelbase * slowest["yaw_rate"] / slowest["speed"]
    assert slowest["steer"] < 0.0  # to the right
    assert slowest["steer"] / STEERING_RATIO == pytest.approx(kinematic, abs=math.radians(3.0))


def test_labels_and_state_are_whole(run: Run) -> None:
    first, last = run.rows[0], run.rows[-1]
    assert (first["track"], first["car"], first["driver"]) == ("Brack Mere", "Pellow R", "steady")
    assert first["lap"] == 0
    assert first["lap_distance"] == pytest.approx(CIRCUIT.length - RUN_UP, abs=1.0)
    assert first["engine_speed_max"] == PELLOW_R.engine.limit
    assert first["car_width"] == PELLOW_R.width
    fuel = run.column("fuel")
    assert fuel[0] == BASE.fuel
    assert np.all(np.diff(fuel) <= 0.0)
    assert last["fuel"] < BASE.fuel - 0.5
    assert run.column("z") == pytest.approx([CIRCUIT.height(row["lap_distance"]) for row in run.rows], abs=2e-3)
    for name in ("throttle", "brake", "clutch"):
        assert 0.0 <= run.column(name).min() <= run.column(name).max() <= 1.0


def test_each_row_is_a_datagram_of_the_generic_stream(run: Run) -> None:
    """The feed reads every key of it: none is unknown, none is left out."""
    feed = GenericFeed()
    for row in run.rows[:: RATE // 2]:
        sample = feed.decode(encode(row))
        for name, value in row.items():
            if value is not None:
                assert getattr(sample, name) is not None, name
    assert feed.left_out.by_cause() == {}
    assert set(run.rows[0]) <= {"t", *CHANNELS}


@pytest.mark.parametrize("rate", [RATES[0] - 1, RATES[1] + 1, 0])
def test_a_rate_out_of_range_is_refused(rate: int) -> None:
    with pytest.raises(InputError, match=f"rate: {rate} datagrams a second; choose from 20 to 360"):
        Drive(replace(BASE, rate=rate))


def test_no_lap_is_refused() -> None:
    with pytest.raises(InputError, match="laps: 0; drive one at least"):
        Drive(replace(BASE, laps=0))
