"""Whatever comes, the finder answers with a proposal."""

from __future__ import annotations

import struct

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.vocabulary.errors import InputError
from feeds.base import Datagram
from feeds.finder import STEPS, Proposal, Step, find

SOME = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def answered(packets: list[Datagram], steps: list[Step]) -> Proposal:
    """A proposal that holds together."""
    proposal = find(packets, steps)
    assert not set(proposal.fields) & set(proposal.left_out)
    for place in proposal.fields.values():
        assert place.offset + place.width <= proposal.kinds[place.kind].length
    if proposal.fields:
        assert proposal.text()
    return proposal


@SOME
@given(
    lengths=st.lists(st.integers(0, 70), min_size=1, max_size=3),
    seed=st.integers(0, 2**32 - 1),
    few=st.booleans(),
    gaps=st.sampled_from([0.0, 1e-3, 1 / 60, 5.0]),
    spans=st.lists(st.tuples(st.sampled_from(STEPS), st.floats(-5, 20), st.floats(-5, 20)), max_size=8),
)
def test_any_bytes(
    lengths: list[int], seed: int, few: bool, gaps: float, spans: list[tuple[str, float, float]]
) -> None:
    chance = np.random.default_rng(seed)
    packets = [
        Datagram(gaps * i, chance.integers(0, 3 if few else 256, length, dtype=np.uint8).tobytes())
        for i in range(150)
        for length in lengths
    ]
    answered(packets, [Step(*span) for span in spans])


@SOME
@given(
    waves=st.lists(
        st.tuples(st.sampled_from("bBhHiIfd"), st.floats(0.01, 9.0), st.floats(-1e5, 1e5), st.floats(0, 1e5)),
        min_size=1,
        max_size=9,
    ),
    big=st.booleans(),
)
def test_any_waves(waves: list[tuple[str, float, float, float]], big: bool) -> None:
    def packed(code: str, value: float) -> bytes:
        order = ">" if big else "<"
        if code in "fd":
            return struct.pack(order + code, value)
        bits = 8 * struct.calcsize(code)
        number = int(value) % 2**bits
        return struct.pack(order + code, number - 2**bits if code.islower() and number >= 2 ** (bits - 1) else number)

    packets = [
        Datagram(i / 50, b"".join(packed(code, level + size * np.sin(w * i / 50)) for code, w, level, size in waves))
        for i in range(400)
    ]
    steps = [Step("still", 0.0, 1.0), Step("rev", 1.0, 2.0), Step("left", 2.0, 3.0), Step("right", 3.0, 4.0)]
    answered(packets, [*steps, Step("drive", 4.0, 8.0)])


def test_nothing_gives_an_empty_proposal() -> None:
    for packets in ([], [Datagram(0.0, b"")], [Datagram(float(i), b"\0" * 100) for i in range(500)]):
        proposal = answered(packets, [])
        assert proposal.fields == {} and proposal.found == []
        assert "speed" in proposal.left_out
        try:
            proposal.text()
        except InputError as error:
            assert "whole lap" in str(error)
        else:
            raise AssertionError("a layout without a channel was written")
