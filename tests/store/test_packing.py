"""Columns come back bit for bit, whatever they hold; and damaged ones are refused."""

from __future__ import annotations

import zlib
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from coach.engine.lap import GridLap
from coach.store import packing
from coach.store.packing import MAGIC, pack, pack_grid, unpack, unpack_grid
from coach.vocabulary.errors import FormatError

Floats = NDArray[np.float64]


def same(a: Floats, b: Floats) -> bool:
    """Bit for bit, so that -0.0 is not 0.0 and NaN is NaN."""
    return a.shape == b.shape and bool((a.view(np.int64) == b.view(np.int64)).all())


def rounded(digits: int) -> Any:
    return st.floats(-1e6, 1e6).map(lambda x: float(np.round(x, digits)))


ELEMENTS = st.one_of(rounded(0), rounded(4), rounded(6), st.floats(allow_nan=False), st.just(float("nan")))
KINDS = (rounded(0), rounded(4), rounded(6), ELEMENTS)
COLUMN = st.integers(0, 40).flatmap(lambda n: st.one_of(*(arrays(np.float64, n, elements=kind) for kind in KINDS)))


@settings(max_examples=30, deadline=None)
@given(COLUMN)
def test_a_column_comes_back_bit_for_bit(column: Floats) -> None:
    back, about = unpack(pack({"a": column, "b": -column}, {"what": "ü"}))
    assert same(back["a"], column)
    assert same(back["b"], -column)
    assert about == {"what": "ü"}


def made_lap(points: int = 3000) -> GridLap:
    """A lap with the digits of an engine's (`engine.lap`)."""
    place = np.linspace(0.0, 3000.0, points)
    chance = np.random.default_rng(1)
    channels = {
        "speed": 40.0 + 20.0 * np.sin(place / 300.0) + chance.normal(0.0, 0.02, points),
        "throttle": np.clip(np.sin(place / 300.0) * 3.0, 0.0, 1.0),
        "steer": -0.3 * np.sin(place / 200.0),
        "x": 400.0 * np.cos(place / 477.0),
        "gear": np.floor(3.0 + np.sin(place / 300.0)),
    }
    time = np.round(np.cumsum(1.0 / channels["speed"]) * (3000.0 / points), 6)
    time -= time[0]
    return GridLap(
        3,
        3000.0,
        np.round(time, 6),
        np.round(np.abs(channels["steer"]) * 30.0, 4),
        {name: np.round(column, 4) for name, column in channels.items()},
        "loop ü",
        None,
    )


def test_a_lap_comes_back_bit_for_bit_and_is_small() -> None:
    lap = made_lap()
    blob = pack_grid(lap)
    back = unpack_grid(blob)
    assert (back.number, back.length, back.track, back.car) == (lap.number, lap.length, lap.track, lap.car)
    assert list(back.channels) == list(lap.channels)
    for mine, theirs in zip(
        (lap.time, lap.lateral, *lap.channels.values()), (back.time, back.lateral, *back.channels.values()), strict=True
    ):
        assert same(mine, theirs)
    assert len(blob) < 0.35 * 8 * lap.time.size * 7  # (choice: a third of the plain doubles)


@pytest.mark.parametrize("cut", [0, 3, 10, 200, -1])
def test_cut_bytes_are_refused(cut: int) -> None:
    with pytest.raises(FormatError, match="kept channels cannot be read"):
        unpack_grid(pack_grid(made_lap(200))[:cut])


@settings(max_examples=30, deadline=None)
@given(st.binary(max_size=60), st.integers(0, 10**6))
def test_changed_bytes_are_refused_or_are_a_lap(more: bytes, at: int) -> None:
    flat = bytearray(zlib.decompress(pack_grid(made_lap(50))[len(MAGIC) :]))
    at %= len(flat)
    flat[at : at + len(more)] = more
    try:
        lap = unpack_grid(MAGIC + zlib.compress(bytes(flat)))
    except FormatError:
        return
    assert np.isfinite(lap.time).all()


def test_what_unpacks_to_too_much_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    blob = pack_grid(made_lap(500))
    monkeypatch.setattr(packing, "LARGEST", 1000)
    with pytest.raises(FormatError, match="too large"):
        unpack_grid(blob)


def test_text_in_place_of_bytes_is_refused() -> None:
    with pytest.raises(FormatError):
        unpack("CW\x01")  # type: ignore[arg-type]
