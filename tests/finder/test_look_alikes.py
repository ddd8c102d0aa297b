"""What looks like a channel and is none: it is left out, not guessed, and a mistake in the steps makes nothing wrong.

One plain packet, altered in one point each time; who looks for a channel in it must not take the neighbour.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from feeds.base import Datagram
from feeds.finder import Proposal, Step, find
from tests.finder.columns import WHEELS, Columns, Floats
from tests.finder.drives import built_in, short_circuit
from tests.finder.prelude import Prelude, led_in
from tests.finder.scoring import judged

Numbers = dict[str, tuple[str, Floats]]
"""name: numpy's type and the values, in the packet's order"""
KNOT = 1852 / 3600
"""m/s (NIST SP 811)"""


@pytest.fixture(scope="module")
def prelude() -> Prelude:
    return led_in(built_in("Pellow R", "steady", short_circuit(), rate=36), 1)


def plain(c: Columns) -> Numbers:
    """A source that hides nothing."""
    return {
        "t": ("<f4", c["t"] - c["t"][0]), "speed": ("<f4", c["speed"]), "engine": ("<f4", c["engine_speed"]),
        "gear": ("i1", c["gear"]), "throttle": ("<f4", c["throttle"]), "brake": ("<f4", c["brake"]),
        "clutch": ("<f4", c["clutch"]), "steer": ("<f4", c["steer"]), "x": ("<f4", c["x"]), "y": ("<f4", c["y"]),
        "distance": ("<f4", c["lap_distance"]), "lap": ("u1", c["lap"]), "lap_time": ("<f4", c["lap_time"]),
    }  # fmt: skip


def late(values: Floats, rows: int) -> Floats:
    return np.concatenate([np.repeat(values[:1], rows), values[:-rows]])


def car_behind(c: Columns, steps: list[Step], rows: int) -> Numbers:
    """The same numbers of a car that follows; its driver does not do our steps."""
    drives = c["t"] >= steps[-1].begins
    at_rest = {"throttle": 0.0, "brake": 0.0, "clutch": 0.0, "steer": 0.0, "gear": 0.0, "engine": 1000.0}
    return {
        f"other {name}": (code, np.where(drives, late(values, rows), at_rest.get(name, late(values, rows))))
        for name, (code, values) in plain(c).items()
        if name != "t"
    }


def sent(numbers: Numbers, received: Floats) -> list[Datagram]:
    packet = np.dtype([(name, code) for name, (code, _) in numbers.items()])
    rows = np.zeros(len(received), dtype=packet)
    for name, (code, values) in numbers.items():
        rows[name] = values if "f" in code else np.rint(values).astype(np.int64).astype(code)
    data, width = rows.tobytes(), packet.itemsize
    return [Datagram(float(t), data[i * width : (i + 1) * width]) for i, t in enumerate(received)]


def tried(
    columns: Columns, steps: list[Step], numbers: Numbers, rename: dict[str, str] | None = None
) -> tuple[Proposal, set[str]]:
    """The proposal, and the channels that are wrong in it. `rename`: the steps as they were done in truth."""
    received = columns["t"] + np.random.default_rng(1).exponential(1e-3, len(columns["t"]))
    packets = sent(numbers, np.maximum.accumulate(received))
    named = [Step((rename or {}).get(step.name, step.name), step.begins, step.ends) for step in steps]
    proposal = find(packets, named)
    verdict = judged(proposal, packets, list(range(len(packets))), columns)
    return proposal, {channel for channel, is_right in verdict.items() if not is_right}


def test_the_plain_packet_is_found_whole(prelude: Prelude) -> None:
    proposal, wrong = tried(prelude.columns, prelude.steps, plain(prelude.columns))
    assert wrong == set()
    assert {"speed", "engine_speed", "gear", "throttle", "brake", "clutch", "steer", "x", "y", "lap"} <= set(
        proposal.fields
    )


def sector_clock(c: Columns) -> Floats:
    sector = np.floor(3.0 * c["lap_distance"] / c["track_length"])
    clock = c["t"] - c["t"][0]
    for begin in np.flatnonzero(np.diff(sector)) + 1:
        clock[begin:] = c["t"][begin:] - c["t"][begin]
    return clock


def between(c: Columns, channel: str, fullest: float) -> Floats:
    return c[channel] / c[channel].max() * fullest


def wheels(c: Columns) -> Numbers:
    """Each wheel's numbers together: speed, and one that is nothing."""
    return {
        name: number
        for wheel in WHEELS
        for name, number in ((wheel, ("<f4", c[wheel])), (f"{wheel} heat", ("<f4", 80.0 + 0.1 * c[wheel])))
    }


