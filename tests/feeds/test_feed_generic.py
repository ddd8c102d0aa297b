"""The generic stream, version 1, against the contract."""

from __future__ import annotations

import json

import pytest

from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import CHANNELS, Sample
from feeds.channels import CONVERTERS
from feeds.generic import MAX_BYTES, GenericFeed

WHOLE = {
    "t": 61.25, "session": "evening", "session_kind": "race", "track": "Quarry Ring", "car": "Hare 1200",
    "driver": "driver one", "setup": "soft", "lap": 3, "lap_time": 12.5, "last_lap_time": 91.2, "lap_distance": 430.5,
    "track_length": 4050.0, "x": 1.5, "y": -2.5, "z": 0.5, "yaw": 0.1, "yaw_rate": -0.2, "speed": 41.5, "vx": 41.0,
    "vy": 0.5, "ax": -9.0, "ay": 3.0, "az": 9.8, "throttle": 0.0, "brake": 0.75, "clutch": 1.0, "steer": -0.3,
    "gear": -1, "engine_speed": 6500.5, "engine_speed_max": 8000.0, "wheel_speed": [40.0, 40.5, 41.0, 41.5],
    "edge_left": 5.5, "edge_right": -0.5, "car_width": 1.8, "fuel": 30.5,
    "tyre_temp": [[80.0, 81.0, 82.0], [83.0, 84.0, 85.0], [86.0, 87.0, 88.0], [89.0, 90.0, 91.0]],
    "tyre_pressure": [180.0, 181.0, 182.0, 183.0], "damage": 0.25, "on_track": True, "in_pit": False, "paused": False,
    "lap_valid": True, "time_left": 1200.0, "laps_left": 12.0, "gap_ahead": 1.5, "gap_behind": 2.5, "beside": "both",
    "blue_flag": False, "yellow_flag": True, "assists": ["abs", "line"], "wetness": 0.5, "track_temp": 31.5,
    "air_temp": 22.5,
}  # fmt: skip


def sent(**channels: object) -> bytes:
    return json.dumps({"t": 1.0, **channels}).encode()


def decoded(text: str) -> tuple[Sample, dict[str, int]]:
    feed = GenericFeed()
    return feed.decode(text.encode()), feed.left_out.by_cause()


def refused(data: bytes) -> FormatError:
    with pytest.raises(FormatError) as caught:
        GenericFeed().decode(data)
    assert "\n" not in str(caught.value)
    return caught.value


def test_every_channel_of_the_contract_arrives_as_sent() -> None:
    assert set(WHOLE) == set(CHANNELS)
    feed = GenericFeed()
    sample = feed.decode(json.dumps(WHOLE).encode())
    for name, value in WHOLE.items():
        expected = value
        if isinstance(value, list):
            expected = tuple(tuple(item) if isinstance(item, list) else item for item in value)
        got = getattr(sample, name)
        assert got == expected, name
        assert type(got) is type(expected), name
    assert feed.left_out.total == 0


def test_only_t_is_needed_and_a_whole_number_will_do() -> None:
    sample, left_out = decoded('{"t":7}')
    assert sample == Sample(7.0)
    assert type(sample.t) is float
    assert left_out == {}


@pytest.mark.parametrize("name", sorted(CONVERTERS))
@pytest.mark.parametrize("value", ["null", "NaN", "Infinity", "-Infinity"])
def test_null_nan_and_infinite_are_absent_and_no_fault(name: str, value: str) -> None:
    sample, left_out = decoded(f'{{"t":1,"{name}":{value}}}')
    assert sample == Sample(1.0)
    assert left_out == {}


def test_a_number_too_big_for_a_double_is_infinite_and_so_absent() -> None:
    # RFC 8259 section 6: 1E400 goes beyond what IEEE 754 double precision holds.
    sample, left_out = decoded('{"t":1,"speed":1e400,"throttle":-1e400,"lap":1e400}')
    assert sample == Sample(1.0)
    assert left_out == {}


@pytest.mark.parametrize("name", sorted(CONVERTERS))
@pytest.mark.parametrize("value", ["9" * 400, "1e300", '{"a":1}'])
def test_what_does_not_fit_costs_its_channel_only_and_is_counted(name: str, value: str) -> None:
    other = "x" if name == "fuel" else "fuel"
    sample, left_out = decoded(f'{{"t":1,"{name}":{value},"{other}":5.0}}')
    assert sample == Sample(1.0, **{other: 5.0})
    assert list(left_out.values()) == [1]
    assert next(iter(left_out)).startswith(f"{name} must be ")


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("speed", True), ("speed", "41"), ("throttle", 255), ("throttle", -0.02), ("brake", 1.02), ("damage", 100),
        ("lap", 3.5), ("lap", "3"), ("lap", False), ("gear", -2), ("gear", "N"), ("on_track", 2), ("on_track", "yes"),
        ("on_track", 0.5), ("track", 5), ("track", "x" * 257), ("session_kind", "drag"), ("beside", "behind"),
        ("beside", True), ("assists", "abs"), ("wheel_speed", [1, 2, 3]), ("wheel_speed", [1, 2, 3, 4, 5]),
        ("wheel_speed", [1, 2, 3, "4"]), ("wheel_speed", [1, 2, 3, True]), ("wheel_speed", 41.0),
        ("tyre_temp", [[1, 2, 3]] * 3), ("tyre_temp", [[1, 2]] * 4), ("tyre_temp", [1, 2, 3, 4]),
    ],
)  # fmt: skip
def test_a_wrong_value_leaves_its_channel_out(name: str, value: object) -> None:
    feed = GenericFeed()
    sample = feed.decode(sent(**{name: value}))
    assert getattr(sample, name) is None
    assert feed.left_out.total == 1


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("lap", 3.0, 3), ("gear", 4.0, 4), ("on_track", 1, True), ("on_track", 0, False), ("in_pit", 1.0, True),
        ("speed", 41, 41.0), ("throttle", 1, 1.0), ("throttle", 1.004, 1.0), ("brake", -0.004, 0.0),
        ("wheel_speed", [1, 2.5, 3, 4], (1.0, 2.5, 3.0, 4.0)), ("session_kind", "", None), ("beside", "", ""),
        ("track", "", ""), ("track", "Rue\u00e9 \u6771", "Rue\u00e9 \u6771"),
        ("track", "two\nlines\ud800", "two lines "),
        ("assists", [], ()), ("assists", ["line", "abs", "abs", "lift", 7, None, [[]]], ("abs", "line")),
    ],
)  # fmt: skip
def test_what_a_loose_source_sends_is_understood(name: str, value: object, expected: object) -> None:
    feed = GenericFeed()
    got = getattr(feed.decode(sent(**{name: value})), name)
    assert got == expected
    assert type(got) is type(expected)
    assert feed.left_out.total == 0


