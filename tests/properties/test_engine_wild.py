"""The engine never raises on any finite sample: real drives with wild, but finite, values written over them."""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable
from dataclasses import astuple, replace
from functools import cache
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.engine.engine import Engine
from coach.engine.start import EngineStart
from coach.engine.study import study
from coach.vocabulary.events import Event, record
from coach.vocabulary.sample import CHANNELS, Sample
from feeds.channels import LARGEST
from tests.engine.drives import begin, told
from tests.properties.budget import examples

RATE = 20.0
WHEELS = {"wheel_speed": 4, "tyre_pressure": 4}
WORDS: dict[str, tuple[Any, ...]] = {
    "session_kind": ("practice", "race"),
    "track": ("", "Elsewhere"),
    "car": ("", "another car"),
    "driver": ("", "someone else"),
    "session": ("", "1"),
    "setup": ("", "wet"),
    "beside": ("", "left", "both"),
    "assists": ((), ("abs",), ("traction", "gearbox", "abs")),
}
TRUE_OR_NOT = ("on_track", "in_pit", "paused", "lap_valid", "blue_flag", "yellow_flag")
WHOLE = {"gear": (-1, 0, 1, 2, 5, 8, 60), "lap": (-3, 0, 1, 2, 3, 999)}
NUMBERS = (0.0, -0.0, 1.0, -1.0, 0.5, 1e-9, -7.5, 20.0, 300.0, -300.0, 1e5, -1e5, LARGEST, -LARGEST, 5e-324)
KINDS = ("constant", "noise", "gone", "flicker", "scaled", "mirrored", "frozen")


@cache
def learned() -> EngineStart:
    """A start with a reference and its scatter, of the same plain driving."""
    best = study(told(2, RATE), "plain")
    return begin(reference=best.reference, origin="plain", circuit=best.circuit, scatter=best.scatter, usual=best.usual)


def wild(chance: random.Random, channel: str) -> Any:
    """A finite value of the channel's type, or None."""
    if channel in WORDS:
        return chance.choice(WORDS[channel])
    if channel in TRUE_OR_NOT:
        return chance.choice((True, False, None))
    if channel in WHOLE:
        return chance.choice(WHOLE[channel])
    if channel == "tyre_temp":
        return tuple(tuple(chance.choice(NUMBERS) for _ in range(3)) for _ in range(4))
    if channel in WHEELS:
        return tuple(chance.choice(NUMBERS) for _ in range(WHEELS[channel]))
    return chance.choice(NUMBERS)


def times(value: Any, by: float) -> Any:
    """The number or tuple of numbers, scaled and still finite; anything else as it is."""
    if isinstance(value, float):
        return max(-LARGEST, min(LARGEST, value * by))
    return tuple(times(item, by) for item in value) if isinstance(value, tuple) else value


def spoil(chance: random.Random, kind: str, channel: str, first: Any) -> Callable[[Any], Any]:
    """What becomes of the channel's values while the spoiling lasts."""
    fixed, by = wild(chance, channel), chance.choice((0.0, 0.01, 2.0, 100.0, -3.0))
    if kind == "constant":
        return lambda value: fixed
    if kind == "noise":
        return lambda value: wild(chance, channel)
    if kind == "gone":
        return lambda value: None
    if kind == "flicker":
        return lambda value: chance.choice((value, fixed, None))
    if kind == "frozen":
        return lambda value: first
    return lambda value: times(value, by if kind == "scaled" else -1.0)


def stream(seed: int, spoilings: int, clock: bool) -> list[Sample]:
    """Two laps of plain driving, `spoilings` channels of them spoilt for a while; `clock`: the clock is, too."""
    chance = random.Random(seed)
    made = list(told(2, RATE))
    for _ in range(spoilings):
        channel = chance.choice([name for name in CHANNELS if name != "t"])
        start = chance.randrange(len(made))
        end = start + chance.choice((1, 2, 5, 40, 400, len(made)))
        change = spoil(chance, chance.choice(KINDS), channel, getattr(made[start], channel))
        made[start:end] = [replace(s, **{channel: change(getattr(s, channel))}) for s in made[start:end]]
    if clock:
        t = 0.0
        for i, sample in enumerate(made):
            t += chance.choice((0.05,) * 60 + (0.0, 1e-9, -0.3, 0.25, 3.0, -2.0, 1e4))
            made[i] = replace(sample, t=t)
    return made


def finite(value: Any) -> bool:
    """Whether every number in the log's line is finite: others are no JSON."""
    if isinstance(value, float):
        return math.isfinite(value)
    if isinstance(value, (list, tuple)):
        return all(finite(item) for item in value)
    return all(finite(item) for item in value.values()) if isinstance(value, dict) else True


def lines(samples: list[Sample], start: EngineStart) -> list[str]:
    """The log of a drive; fails where a number in it is not finite."""
    engine = Engine(start)
    events: list[Event] = [event for sample in samples for event in engine.push(sample)]
    told_of = [record(event) for event in (*events, *engine.finish()) if event.logged]
    assert all(finite(line) for line in told_of), next(line for line in told_of if not finite(line))
    return [json.dumps(line) for line in told_of]


@settings(deadline=None, max_examples=examples(7))
@given(st.integers(0, 10**9), st.integers(1, 12), st.booleans(), st.booleans())
def test_no_finite_sample_makes_the_engine_raise_or_log_what_is_no_number(
    seed: int, spoilings: int, clock: bool, known: bool
) -> None:
    samples = stream(seed, spoilings, clock)
    assert all(finite(astuple(sample)) for sample in samples)
    lines(samples, learned() if known else begin())
