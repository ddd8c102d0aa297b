"""The checks that every feed passes. A new feed adds its good datagrams to CASES and nothing else."""

from __future__ import annotations

import copy
import math
import struct
from dataclasses import astuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import Sample
from feeds.base import Feed
from feeds.registry import BUILT_IN, create

CASES = {
    "generic": [
        b'{"t":0}',
        b'{"t":12.5,"track":"Quarry Ring","lap":3,"speed":41.5,"throttle":1.0,"wheel_speed":[40.0,40.5,41.0,41.5]}',
        b'{"t":12.6,"tyre_temp":[[80,81,82],[80,81,82],[80,81,82],[80,81,82]],"assists":["abs"],"beside":"left"}',
    ],
}
LAYOUT = {
    "layout": 1,
    "packet": [
        {
            "name": "all",
            "length": 40,
            "channels": {
                "t": {"offset": 0, "type": "f64"},
                "speed": {"offset": 8, "type": "f32", "convert": "km/h"},
                "throttle": {"offset": 12, "type": "f32"},
                "gear": {"offset": 16, "type": "i8"},
                "track": {"offset": 17, "type": "text", "length": 7},
                "wheel_speed": {"offset": 24, "type": "f32"},
            },
        }
    ],
}
CASES["layout"] = [
    struct.pack("<dffb7s4f", 12.5, 180.0, 0.5, 3, b"Ring", 40.0, 40.5, 41.0, 41.5),
    struct.pack("<dffb7s4f", 12.6, 90.0, 1.0, -1, b"", 1.0, 2.0, 3.0, math.nan),
]
NAMES = sorted(CASES)


def made(name: str) -> Feed:
    """A new feed of this name."""
    return create(name, LAYOUT if name == "layout" else None)


def outcome(name: str, data: bytes) -> Sample | str:
    """The sample, or the cause of the one error that is allowed."""
    try:
        sample = made(name).decode(data)
    except FormatError as error:
        assert str(error)
        assert "\n" not in str(error)
        return error.cause
    assert isinstance(sample, Sample)
    return sample


def numbers(value: object) -> list[float]:
    """Every number in a sample's tuple, however deep."""
    if isinstance(value, tuple):
        return [number for item in value for number in numbers(item)]
    return [value] if isinstance(value, (int, float)) else []


def test_every_built_in_feed_is_checked() -> None:
    assert set(CASES) == {*BUILT_IN, "layout"}


@pytest.mark.parametrize("name", NAMES)
class TestEveryFeed:
    def test_good_datagrams_give_samples_and_leave_nothing_out(self, name: str) -> None:
        feed = made(name)
        assert all(isinstance(feed.decode(data), Sample) for data in CASES[name])
        assert feed.left_out.total == 0

    def test_the_same_bytes_give_the_same_sample_whatever_came_before(self, name: str) -> None:
        feed = made(name)
        first = [feed.decode(data) for data in CASES[name]]
        kept = copy.deepcopy(first)
        for data in reversed(CASES[name]):
            with pytest.raises(FormatError):
                feed.decode(b"\xff" + data)
            feed.decode(data)
        assert [feed.decode(data) for data in CASES[name]] == first
        assert first == kept, "a sample changed after it was given out"

    def test_every_cut_of_a_good_datagram_gives_a_sample_or_the_one_error(self, name: str) -> None:
        for data in CASES[name]:
            for length in range(len(data)):
                outcome(name, data[:length])

    @given(data=st.binary(max_size=300))
    def test_any_bytes_give_a_sample_or_the_one_error(self, name: str, data: bytes) -> None:
        outcome(name, data)

    @given(where=st.integers(0, 10_000), byte=st.integers(0, 255), pick=st.integers(0, 100))
    def test_a_changed_byte_gives_finite_numbers_or_the_one_error(
        self, name: str, where: int, byte: int, pick: int
    ) -> None:
        data = bytearray(CASES[name][pick % len(CASES[name])])
        data[where % len(data)] = byte
        result = outcome(name, bytes(data))
        if isinstance(result, Sample):
            assert all(math.isfinite(number) for number in numbers(astuple(result)))

    @pytest.mark.parametrize("data", [b"", b"\x00", b"\xff" * 65_507, b"0" * 65_508, b" " * 65_507])
    def test_bytes_that_are_no_telemetry_are_refused(self, name: str, data: bytes) -> None:
        with pytest.raises(FormatError):
            made(name).decode(data)