ALTERED: dict[str, tuple[Callable[[Columns], Numbers], tuple[str, ...], set[str]]] = {
    "laps on these tyres": (lambda c: {"age": ("u1", c["lap"] + 4)}, (), {"lap"}),
    "a lap as text only": (lambda c: {"digit": ("u1", c["lap"] + ord("0"))}, ("lap",), {"lap"}),
    "another's lap": (
        lambda c: {"other": ("u1", late(c["lap"], 90) + 1)}, ("distance", "lap_time"), {"lap"},
    ),
    "a sector's clock": (lambda c: {"sector": ("<f4", sector_clock(c))}, ("distance", "lap_time"), {"lap_time"}),
    "engine speed in quarters": (
        lambda c: {"quarters": ("<u2", 4.0 * between(c, "engine_speed", 5000.0))}, ("engine",), {"engine_speed"},
    ),
    "share of the limit, whole": (
        lambda c: {"share": ("<u2", between(c, "engine_speed", 10_000.0))}, ("engine",), {"engine_speed"},
    ),
    "share of the limit, float": (
        lambda c: {"share": ("<f4", between(c, "engine_speed", 1000.0))}, ("engine",), {"engine_speed"},
    ),
    "wheels' speeds": (wheels, ("speed",), {"speed"}),
    "wheels' speeds without a position": (wheels, ("speed", "x", "y"), {"speed"}),
    "another's yaw rate": (lambda c: {"yaw rate": ("<f4", late(c["yaw_rate"], 10))}, (), {"yaw_rate"}),
    "another's lateral acceleration": (lambda c: {"ay": ("<f4", late(c["ay"], 10))}, (), {"ay"}),
}  # fmt: skip


@pytest.mark.parametrize("case", list(ALTERED))
def test_a_look_alike_is_left_out(prelude: Prelude, case: str) -> None:
    more, without, lost = ALTERED[case]
    numbers = {name: n for name, n in plain(prelude.columns).items() if name not in without} | more(prelude.columns)
    proposal, wrong = tried(prelude.columns, prelude.steps, numbers)
    assert wrong == set()
    assert lost <= set(proposal.left_out)
    assert {"throttle", "brake", "steer"} <= set(proposal.fields)


def test_a_lap_as_text_beside_the_number_is_no_rival(prelude: Prelude) -> None:
    numbers = {"digit": ("u1", prelude.columns["lap"] + ord("0"))} | plain(prelude.columns)
    proposal, wrong = tried(prelude.columns, prelude.steps, numbers)
    assert wrong == set()
    assert "lap" in proposal.fields


@pytest.mark.parametrize("rows", [18, 54])
@pytest.mark.parametrize("position", [True, False])
def test_a_car_behind_is_told_from_ours_by_our_pedals(prelude: Prelude, rows: int, position: bool) -> None:
    numbers = car_behind(prelude.columns, prelude.steps, rows) | plain(prelude.columns)
    numbers = {name: n for name, n in numbers.items() if position or name not in ("x", "y", "other x", "other y")}
    proposal, wrong = tried(prelude.columns, prelude.steps, numbers)
    assert wrong == set()
    assert {"speed", "engine_speed", "gear", "throttle", "brake", "steer", "lap"} <= set(proposal.fields)


@pytest.mark.parametrize("rows", [36, 180])
def test_another_cars_speed_does_not_stand_in_for_ours(prelude: Prelude, rows: int) -> None:
    own = plain(prelude.columns)
    own["speed"] = ("<f4", prelude.columns["speed"] / KNOT)
    proposal, wrong = tried(prelude.columns, prelude.steps, car_behind(prelude.columns, prelude.steps, rows) | own)
    assert wrong == set()
    assert {"speed", "x", "y"} <= set(proposal.left_out)


