"""One made session and its review for all tests of pages and pictures. They are shared: a test that changes one takes
a copy."""

from __future__ import annotations

import pytest
from make_stream import Drive

from coach.review.model import KeptSession
from coach.review.results import Review, Thing
from coach.review.review import review
from tests.debrief.sessions import session_of

TOLD = (
    Thing("late_throttle", 1, 0.3, 4, 5, 1.2, (1, 2, 3, 4), 0.5, "s", "In 4 of 5 passes, 0.30 s each time."),
    Thing("early_braking", 2, 0.1, 3, 5, 0.3, (1, 2, 3), 12.0, "m", "In 3 of 5 passes, 0.10 s each time."),
)
"""What was told after the session before."""


@pytest.fixture(scope="session")
def session(practice: Drive) -> KeptSession:
    return session_of(practice.datagrams())


@pytest.fixture(scope="session")
def found(session: KeptSession) -> Review:
    return review(session, TOLD)
