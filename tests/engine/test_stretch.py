"""Pieces of driving: over the line, of the reference round and round, and what is asked of them."""

from __future__ import annotations

import numpy as np
import pytest

from coach.engine.stretch import Stretch, from_lap, from_tapes
from coach.engine.tape import Tape
from coach.vocabulary.sample import Sample
from tests.engine.handmade import grid_lap

LENGTH = 1000.0
SPEED = 25.0


def tape(begins: float, start: float = 0.0, end: float = LENGTH, rate: float = 50.0) -> Tape:
    """Constant speed from `start` to `end` m, the line's own row at both ends where it is the lap's."""
    made = Tape()
    count = round((end - start) / SPEED * rate)
    for i in range(count + 1):
        place = start + (end - start) * i / count
        t = begins + (place - start) / SPEED
        made.append(t, place, Sample(t, speed=SPEED, throttle=place / LENGTH, gear=3, wheel_speed=(1.0, 3.0, 5.0, 7.0)))
    return made


def rising(values: object) -> bool:
    return bool((np.diff(np.asarray(values)) > 0.0).all())


def test_within_one_lap() -> None:
    piece = from_tapes(None, 0.0, tape(100.0), 200.0, 400.0)
    assert piece is not None
    assert piece.d[0] <= 200.0 <= piece.d[1] and piece.d[-2] < 400.0 <= piece.d[-1]
    assert piece.time_at(300.0) == pytest.approx(100.0 + 300.0 / SPEED)
    assert piece.value_at("throttle", 300.0) == pytest.approx(0.3)
    assert set(piece["front"]) == {2.0} and set(piece["rear"]) == {6.0}


def test_over_the_line_places_before_it_are_negative() -> None:
    before, after = tape(60.0), tape(100.0)
    piece = from_tapes(before, LENGTH, after, -150.0, 80.0)
    assert piece is not None
    assert piece.d[0] <= -150.0 and piece.d[-1] >= 80.0
    assert rising(piece.d) and rising(piece.t)  # the line itself, a row of both laps, comes once
    assert piece.time_at(-100.0) == pytest.approx(60.0 + 900.0 / SPEED)
    assert piece.time_at(0.0) == pytest.approx(100.0)
    assert piece.value_at("throttle", -100.0) == pytest.approx(0.9)
    assert piece.longest_step(piece.d[0]) == pytest.approx(1 / 50.0, rel=1e-6)


def test_what_was_not_seen_is_not_cut() -> None:
    assert from_tapes(None, 0.0, tape(0.0, start=300.0), 200.0, 400.0) is None
    assert from_tapes(None, LENGTH, tape(100.0), -50.0, 100.0) is None
    joined = tape(90.0, start=900.0)
    assert from_tapes(joined, LENGTH, tape(100.0), -150.0, 100.0) is None
    assert from_tapes(joined, LENGTH, tape(100.0), -50.0, 100.0) is not None


def test_a_lap_that_runs_now_is_cut_as_far_as_it_is() -> None:
    piece = from_tapes(None, 0.0, tape(0.0, end=350.0), 200.0, 400.0)
    assert piece is not None and piece.d[-1] == 350.0
    assert piece.time_at(360.0) is None and piece.value_at("speed", 360.0) is None
    assert piece.time_at(100.0) is None


def test_a_silence_shows() -> None:
    holed = Tape()
    for t in (0.0, 0.02, 0.04, 0.34, 0.36):
        holed.append(t, 25.0 * t, Sample(t))
    piece = from_tapes(None, 0.0, holed, 0.0, 9.0)
    assert piece is not None
    assert piece.longest_step(piece.d[0]) == pytest.approx(0.3)


def reference() -> Stretch | None:
    count = round(LENGTH) + 1
    lap = grid_lap(LENGTH, LENGTH / SPEED, throttle=np.arange(count) / LENGTH)
    return from_lap(lap, -150.0, 1120.0)


def test_the_reference_goes_round_and_round() -> None:
    piece = reference()
    assert piece is not None
    assert rising(piece.t)
    assert piece.d[0] == -150.0 and piece.d[-1] == 1120.0
    for place in (-150.0, -1.0, 0.0, 400.5, 999.0, 1000.0, 1120.0):
        assert piece.time_at(place) == pytest.approx(place / SPEED)
    assert piece.value_at("throttle", -100.0) == pytest.approx(0.9)
    assert piece.value_at("throttle", 1100.0) == pytest.approx(0.1)


def test_channels_that_were_not_sent_are_absent() -> None:
    piece = reference()
    assert piece is not None
    assert piece.has("throttle") and not piece.has("throttle", "brake") and not piece.has("rear")
    assert piece.value_at("brake", 100.0) is None
    own = from_tapes(None, 0.0, tape(0.0), 0.0, 100.0)
    assert own is not None and own.has("speed", "gear", "rear") and not own.has("yaw_rate")


def test_a_car_that_stands_or_rolls_back_passes_a_place_once() -> None:
    stood = Tape()
    for t, place in ((0.0, 10.0), (1.0, 20.0), (2.0, 18.0), (3.0, 20.0), (4.0, 30.0)):
        stood.append(t, place, Sample(t))
    piece = from_tapes(None, 0.0, stood, 10.0, 30.0)
    assert piece is not None
    assert piece.time_at(20.0) == 1.0
    assert piece.time_at(25.0) == pytest.approx(3.5)
