"""A lap on an even grid of distance: resampling, its JSON, and what is refused."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator, make_interp_spline

from coach.engine.lap import GridLap, resample
from coach.engine.tape import Tape
from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import Sample
from tests.engine.drives import at, drive, learned, loop, told

RATE = 50.0


def lap_tape() -> tuple[Tape, float, float]:
    """Lap 2 of a plain drive from line to line by its exact crossings; its start and its time."""
    truth = drive(2, RATE).laps[1]
    stream = told(2, RATE)
    tape = Tape()
    line = stream[at(stream, 2, 0.0)]
    tape.append(truth.crossing, 0.0, line)
    for s in stream[at(stream, 2, 0.0) : at(stream, 3, 0.0)]:
        assert s.lap_distance is not None
        tape.append(s.t, s.lap_distance, s)
    tape.append(truth.crossing + truth.time, loop().length, line)
    return tape, truth.crossing, truth.time


@pytest.fixture
def lap() -> GridLap:
    tape, start, _ = lap_tape()
    return resample(tape, loop().length, start, 2, "loop-a", "car-a")


def test_the_grid_is_even_and_reaches_from_line_to_line(lap: GridLap) -> None:
    assert lap.distance[0] == 0.0 and lap.distance[-1] == loop().length
    assert np.diff(lap.distance) == pytest.approx(lap.step)
    assert 0.9 < lap.step < 1.1
    assert all(len(column) == len(lap.time) for column in (lap.lateral, *lap.channels.values()))


def test_time_begins_at_nought_rises_strictly_and_ends_with_the_lap_time(lap: GridLap) -> None:
    assert lap.time[0] == 0.0
    assert (np.diff(lap.time) > 0.0).all()
    assert lap.total == pytest.approx(lap_tape()[2], abs=1e-5)


def test_against_an_independent_interpolation(lap: GridLap) -> None:
    tape, start, _ = lap_tape()
    reach, rows = np.unique(np.array(tape.reach), return_index=True)
    t = np.array(tape.t)[rows] - start
    linear = make_interp_spline(reach, t, k=1)(lap.distance)
    assert np.abs(lap.time - linear).max() < 1e-6
    assert np.abs(lap.time - PchipInterpolator(reach, t)(lap.distance)).max() < 0.0005
    speed = make_interp_spline(reach, np.array(tape["speed"])[rows], k=1)(lap.distance)
    assert np.abs(lap.channels["speed"] - speed).max() < 1e-4


def test_time_is_the_integral_of_slowness(lap: GridLap) -> None:
    """t(s) = integral of 1/v ds (checks.md, exact time-loss cases)."""
    slowness = 1.0 / lap.channels["speed"]
    along = np.concatenate(([0.0], np.cumsum(0.5 * (slowness[1:] + slowness[:-1]) * lap.step)))
    # speed goes along the path and distance along the centre line: a few per cent apart in bends, the same in the mean
    assert along[-1] == pytest.approx(lap.total, rel=0.03)


def test_the_gear_is_never_between_two_gears(lap: GridLap) -> None:
    assert set(np.unique(lap.channels["gear"])) <= {1.0, 2.0, 3.0, 4.0, 5.0, 6.0}


def test_a_channel_that_is_not_sent_is_left_out_and_a_short_lack_is_bridged() -> None:
    tape, start, _ = lap_tape()
    tape.columns["steer"][:] = type(tape.columns["steer"])("d", [float("nan")] * len(tape))
    for i in range(1000, 1020):
        tape.columns["throttle"][i] = float("nan")
    lap = resample(tape, loop().length, start, 2, None, None)
    assert lap.get("steer") is None
    throttle = lap.get("throttle")
    assert throttle is not None and np.isfinite(throttle).all()


def test_where_the_car_rolled_back_a_place_counts_when_first_reached() -> None:
    tape = Tape()
    for t, distance in [(0.0, 0.0), (1.0, 10.0), (2.0, 6.0), (3.0, 8.0), (4.0, 12.0), (5.0, 300.0)]:
        tape.append(t, distance, Sample(t, speed=5.0))
    assert tape.time_at(6.0) == pytest.approx(0.6)
    lap = resample(tape, 300.0, 0.0, 1, None, None)
    assert lap.time[6] == pytest.approx(0.6) and lap.time[10] == pytest.approx(1.0)
    assert (np.diff(lap.time) > 0.0).all()


def test_time_rises_even_where_the_clock_stumbled() -> None:
    """Twenty metres within a microsecond: a grid of 1 m must still tell them apart."""
    tape = Tape()
    for t, distance in [(0.0, 0.0), (4.0, 200.0), (4.0 + 1e-7, 220.0), (6.0, 300.0)]:
        tape.append(t, distance, Sample(t, speed=50.0))
    lap = resample(tape, 300.0, 0.0, 1, None, None)
    assert (np.diff(lap.time) > 0.0).all()
    assert lap.total == pytest.approx(6.0)
    assert np.array_equal(GridLap.from_json(json.loads(json.dumps(lap.to_json()))).time, lap.time)


@pytest.mark.parametrize(("sent", "lacking"), [("ay", ()), ("yaw_rate", ("ay",))])
def test_lateral_is_the_absolute_acceleration_smoothed(sent: str, lacking: tuple[str, ...]) -> None:
    tape, start, _ = lap_tape()
    for name in lacking:
        tape.columns[name][:] = type(tape.columns[name])("d", [float("nan")] * len(tape))
    lap = resample(tape, loop().length, start, 2, None, None)
    pull = np.abs(lap.channels["speed"] * lap.channels["yaw_rate"])
    assert (lap.lateral >= 0.0).all()
    assert np.abs(lap.lateral - pull).mean() < 0.3
    assert lap.lateral.max() == pytest.approx(12.0, abs=1.5)  # what the made tyres hold


def test_without_any_lateral_channel_it_is_nought() -> None:
    tape, start, _ = lap_tape()
    for name in ("ay", "yaw_rate"):
        tape.columns[name][:] = type(tape.columns[name])("d", [float("nan")] * len(tape))
    assert not resample(tape, loop().length, start, 2, None, None).lateral.any()


def test_a_lap_read_back_is_the_same_lap(lap: GridLap) -> None:
    back = GridLap.from_json(json.loads(json.dumps(lap.to_json())))
    assert (back.number, back.length, back.track, back.car) == (2, lap.length, "loop-a", "car-a")
    assert np.array_equal(back.time, lap.time) and np.array_equal(back.lateral, lap.lateral)
    assert back.channels.keys() == lap.channels.keys()
    assert all(np.array_equal(back.channels[name], lap.channels[name]) for name in lap.channels)
    assert json.dumps(back.to_json()) == json.dumps(lap.to_json())


def test_the_trace_has_the_laps_own_values(lap: GridLap) -> None:
    trace = lap.trace()
    assert trace.length == lap.length and trace.step == lap.step
    assert trace.time == lap.time.tolist() and trace.brake == lap.channels["brake"].tolist()
    bare = GridLap(1, lap.length, lap.time, lap.lateral).trace()
    assert set(bare.speed) == {0.0} and len(bare.throttle) == len(lap.time)


def small() -> dict[str, Any]:
    columns = {"speed": [10.0, 10.0, 10.0], "x": [0.0, 1.0, 2.0]}
    return {
        "number": 3,
        "length": 300.0,
        "track": None,
        "car": None,
        "time": [0.0, 10.0, 20.0],
        "lateral": [0.0, 0.0, 0.0],
        "channels": columns,
    }


def test_the_smallest_lap_is_read() -> None:
    assert GridLap.from_json(small()).total == 20.0


DAMAGE: dict[str, Callable[[dict[str, Any]], Any]] = {
    "not an object": lambda d: [1, 2],
    "null": lambda d: None,
    "no time": lambda d: d.pop("time"),
    "no channels": lambda d: d.pop("channels"),
    "channels a list": lambda d: d.update(channels=[1]),
    "a channel of another length": lambda d: d["channels"].update(speed=[1.0]),
    "a channel of text": lambda d: d["channels"].update(speed=["a", "b", "c"]),
    "a nested channel": lambda d: d["channels"].update(speed=[[1.0], [2.0], [3.0]]),
    "a ragged channel": lambda d: d["channels"].update(speed=[[1.0], 2.0, 3.0]),
    "a null in it": lambda d: d["channels"].update(speed=[1.0, None, 3.0]),
    "not finite": lambda d: d["channels"].update(speed=[1.0, float("inf"), 3.0]),
    "time falls": lambda d: d.update(time=[0.0, 12.0, 11.0]),
    "time stands": lambda d: d.update(time=[0.0, 12.0, 12.0]),
    "time begins late": lambda d: d.update(time=[5.0, 12.0, 20.0]),
    "time too short": lambda d: d.update(time=[0.0], lateral=[0.0], channels={}),
    "lateral too short": lambda d: d.update(lateral=[0.0]),
    "length 0": lambda d: d.update(length=0.0),
    "length negative": lambda d: d.update(length=-1.0),
    "length infinite": lambda d: d.update(length=float("inf")),
    "length NaN": lambda d: d.update(length=float("nan")),
    "length a word": lambda d: d.update(length="long"),
    "number infinite": lambda d: d.update(number=float("inf")),
    "number NaN": lambda d: d.update(number=float("nan")),
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_a_damaged_lap_is_one_clear_line(damage: str) -> None:
    data: Any = copy.deepcopy(small())
    result = DAMAGE[damage](data)
    if damage in ("not an object", "null"):
        data = result
    with pytest.raises(FormatError) as caught:
        GridLap.from_json(data)
    message = str(caught.value)
    assert "reference lap" in message and "record it again" in message and "\n" not in message


def test_the_reference_of_a_start_is_such_a_lap() -> None:
    reference = learned().reference
    assert reference is not None
    assert reference.length == pytest.approx(loop().length, abs=0.001)
    assert reference.total == pytest.approx(drive(2, RATE).laps[1].time, abs=0.0005)
