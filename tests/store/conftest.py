"""One drive that is kept, for all the tests of the memory."""

from __future__ import annotations

from pathlib import Path

import pytest
from make_stream import Drive
from store.keptdrive import DRIVER, keep, samples_of

from coach.review.model import KeptSession
from coach.vocabulary.sample import Sample


@pytest.fixture(scope="session")
def samples(practice: Drive) -> list[Sample]:
    """The practice drive by a driver with a name, with a setup."""
    return samples_of(practice, driver=DRIVER, setup="soft")


@pytest.fixture(scope="session")
def two_laps(samples: list[Sample]) -> list[Sample]:
    """As far as a little into the third lap."""
    return samples[: 50 + next(i for i, sample in enumerate(samples) if sample.lap == 3)]


@pytest.fixture(scope="session")
def driven(samples: list[Sample], tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[KeptSession]]:
    """The drive in a memory, and what the drive saw of it. Only to read."""
    path = tmp_path_factory.mktemp("memory") / "memory.sqlite"
    said: list[str] = []
    sessions = keep(path, samples, said=said)
    assert said == []
    return path, sessions
