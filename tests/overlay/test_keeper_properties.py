"""What holds of the view whatever is driven, said and lost."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.overlay.drawing import Drawing
from coach.overlay.easing import Easing
from coach.overlay.keeper import ViewKeeper
from coach.overlay.look import Look
from coach.overlay.view import View
from coach.vocabulary.events import Cue, Delta, Event, Moment, Reference, Stream
from coach.vocabulary.trace import LapTrace
from tests.planner.made_circuit import Part, braking, drive, lap_trace, turning

RATE = 32
"""samples a second; a power of two, so that times are exact wherever a clock begins"""
_WHIMS: list[dict[str, Any]] = [
    {"brake": 0.3},
    {"throttle": 0.2},
    {"throttle": 1.0, "brake": 0.0, "lateral": 0.0},
    {"lateral": 25.0},
    {"distance": None},
    {"throttle": None, "brake": None, "lateral": None},
    {"quiet": "yellow"},
    {"quiet": "pit"},
]


WORDS = {"late_throttle": "Throttle sooner"}
DRAWING = Drawing()
SPOKEN = Look()


@dataclass(frozen=True)
class Story:
    """Two laps of a circuit, driven otherwise here and there, with deltas, cues and breaks of the stream.

    Places are shares of the drive; `size` s and `rate` s a second make the delta.
    """

    parts: tuple[Part, ...]
    size: float
    rate: float
    whims: list[tuple[float, float, int]]
    cues: list[tuple[float, float, float]]
    breaks: list[tuple[float, str]]

    def trace(self) -> LapTrace:
        return lap_trace([*self.parts, turning(60.0)])

    def events(self, begin: float = 100.0) -> list[Event]:
        moments = list(drive(self.trace(), 2, RATE, begin))
        for place, share, which in self.whims:
            first = int(place * len(moments))
            for index in range(first, min(len(moments), first + max(1, int(share * len(moments) / 4)))):
                moments[index] = replace(moments[index], **_WHIMS[which])
        extra: dict[int, list[Event]] = {}
        for place, wait, length in self.cues:
            t = moments[int(place * len(moments))].t
            told = (True, t + wait, t + wait + length, None, None)
            cue = Cue(t, 1, "correction", "late_throttle", (), 1, "Throttle sooner", *told)
            extra.setdefault(int(place * len(moments)), []).append(cue)
        for place, what in self.breaks:
            t = moments[int(place * len(moments))].t
            extra.setdefault(int(place * len(moments)), []).append(Stream(t, 1, what, t, None))
        events: list[Event] = []
        for index, moment in enumerate(moments):
            if index % 4 == 0:
                delta = self.size * (-1) ** moment.lap + self.rate * index / RATE
                events.append(Delta(moment.t, moment.lap, 0.0, delta))
            events += [moment, *extra.get(index, [])]
        return events


straights = st.builds(lambda cells, speed: Part(cells * 2.0, speed), st.integers(20, 300), st.floats(20.0, 90.0))
bends = st.builds(
    lambda cells, lateral, throttle: Part(cells * 2.0, 30.0, throttle, 0.0, lateral),
    st.integers(5, 40),
    st.floats(3.0, 30.0),
    st.sampled_from([0.0, 0.5, 0.85, 1.0]),
)
shares = st.floats(0.0, 1.0, exclude_max=True)
kinds = st.sampled_from(["lost", "back", "pit", "pause", "teleport", "reset", "rewind", "gap"])
stories = st.builds(
    Story,
    st.lists(st.one_of(straights, straights, bends, st.just(braking(60.0))), min_size=2, max_size=8).map(tuple),
    st.floats(0.0, 3.0),
    st.floats(-0.1, 0.1),
    st.lists(st.tuples(shares, shares, st.integers(0, len(_WHIMS) - 1)), max_size=5),
    st.lists(st.tuples(shares, st.floats(0.0, 2.0), st.floats(0.2, 2.5)), max_size=6),
    st.lists(st.tuples(shares, kinds), max_size=3),
)


def keeper_of(trace: LapTrace, look: Look = SPOKEN) -> ViewKeeper:
    keeper = ViewKeeper(look)
    keeper.take(Reference(0.0, 1, trace.time[-1], "made", trace))
    return keeper


@settings(max_examples=60, deadline=None)
@given(stories, st.booleans(), st.booleans())
def test_a_text_is_there_only_on_a_straight_in_silence_and_for_a_look(story: Story, spoken: bool, times: bool) -> None:
    trace = story.trace()
    keeper, easing = keeper_of(trace, Look(spoken=spoken, times=times, words=WORDS)), Easing()
    most = max(trace.lateral)
    sounding: list[tuple[float, float]] = []
    lost = False
    pressed, shown, shown_since = float("-inf"), View(), 0.0
    for event in story.events():
        keeper.take(event)
        if isinstance(event, Cue) and event.starts is not None and event.ends is not None:
            sounding.append((event.starts, event.ends))
        if isinstance(event, Stream):
            if event.what in ("lost", "back"):
                lost = event.what == "lost"
            if event.what == "rewind":
                sounding.clear()
        if not isinstance(event, Moment):
            continue
        if event.throttle is not None and event.throttle >= 0.8:
            pressed = event.t
        view = easing.at(keeper.goal, event.t)
        if keeper.goal.text != shown.text or keeper.goal.text_alpha > shown.text_alpha:
            shown_since = event.t
        shown = keeper.goal
        if view.text is None:
            continue
        assert view.text == WORDS["late_throttle"] if view.text[-1].isalpha() else times
        assert not spoken or not view.text[-1].isalpha()
        assert view.state == "driving" and not lost
        assert event.quiet == "" and event.distance is not None and event.throttle is not None
        assert event.t - pressed <= 0.3
        assert event.brake is None or event.brake <= 0.05
        assert event.lateral is None or event.lateral <= most / 2
        assert trace.brake[int(event.distance / trace.step)] <= 0.05
        assert not spoken or not any(starts <= event.t <= ends for starts, ends in sounding)
        assert event.t - shown_since <= 3.2  # 2.5 s and the fade


@settings(max_examples=40, deadline=None)
@given(stories, st.booleans(), st.booleans())
def test_without_text_there_is_never_any(story: Story, spoken: bool, times: bool) -> None:
    keeper, easing = keeper_of(story.trace(), Look(text=False, spoken=spoken, times=times, words=WORDS)), Easing()
    for event in story.events():
        goal = keeper.take(event)
        assert goal.text is None
        assert easing.at(goal, event.t).text is None


@settings(max_examples=30, deadline=None)
@given(stories, st.floats(-3.0, 3.0), st.floats(-0.5, 0.5), st.booleans())
def test_where_times_are_hidden_no_frame_depends_on_the_deltas(
    story: Story, size: float, rate: float, spoken: bool
) -> None:
    """Equal frames are equal pictures: see test_drawing.py, which holds that of the pixels."""
    look = Look(spoken=spoken, times=False, words=WORDS)
    frames = []
    for told in (story, replace(story, size=size, rate=rate)):
        keeper, easing = keeper_of(story.trace(), look), Easing()
        frames.append([DRAWING.frame(easing.at(keeper.take(event), event.t)) for event in told.events()])
    assert frames[0] == frames[1]


@settings(max_examples=60, deadline=None)
@given(stories)
def test_what_is_shown_stays_within_the_plate_and_rests_where_nothing_is_known(story: Story) -> None:
    keeper, easing = keeper_of(story.trace()), Easing()
    for event in story.events():
        goal = keeper.take(event)
        view = easing.at(goal, event.t)
        for value in (view.offset, view.trend):
            assert -1.0 <= value <= 1.0
        assert 0.0 < view.brightness <= 1.0
        assert 0.0 <= view.text_alpha <= 1.0
        assert view.text is not None or view.text_alpha == 0.0
        if goal.state != "driving":
            assert (goal.offset, goal.trend, goal.text) == (0.0, 0.0, None)


@settings(max_examples=25, deadline=None)
@given(stories, st.sampled_from([4096.0, 0.0]))
def test_where_the_sources_clock_begins_changes_nothing(story: Story, begin: float) -> None:
    trace = story.trace()
    here, there = keeper_of(trace), keeper_of(trace)
    for event, moved in zip(story.events(), story.events(begin), strict=True):
        mine, theirs = here.take(event), there.take(moved)
        assert mine.state == theirs.state
        assert mine.text == theirs.text
        assert abs(mine.offset - theirs.offset) < 1e-6
        assert abs(mine.trend - theirs.trend) < 1e-6
