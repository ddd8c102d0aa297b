"""A channel that stopped on the way of a pass switches off who needs it, for that pass."""

from __future__ import annotations

import pytest

from coach.engine.faults.slowing import CoastingFamily, SpeedFamily
from coach.engine.faults.turning import TurnInFamily
from coach.engine.seen import HIDDEN, longest_silence, seeing
from coach.engine.stretch import HOLD, Stretch
from tests.engine.handmade import stretch

NAN = float("nan")


def silent(rows: Stretch, channel: str, start: float, end: float) -> Stretch:
    for i, t in enumerate(rows.t):
        if start <= t < end:
            rows[channel][i] = NAN
    return rows


def drive() -> Stretch:
    return stretch(6.0, throttle=1.0, brake=1.0, yaw_rate=1.0, ay=1.0, edge_left=1.0, edge_right=1.0)


@pytest.mark.parametrize(
    ("start", "end", "silence"),
    [(2.0, 2.0, 0.0), (2.0, 3.0, 1.0), (0.0, 1.0, 1.0 - HOLD), (5.0, 7.0, 1.0), (-1.0, 9.0, None)],
)
def test_the_longest_silence(start: float, end: float, silence: float | None) -> None:
    found = longest_silence(silent(drive(), "brake", start, end), "brake")
    assert found == (None if silence is None else pytest.approx(silence, abs=0.06))


def test_who_needs_it_is_off_and_the_others_are_not() -> None:
    judges = [CoastingFamily(), SpeedFamily()]
    assert seeing(judges, silent(drive(), "brake", 2.0, 2.0 + HIDDEN - 0.1)) == judges
    assert seeing(judges, silent(drive(), "brake", 2.0, 2.0 + HIDDEN + 0.1)) == judges[1:]
    assert seeing(judges, silent(drive(), "brake", -1.0, 9.0)) == judges[1:]


def test_of_two_ways_to_see_it_the_first_that_is_sent_counts() -> None:
    """The room is read from the edges where they are sent at all, so that edges which stop leave it unknown."""
    judges = [TurnInFamily()]
    assert seeing(judges, drive()) == judges
    assert seeing(judges, silent(drive(), "edge_left", 2.0, 3.0)) == []
    assert seeing(judges, silent(drive(), "yaw_rate", -1.0, 9.0)) == judges, "by ay"
    both = silent(silent(drive(), "yaw_rate", -1.0, 9.0), "ay", 2.0, 4.0)
    assert seeing(judges, both) == []