@pytest.mark.parametrize("mixed", [("rev", "brake"), ("brake", "clutch")])
def test_the_wrong_pedal_in_a_step_is_noticed_on_the_drive(prelude: Prelude, mixed: tuple[str, str]) -> None:
    a, b = mixed
    proposal, wrong = tried(prelude.columns, prelude.steps, plain(prelude.columns), {a: b, b: a})
    assert wrong == set()
    assert "was it this pedal" in proposal.left_out["brake"]


def test_a_worn_pedal_that_rests_at_2_percent_with_noise(prelude: Prelude) -> None:
    noise = np.random.default_rng(2)
    count = len(prelude.columns["t"])
    worn = {
        name: np.clip(0.02 + 0.96 * prelude.columns[name] + noise.normal(0.0, 0.003, count), 0.0, 1.0)
        for name in ("throttle", "brake")
    }
    columns = prelude.columns | worn
    proposal, wrong = tried(columns, prelude.steps, plain(columns))
    assert wrong == set()
    assert {"throttle", "brake"} <= set(proposal.fields)


def test_centimetres_of_which_one_axis_needs_only_16_bits(prelude: Prelude) -> None:
    c = prelude.columns
    x, y = 100.0 * (c["x"] - c["x"].min()) + 5.0, 100.0 * (c["y"] - c["y"].mean())
    assert x.max() < 2**16
    numbers = plain(c) | {"x": ("<i4", x), "y": ("<i4", y)}
    proposal, wrong = tried(c, prelude.steps, numbers)
    assert wrong == set()
    assert {"x", "y"} <= set(proposal.fields)


def test_a_pedal_in_an_unknown_range_is_named_and_not_scaled(prelude: Prelude) -> None:
    c = prelude.columns
    numbers = {name: n for name, n in plain(c).items() if name != "brake"} | {"bar": ("<f4", 83.0 * c["brake"])}
    proposal, wrong = tried(c, prelude.steps, numbers)
    assert wrong == set()
    assert "bytes 42 (f32) move like it, from 0 to 83" in proposal.left_out["brake"]
    assert "write it in" in proposal.text()


def test_a_round_limit_is_named_as_what_it_may_be(prelude: Prelude) -> None:
    c = prelude.columns
    numbers = plain(c) | {"engine": ("<u2", between(c, "engine_speed", 10_000.0))}
    proposal, wrong = tried(c, prelude.steps, numbers)
    assert wrong == set()
    assert "bytes 8 (u16) move like it up to a round number" in proposal.left_out["engine_speed"]


def test_what_comes_to_rest_at_a_tiny_number_is_no_nonsense(prelude: Prelude) -> None:
    c = prelude.columns
    tiny = np.random.default_rng(3).normal(0.0, 1e-15, len(c["t"]))
    names = ("speed", "throttle", "brake", "steer")
    numbers = plain(c) | {name: ("<f4", np.where(np.abs(c[name]) < 1e-6, tiny, c[name])) for name in names}
    proposal, wrong = tried(c, prelude.steps, numbers)
    assert wrong == set()
    assert set(names) <= set(proposal.fields)


def test_pedals_of_one_byte_in_a_row_take_in_no_neighbour(prelude: Prelude) -> None:
    c = prelude.columns
    numbers = plain(c)
    pedals: Numbers = {name: ("u1", 255.0 * c[name]) for name in ("throttle", "brake", "clutch")}
    ordered = {"t": numbers["t"], "speed": numbers["speed"], "steer": numbers["steer"], **pedals}
    packet = {**ordered, **{name: number for name, number in numbers.items() if name not in ordered}}
    proposal, wrong = tried(c, prelude.steps, packet)
    found = {one.channel: (one.offset, one.type) for one in proposal.found}
    assert wrong == set()
    assert [found.get(name) for name in ("throttle", "brake", "clutch")] == [(12, "u8"), (13, "u8"), (14, "u8")]


@pytest.mark.parametrize("code", ["<u2", ">u2"])
def test_pedals_of_two_bytes_are_read_whole(prelude: Prelude, code: str) -> None:
    c = prelude.columns
    pedals: Numbers = {name: (code, 65_535.0 * c[name]) for name in ("throttle", "brake", "clutch")}
    proposal, wrong = tried(c, prelude.steps, {**plain(c), **pedals})
    found = {one.channel: one.type for one in proposal.found}
    assert wrong == set()
    assert [found.get(name) for name in ("throttle", "brake")] == ["u16"] * 2
    assert "clutch" in found  # moved so quickly that its lower byte may say nothing
