"""The three dearest things of recorded runs against their truth files, where the runs are there (issue 8's bar).

Two of three datagrams are left out, to be quick; `python -m tests.bench.bench_things --runs FOLDER` takes all of them.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from itertools import islice
from pathlib import Path

import pytest

from coach.engine.start import EngineStart
from coach.vocabulary.sample import Sample
from tests.bench.bench_things import MOST, agree, of_truth
from tests.review.collecting import begun, collected, read

RUNS = Path("/work/shared/runs")
needs_runs = pytest.mark.skipif(not RUNS.is_dir(), reason="the recorded runs are not on this machine")


@cache
def start() -> EngineStart:
    return begun(thinned("practice-ref"))


def thinned(name: str) -> Iterator[Sample]:
    return islice(read(RUNS / f"{name}.jsonl.gz"), 0, None, 3)


@needs_runs
@pytest.mark.parametrize("name", ["practice-f1", "practice-f2"])
def test_the_three_dearest_are_those_of_the_truth(name: str) -> None:
    """Truth: the sum of `window_time_lost_s` by corner and kind, measured by whoever made the runs."""
    truth = json.loads((RUNS / f"{name}.truth.json").read_text(encoding="utf-8"))
    (made,) = collected(thinned(name), start())
    same, lines = agree(made, of_truth(truth))
    assert same == MOST, "\n".join(lines)
