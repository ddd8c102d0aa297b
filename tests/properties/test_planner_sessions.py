"""What holds of whole sessions on random circuits, for random drivers: what is said, where, and how often."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.planner import rules
from coach.planner.windows import Windows
from coach.vocabulary.events import Action, Advice, CornerMark, Cue, Event, Fault, Moment
from coach.vocabulary.faults import FAULTS
from coach.vocabulary.trace import LapTrace
from tests.planner.made_circuit import Part, braking, drive, fault, lap_trace, leaving, planner, playbook, turning
from tests.planner.session import practise
from tests.properties.budget import examples

RATE = 8.0
MARGIN = 0.5
LENGTH = 1.0
"""s that each phrase takes here."""


@dataclass(frozen=True, slots=True, repr=False)
class Session:
    trace: LapTrace
    marks: tuple[CornerMark, ...]
    laps: int
    found: dict[tuple[int, int], Fault]
    talk: dict[str, Any]
    focus: tuple[str, ...]

    def __repr__(self) -> str:
        found = {place: made.fault for place, made in self.found.items()}
        places = [(mark.brake, mark.exit, mark.linked) for mark in self.marks]
        return f"Session({self.trace.length:.0f} m, {places}, {self.laps} laps, {found}, {self.talk}, {self.focus})"

    def events(self) -> list[Event]:
        plan = planner(self.focus, seconds=LENGTH, book=playbook(**self.talk))
        return practise(
            plan, self.laps, dict(self.found), trace=self.trace, marks=self.marks, rate=RATE, actions={3: "repeat"}
        )


@st.composite
def circuits(draw: st.DrawFn) -> tuple[LapTrace, tuple[CornerMark, ...]]:
    """Two to six corners, each with a straight behind it of 20 to 900 m; some of them linked."""
    parts: list[Part] = []
    marks: list[CornerMark] = []
    metres = draw(st.integers(50, 450)) * 2.0
    parts.append(Part(metres, 55.0))
    corners = draw(st.integers(2, 5))
    for corner in range(1, corners + 1):
        brake, turn, out = (draw(st.integers(*bounds)) * 2.0 for bounds in ((10, 50), (20, 60), (10, 30)))
        straight = draw(st.one_of(st.integers(10, 40), st.integers(60, 450))) * 2.0
        parts += [braking(brake), turning(turn), leaving(out), Part(straight, draw(st.floats(35.0, 80.0)))]
        entry, leave = metres + brake, metres + brake + turn + out
        apex = entry + turn / 2
        linked = straight < 60.0 and corner < corners  # the last has the first straight behind it as well
        marks.append(CornerMark(corner, "left", metres, entry, apex, leave, (apex,), linked=linked))
        metres = leave + straight
    return lap_trace(parts), tuple(marks)


@st.composite
def sessions(draw: st.DrawFn, focus: bool = False) -> Session:
    trace, marks = draw(circuits())
    laps = draw(st.integers(4, 7))
    kinds = draw(st.lists(st.sampled_from(list(FAULTS)), min_size=1, max_size=3, unique=True))
    habit = draw(st.sampled_from(marks)).corner
    often = draw(st.lists(st.booleans(), min_size=laps, max_size=laps))
    cost = st.floats(0.05, 0.8)
    found = {(lap, habit): _made(kinds[0], draw(cost)) for lap, present in enumerate(often, 1) if present}
    for lap, mark in draw(st.lists(st.tuples(st.integers(1, laps), st.sampled_from(marks)), max_size=2 * laps)):
        found.setdefault((lap, mark.corner), _made(draw(st.sampled_from(kinds)), draw(cost)))
    talk = draw(
        st.fixed_dictionaries(
            {}, optional={"corrections": st.integers(1, 9), "fade": st.booleans(), "reminders": st.booleans()}
        )
    )
    return Session(trace, marks, laps, found, talk, tuple(kinds) if focus else ())


def _made(kind: str, cost: float) -> Fault:
    return fault(kind, net=cost, cost=cost)


def spoken(events: list[Event], *kinds: str) -> list[Cue]:
    return [e for e in events if isinstance(e, Cue) and e.spoken and (not kinds or e.kind in kinds)]


slowly = settings(max_examples=examples(14), deadline=None, suppress_health_check=[HealthCheck.too_slow])


@slowly
@given(sessions())
def test_nothing_sounds_while_the_driver_brakes_or_corners_or_over_another_or_late(session: Session) -> None:
    """The drive repeats the reference, so what it does while a cue sounds is known to the sample."""
    windows = Windows(session.trace)
    moments = list(drive(session.trace, laps=session.laps, rate=RATE))
    half = 0.5 * max(session.trace.lateral)
    before = None
    for cue in spoken(session.events()):
        assert cue.starts is not None and cue.ends is not None and cue.deadline is not None
        assert cue.ends <= cue.deadline - MARGIN + 1e-9
        assert before is None or cue.starts >= before + rules.GAP - 1e-6
        before = cue.ends
        for moment in _during(moments, cue.starts, cue.ends):
            assert moment.brake is not None and moment.brake <= rules.QUIET_BRAKE
            assert moment.lateral is not None and moment.lateral <= half
            assert moment.distance is not None and windows.at(moment.distance) is not None


def _during(moments: list[Moment], starts: float, ends: float) -> list[Moment]:
    return [moment for moment in moments if starts <= moment.t <= ends]


@slowly
@given(sessions())
def test_each_pass_has_one_correction_at_most_each_lap_one_reminder_and_three_laps_one_summary(
    session: Session,
) -> None:
    events = session.events()
    passes = Counter((of.lap, of.corner) for cue in spoken(events) for of in cue.of)
    assert all(count == 1 for count in passes.values())
    assert all(count == 1 for count in Counter(cue.lap for cue in spoken(events, "reminder")).values())
    sums = [cue.lap for cue in spoken(events, "summary") if cue.about is None]
    assert all(later - sooner >= 3 for sooner, later in pairwise(sums))
    praised = Counter(cue.about for cue in spoken(events, "praise"))
    mended = Counter(event.text.split(" is mended")[0].replace(" ", "_") for event in events if _is_mended(event))
    assert all(mended[str(about)] >= count for about, count in praised.items())


def _is_mended(event: Event) -> bool:
    return isinstance(event, Advice) and " is mended" in event.text


@slowly
@given(sessions())
def test_everything_that_wanted_to_be_said_ends_in_one_cue(session: Session) -> None:
    events = session.events()
    cues = [event for event in events if isinstance(event, Cue)]
    ends = Counter((of.lap, of.corner, of.fault) for cue in cues if cue.kind == "correction" for of in cue.of)
    reminded = {(of.lap, of.corner, of.fault) for cue in cues if cue.kind == "reminder" for of in cue.of}
    assert set(ends.values()) <= {1}, "a finding has one correction, said or held back"
    assert set(ends) | reminded == {(lap, corner, made.fault) for (lap, corner), made in session.found.items()}
    assert all(cue.spoken == (cue.why_not is None) == (cue.starts is not None) for cue in cues)
    assert all(cue.text or cue.why_not for cue in cues)
    assert not any(isinstance(event, Action) for event in events)


@slowly
@given(sessions(focus=True))
def test_what_was_asked_for_is_told_by_the_end_of_the_next_lap_where_there_is_room_behind_its_corner(
    session: Session,
) -> None:
    """Room: the quiet stretch behind the corner takes the wait, the words, the margin and a second, and is this one's
    alone: it is the only finding of that lap and of the one before."""
    windows, events = Windows(session.trace), session.events()
    told = {(of.lap, of.corner): cue.lap for cue in spoken(events) for of in cue.of}
    alone = Counter(lap for lap, _ in session.found)
    for lap, corner in session.found:
        mark = session.marks[corner - 1]
        stretch = windows.at(mark.exit + 4.0)
        if stretch is None or alone[lap] + alone[lap - 1] > 1 or lap == session.laps or lap == 3:
            continue
        room = windows.seconds(mark.exit + 4.0, stretch.end)
        if room >= rules.EARLIEST + rules.CALM + LENGTH + MARGIN + 1.0:
            assert told.get((lap, corner), 99) <= lap + 1


@slowly
@given(sessions())
def test_a_reminder_leaves_time_to_act_and_is_not_forgotten_by_then(session: Session) -> None:
    marks = {mark.corner: mark for mark in session.marks}
    windows = Windows(session.trace)
    places = {moment.t: moment.distance for moment in drive(session.trace, laps=session.laps, rate=RATE)}
    for cue in spoken(session.events(), "reminder"):
        assert cue.starts is not None and cue.ends is not None and cue.corner is not None
        opener = marks[cue.corner]
        while opener.corner > 1 and marks[opener.corner - 1].linked:
            opener = marks[opener.corner - 1]
        here = places[cue.starts]
        assert here is not None
        lead = windows.seconds(here, opener.brake)
        assert lead <= rules.REMIND_EARLIEST
        assert lead - (cue.ends - cue.starts) >= rules.REMIND_REST - 1e-9
