"""The finder on random layouts: what is found is right, and most of what is asked for is found.

The bars are the issue's: wrong under 1 %, and 90 % of the eight found. `python -m tests.bench.bench_finder` is the long
run. The drives are the built-in cars' on a short circuit and, where they are, two recorded runs of another simulator.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from feeds.finder import Step
from feeds.layout import LayoutFeed
from tests.finder.columns import Columns, recorded
from tests.finder.drives import RUNS, built_in, short_circuit
from tests.finder.scoring import EIGHT
from tests.finder.trial import Trial, tried

LAYOUTS = 6
SIZES = (100, 140, 200, 300, 500, 1000)
RUN = RUNS / "practice-ref.jsonl.gz"


@pytest.fixture(scope="module")
def drives() -> list[Columns]:
    return [
        built_in("Pellow R", "steady", short_circuit(), rate=36),
        built_in("Pellow S", "beginner", short_circuit(), rate=36),
    ]


@pytest.fixture(scope="module")
def trials(drives: list[Columns]) -> list[Trial]:
    return [tried(drives[seed % 2], seed, size=SIZES[seed]) for seed in range(LAYOUTS)]


def wrong(trials: list[Trial]) -> list[str]:
    """What was found and is not so, with where it really stands."""
    return [
        f"layout {seed}: {channel} at {trial.proposal.fields.get(channel)}, truly {trial.places.get(channel)}"
        for seed, trial in enumerate(trials)
        for channel, is_right in trial.judged.items()
        if not is_right
    ]


def test_what_is_found_is_right(trials: list[Trial]) -> None:
    found = sum(len(trial.judged) for trial in trials)
    assert found > 10 * LAYOUTS
    assert len(wrong(trials)) < 0.01 * found, wrong(trials)


def test_most_of_the_eight_are_found(trials: list[Trial]) -> None:
    missed = Counter(channel for trial in trials for channel in trial.missed if channel in EIGHT)
    assert missed.total() <= 0.1 * len(EIGHT) * LAYOUTS, missed


def test_what_is_left_out_has_a_reason(trials: list[Trial]) -> None:
    for trial in trials:
        assert not set(trial.proposal.left_out) & set(trial.proposal.fields)
        for channel in trial.missed:
            parts = {"place": ("x", "y", "lap_distance"), "x+y": ("x", "y")}.get(channel, (channel,))
            assert any(trial.proposal.left_out.get(part) for part in parts)


def test_each_channel_has_place_confidence_and_reason(trials: list[Trial]) -> None:
    for trial in trials:
        assert {found.channel for found in trial.proposal.found} == set(trial.proposal.fields)
        for found in trial.proposal.found:
            assert 0.5 <= found.confidence < 1.0
            assert found.why and found.unit and 0 <= found.offset < trial.proposal.kinds[found.packet].length


def test_the_proposed_layout_decodes_the_stream_to_the_same_values(trials: list[Trial]) -> None:
    for trial in trials:
        proposal = trial.proposal
        feed = LayoutFeed(proposal.layout)
        decoded = [feed.decode(packet.data, packet.received) for packet in trial.packets[-400:]]
        samples = [sample for sample in decoded if sample is not None]
        assert len(samples) >= 195
        kind = proposal.kinds[proposal.fields["speed"].kind]
        last = next(
            packet.data
            for packet in reversed(trial.packets)
            if len(packet.data) == kind.length and all(packet.data[at] == value for at, value in kind.marks)
        )
        rows = np.frombuffer(last, dtype=np.uint8).reshape(1, -1)
        for channel, place in proposal.fields.items():
            if place.kind == proposal.fields["speed"].kind:
                assert getattr(samples[-1], channel) == pytest.approx(place.read(rows)[0], abs=1e-6), channel
        assert feed.left_out.total == 0, feed.left_out.by_cause()


def test_without_steps_little_is_found_and_nothing_wrong(drives: list[Columns]) -> None:
    trials = [tried(drives[seed % 2], seed, steps=False, size=250) for seed in range(2)]
    assert wrong(trials) == []
    for trial in trials:
        assert not {"throttle", "brake", "clutch", "steer", "x", "y"} & set(trial.proposal.fields)


def test_who_does_not_stand_in_neutral_gets_no_gear_that_is_one_off(drives: list[Columns]) -> None:
    def in_first(columns: Columns, steps: list[Step]) -> Columns:
        gear, t = columns["gear"].copy(), columns["t"]
        gear[(t < steps[-1].begins) & (gear == 0.0)] = 1.0
        return columns | {"gear": gear}

    trial = tried(drives[1], 3, size=150, change=in_first)
    assert trial.judged.get("gear", True)
    assert len(trial.judged) > 6


@pytest.mark.parametrize("step", ["left", "rev", "brake"])
def test_a_step_that_was_not_done_costs_its_channel_and_makes_none_wrong(drives: list[Columns], step: str) -> None:
    def idle(columns: Columns, steps: list[Step]) -> Columns:
        span = next(one for one in steps if one.name == step)
        rows = (columns["t"] >= span.begins) & (columns["t"] <= span.ends)
        names = {"left": ("steer",), "rev": ("throttle",), "brake": ("brake",)}[step]
        return columns | {name: np.where(rows, 0.0, columns[name]) for name in names}

    trial = tried(drives[1], 5, size=150, change=idle)
    assert wrong([trial]) == []
    assert {"left": "steer", "rev": "throttle", "brake": "brake"}[step] in trial.proposal.left_out


@pytest.mark.skipif(not RUN.exists(), reason="the recorded runs are not here")
def test_a_recorded_run_of_another_simulator() -> None:
    drive = recorded(RUN)
    trials = [tried(drive, seed, size=200) for seed in (40, 41)]
    assert wrong(trials) == []
    missed = [channel for trial in trials for channel in trial.missed if channel in EIGHT]
    assert len(missed) <= 1, missed
