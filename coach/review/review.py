"""All that one session comes to. Pure: the same session gives the same review."""

from __future__ import annotations

from collections.abc import Sequence

from coach.review.marks import marks
from coach.review.model import KeptSession
from coach.review.practised import stage_verdict
from coach.review.results import Review, Thing
from coach.review.said import said
from coach.review.seconds import losses
from coach.review.steadiness import cued_against_uncued, steadiness
from coach.review.things import fared, things


def review(session: KeptSession, told_before: Sequence[Thing] = ()) -> Review:
    """The review of one session; `told_before`: the things that were told after the one before it."""
    return Review(
        things=things(session),
        outcomes=fared(told_before, session),
        stage=stage_verdict(session),
        losses=losses(session),
        marks=marks(session),
        said=said(session),
        steadiness=steadiness(session.laps),
        cued=cued_against_uncued(session.laps),
    )
