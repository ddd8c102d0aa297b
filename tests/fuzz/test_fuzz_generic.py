"""The datagram parser: any bytes give a sample of finite numbers, or one FormatError with a known cause."""

from __future__ import annotations

import json
import math
from dataclasses import astuple
from unittest.mock import patch

import orjson
from hypothesis import example, given
from hypothesis import strategies as st

from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import CHANNELS, Sample
from feeds import generic
from feeds.channels import LARGEST
from feeds.generic import GenericFeed

CAUSES = {"not UTF-8", "not JSON", "not an object", "no t", "t is no time", "nested too deep", "too long"}

scalars = (
    st.none()
    | st.booleans()
    | st.floats()
    | st.integers()
    | st.integers(-(10**400), 10**400)
    | st.text(max_size=20)
    | st.sampled_from(["", "left", "race", "abs", "1", "NaN"])
)
values = st.recursive(
    scalars, lambda inner: st.lists(inner, max_size=5) | st.dictionaries(st.text(max_size=5), inner), max_leaves=12
)
telemetry = st.dictionaries(st.sampled_from(CHANNELS), values, max_size=12)
VALID = json.dumps(
    {"t": 61.25, "track": "Quarry Ring", "lap": 3, "speed": 41.5, "throttle": 0.5, "on_track": True, "beside": "left",
     "wheel_speed": [40.0, 40.5, 41.0, 41.5], "tyre_temp": [[80.0, 81.0, 82.0]] * 4, "assists": ["abs"]}
).encode()  # fmt: skip
SEEDS = [VALID]


def check(data: bytes) -> Sample | None:
    feed = GenericFeed()
    try:
        sample = feed.decode(data)
    except FormatError as error:
        assert error.cause in CAUSES
        assert "\n" not in str(error)
        assert len(str(error)) < 200
        return None
    for value in astuple(sample):
        check_value(value)
    for line in feed.left_out.lines(0.0):
        assert line.isprintable()
        assert len(line) < 200
    assert feed.decode(data) == sample
    return sample


def check_value(value: object) -> None:
    """What the class promises: finite numbers, text that can be shown, tuples of them."""
    if isinstance(value, tuple):
        for item in value:
            check_value(item)
    elif isinstance(value, str):
        assert value.isprintable()
        assert len(value.encode()) <= 4 * 256
    elif value is not None and not isinstance(value, bool):
        assert isinstance(value, (int, float))
        assert math.isfinite(value)
        assert abs(value) <= LARGEST


@given(st.binary(max_size=2000))
@example(b"[" * 65_507)
@example(b'{"a":' * 13_101)
@example(b'{"t":1,"wheel_speed":' + b"[" * 30_000 + b"]" * 30_000 + b"}")
@example(b'{"t":1e999}')
@example(b'{"t":-0.0,"track":"\\ud800"}')
def test_any_bytes(data: bytes) -> None:
    check(data)


@given(values)
def test_any_json(value: object) -> None:
    check(json.dumps(value).encode())


@given(telemetry, st.floats(-1e12, 1e12))
def test_any_values_in_the_channels_cost_no_more_than_themselves(channels: dict[str, object], t: float) -> None:
    sample = check(json.dumps({**channels, "t": t, "fuel": 12.5}).encode())
    assert sample is not None
    assert (sample.t, sample.fuel) == (t, 12.5)


@given(st.lists(st.tuples(st.integers(0, len(VALID) - 1), st.integers(0, 255)), min_size=1, max_size=4))
def test_a_damaged_datagram(changes: list[tuple[int, int]]) -> None:
    data = bytearray(VALID)
    for place, byte in changes:
        data[place] = byte
    check(bytes(data))


@given(st.integers(0, len(VALID)), st.integers(0, len(VALID)), st.binary(max_size=8))
def test_a_datagram_with_a_part_taken_out_or_put_in(start: int, end: int, put: bytes) -> None:
    check(VALID[:start] + put + VALID[end:])


numbers = (
    st.integers(-(10**30), 10**30).map(str)
    | st.floats().map(repr)
    | st.decimals(allow_nan=False, allow_infinity=False).map(str)
    | st.sampled_from(
        ["NaN", "-Infinity", "-0", "1e400", "1e-400", "18446744073709551616", "9" * 5000, "01", "1.", ".5"]
    )
)
texts = st.text(max_size=8).map(json.dumps) | st.text(max_size=8).map(lambda text: json.dumps(text, ensure_ascii=False))
odd = st.sampled_from(
    ['"\\ud800"', '"\\udc00\\ud800"', '"\\ud83d\\ude00"', '"\\u0000"', '"\t"', '"\\x"', "null", "true", "True", ""]
)
written = st.recursive(
    numbers | texts | odd,
    lambda inner: st.lists(inner, max_size=4).map(lambda parts: f"[{','.join(parts)}]"),
    max_leaves=6,
)
gaps = st.sampled_from(["", " ", "\r\n", "\x0b", "\xa0", "\ufeff"])
names = st.sampled_from([*CHANNELS, "t", "lap", "other"]).map(json.dumps)
members = st.lists(st.tuples(gaps, names, written).map(lambda one: f"{one[0]}{one[1]}:{one[2]}"), max_size=8)


@given(gaps, members, st.sampled_from(["", " ", "x", "{}", ","]))
@example("\ufeff", ['"t":1'], "")
@example("", ['"t":1', '"t":2', '"lap":1', '"lap":null'], "")
@example("", ['"t":1', f'"other":{"[" * 900}{"]" * 900}'], "")
def test_the_quick_reader_and_the_patient_one_read_the_same(before: str, inside: list[str], behind: str) -> None:
    """Doubled keys included; whole numbers beyond 64 bits are told in fewer digits, no more."""
    data = f"{before}{{{','.join(inside)}}}{behind}".encode()
    quick = _outcome(data)
    with patch.object(orjson, "loads", generic._patiently):
        patient = _outcome(data)
    assert quick == patient


def _outcome(data: bytes) -> tuple[str, object]:
    """The sample, as it is shown (-0.0 is not 0.0), with what was left out; or the cause of refusal."""
    feed = GenericFeed()
    try:
        return repr(feed.decode(data)), feed.left_out.by_cause()
    except FormatError as error:
        return "refused", error.cause