@pytest.mark.parametrize("value", [[1, None, 3, 4], [1, 2, 3, float("nan")], [float("inf"), 2, 3, 4]])
def test_a_list_with_a_hole_is_absent_and_no_fault(value: list[float]) -> None:
    feed = GenericFeed()
    sample = feed.decode(sent(wheel_speed=value, tyre_temp=[[1, 2, 3], None, [1, 2, 3], [1, 2, 3]]))
    assert (sample.wheel_speed, sample.tyre_temp) == (None, None)
    assert feed.left_out.total == 0


def test_a_source_in_other_units_is_told_in_one_line() -> None:
    feed = GenericFeed()
    for pedal in range(256):
        feed.decode(sent(throttle=pedal))
    assert feed.left_out.lines(0.0) == [
        "channel left out 254 times: throttle must be a number from 0 to 1 (was 255)",
    ]


def test_unknown_keys_are_ignored_whatever_they_hold() -> None:
    sample, left_out = decoded('{"t":1,"radio":[{"deep":[[[]]]}],"T":5,"":null,"__class__":"x","decode":1,"speed":2.5}')
    assert sample == Sample(1.0, speed=2.5)
    assert left_out == {}


def test_of_a_key_sent_twice_the_last_counts() -> None:
    assert decoded('{"t":1,"speed":1.0,"speed":2.0}')[0].speed == 2.0


@pytest.mark.parametrize(
    ("data", "cause"),
    [
        (b"", "not JSON"), (b"hello", "not JSON"), (b'{"t":1', "not JSON"), (b'{"t":1}{"t":2}', "not JSON"),
        (b'{"t":1} x', "not JSON"), (b"{'t':1}", "not JSON"), (b'{"t":' + b"1" * 5000 + b"}", "not JSON"),
        (b"\xff\xfe", "not UTF-8"), ('{"t":1}'.encode("utf-16"), "not UTF-8"), (b'{"t":1,"track":"\xe9"}', "not UTF-8"),
        ('{"t":1}'.encode("utf-16-le"), "not JSON"), (b"[1]", "not an object"), (b"1", "not an object"),
        (b'"t"', "not an object"), (b"null", "not an object"), (b"NaN", "not an object"), (b"{}", "no t"),
        (b'{"t":null}', "no t"), (b'{"t":NaN}', "no t"), (b'{"T":1}', "no t"), (b'{"t":"1"}', "t is no time"),
        (b'{"t":true}', "t is no time"), (b'{"t":[1]}', "t is no time"), (b'{"t":1e400}', "t is no time"),
        (b'{"t":1e13}', "t is no time"), (b'{"t":' + b"9" * 400 + b"}", "t is no time"),
        (b"[" * 65_507, "nested too deep"), (b'{"t":1,"a":' + b"[" * 30_000 + b"]" * 30_000 + b"}", "nested too deep"),
        (b'{"a":' * 13_000, "nested too deep"), (b'{"t":1}' + b" " * (MAX_BYTES - 6), "too long"),
    ],
)  # fmt: skip
def test_a_datagram_that_cannot_be_read_is_one_error_with_its_cause(data: bytes, cause: str) -> None:
    assert refused(data).cause == cause


def test_the_largest_datagram_is_read() -> None:
    assert GenericFeed().decode(b'{"t":1}' + b" " * (MAX_BYTES - 7)) == Sample(1.0)


def test_a_byte_order_mark_is_ignored() -> None:
    # RFC 8259 section 8.1: parsers may ignore a byte order mark rather than treat it as an error.
    assert GenericFeed().decode(b'\xef\xbb\xbf{"t":1}') == Sample(1.0)


def test_errors_name_the_place_and_the_mend() -> None:
    assert str(refused(b'{"t":1,}')).startswith("not JSON at character ")
    assert str(refused(b'{"speed":1}')).endswith("send the session clock in seconds as the number `t`")
    for number in (b"1e13", b"-1e13", b"1e400"):
        assert str(refused(b'{"t":' + number + b"}")).endswith("as the number `t`, under 1e12")
    assert "datagram may hold" in str(refused(b"0" * 70_000))
