"""Where a stage of practice hides lap times, the overlay knows of none from then on, and shows them again after."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.overlay.easing import Easing
from coach.overlay.keeper import ViewKeeper
from coach.overlay.look import Look
from coach.vocabulary.events import Delta, Stage, Topic
from coach.vocabulary.stages import CLEAN, PACE, STAGES
from tests.overlay.test_keeper import CORNER, REFERENCE, knowing, stands
from tests.overlay.test_keeper_properties import DRAWING, WORDS, Story, stories


def staged(stage: str, t: float = 10.0) -> Stage:
    return Stage(t, 1, stage)


@pytest.mark.parametrize("stage", list(STAGES))
def test_only_clean_hides_them(stage: str) -> None:
    keeper = knowing(staged(stage), *stands(0.4, t=11.0))
    assert keeper.goal.timed == (stage != CLEAN)
    assert (keeper.goal.offset == 0.0) == (stage == CLEAN)


def test_a_delta_that_is_shown_goes_at_once_and_comes_back_in_another_stage() -> None:
    keeper = knowing(*stands(0.4))
    assert keeper.goal.offset < 0.0
    hidden = keeper.take(staged(CLEAN))
    assert (hidden.state, hidden.timed, hidden.offset, hidden.trend, hidden.text) == ("driving", False, 0.0, 0.0, None)
    for event in stands(0.7, t=12.0):
        keeper.take(event)
    assert keeper.goal.offset == 0.0
    keeper.take(staged(PACE, 13.0))
    for event in stands(0.7, t=13.1):
        keeper.take(event)
    assert keeper.goal.timed
    assert keeper.goal.offset < 0.0


def test_what_is_worked_on_is_shown_all_the_same() -> None:
    keeper = knowing(staged(CLEAN), Topic(10.0, 1, "narrow_exit"), replace(CORNER, t=11.0))
    assert keeper.goal.sign == "line"


def test_who_hides_times_anyhow_sees_none_at_any_stage() -> None:
    keeper = ViewKeeper(Look(times=False))
    for event in (REFERENCE, staged(CLEAN), staged(PACE), *stands(0.4)):
        assert not keeper.take(event).timed
    assert keeper.goal.offset == 0.0


@settings(max_examples=20, deadline=None)
@given(stories, st.floats(-3.0, 3.0), st.floats(-0.5, 0.5), st.booleans())
def test_in_clean_no_frame_depends_on_the_deltas(story: Story, size: float, rate: float, spoken: bool) -> None:
    """Equal frames are equal pictures: see test_drawing.py."""
    frames = []
    for told in (story, replace(story, size=size, rate=rate)):
        keeper, easing = ViewKeeper(Look(spoken=spoken, words=WORDS)), Easing()
        events = [replace(REFERENCE, trace=story.trace()), staged(CLEAN, 0.0), *told.events()]
        frames.append([DRAWING.frame(easing.at(keeper.take(event), event.t)) for event in events])
        assert any(isinstance(event, Delta) for event in events)
    assert frames[0] == frames[1]
