"""The stages of practice: what is coached and said at each, and that the next one is told of once when it is earned."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from coach.planner.planner import Planner
from coach.planner.playbook import Playbook
from coach.planner.stages import LINE, MARKS, at_stage
from coach.planner.start import PlannerStart
from coach.vocabulary.actions import STATUS, TOPIC
from coach.vocabulary.events import Action, Advice, Cue, Event, Lap, Mark, Passed, Run, Stage, Stores
from coach.vocabulary.marks import APEX, BRAKE, EXIT
from coach.vocabulary.stages import CLEAN, LEARN, PACE, REHEARSE, STAGES
from tests.planner.made_circuit import default, fault, phrases, planner
from tests.planner.session import advice, begun, cues, held_back, late, practise, said

STEADY = (0.0, 1.0, -1.0, 0.5)
SECONDS = re.compile(r"\d:\d\d|[+-]\d|\d\.\d+ s\b|tenth|second")
"""What a time is told by, in digits or in words."""


class Marked(Planner):
    """A planner whose passes have marks: the brake point `off` m by lap, at corner one `more` times that."""

    def __init__(self, stage: str | None, off: Callable[[int], float], more: float = 1.0, book: Playbook | None = None):
        self._off, self._more = off, more
        lengths = dict.fromkeys(phrases(), 0.8)
        super().__init__(PlannerStart(book or default(), lengths=lengths, phrases="made", stage=stage))

    def push(self, event: Event) -> list[Event]:
        if isinstance(event, Passed):
            off = self._off(event.lap) * (self._more if event.corner == 1 else 1.0)
            line = [Mark(name, 0.3, 0.0, 1.1) for name in (APEX, EXIT)]
            event = replace(event, marks=(Mark(BRAKE, 400.0 + off, off, 5.0), *line))
        return super().push(event)


def marked(stage: str | None, more: float = 1.0, book: Playbook | None = None) -> Marked:
    return Marked(stage, lambda lap: STEADY[lap % 4], more, book)


def stages(events: list[Event]) -> list[Stage]:
    return [event for event in events if isinstance(event, Stage)]


def everything_told(events: list[Event]) -> str:
    """All words that a person may hear or read of these events."""
    texts = [event.text for event in events if isinstance(event, (Cue, Advice))]
    return "\n".join([*texts, *(text for event in stages(events) for text in event.evidence)])


# what is coached


def test_at_pace_the_playbook_is_what_it_is() -> None:
    assert at_stage(default(), PACE) is default()


@pytest.mark.parametrize(("stage", "about"), [(LEARN, LINE), (CLEAN, MARKS), (REHEARSE, frozenset[str]())])
def test_a_stage_coaches_what_it_is_about_and_what_hurts(stage: str, about: frozenset[str]) -> None:
    book = at_stage(default(), stage)
    first = {"spin", "off_track"} if stage == REHEARSE else set(default().first)
    assert {fault for fault in default().language.wordings if book.coaches(fault)} == about | first


def test_what_is_not_of_the_stage_is_held_back_with_that_reason() -> None:
    found = late(2, 3) | {(2, 2): "narrow_exit", (3, 2): "narrow_exit"}
    events = practise(marked(CLEAN), 4, found)
    assert {cue.about for cue in cues(events, "correction")} == {"narrow_exit"}
    assert (2, "not at this stage") in held_back(events)
    assert {cue.about for cue in cues(practise(marked(PACE), 4, found), "correction")} >= {"late_throttle"}


def test_a_focus_goes_before_the_stage() -> None:
    lengths = dict.fromkeys(phrases(), 0.8)
    plan = Planner(PlannerStart(default(), ("late_throttle",), lengths, "made", stage=CLEAN))
    assert "late_throttle" in {cue.about for cue in cues(practise(plan, 4, late(2, 3)))}


def test_an_instructor_is_told_what_the_stage_leaves_out() -> None:
    plan = begun(marked(CLEAN))
    out = plan.push(Action(1.0, 1, f"{TOPIC} late_throttle", 100.0, "instructor"))
    assert advice(out) == ["late throttle is not coached here: the stage clean leaves it out"]


# no seconds


@pytest.mark.parametrize("stage", [LEARN, CLEAN])
def test_no_seconds_are_told_where_the_line_or_the_marks_count(stage: str) -> None:
    """Twelve laps with a habit of the line, which is mended: topic, praise, and sentences at the line."""
    found = {(lap, 1): fault("narrow_exit", net=0.4, cost=0.4) for lap in range(1, 6)}
    events = practise(marked(stage), 12, found, delta=0.4)
    assert "mended" in everything_told(events)
    assert not SECONDS.search(everything_told(events)), SECONDS.search(everything_told(events))
    assert SECONDS.search(everything_told(practise(marked(PACE), 12, found, delta=0.4)))


def test_laps_with_and_without_cues_are_compared_without_times_in_clean() -> None:
    book = replace(default(), talk=replace(default().talk, alternate=True))
    (told,) = [text for text in advice(practise(marked(CLEAN, book=book), 6, late(1))) if "with cues" in text]
    assert not SECONDS.search(told)
    (timed,) = [text for text in advice(practise(marked(PACE, book=book), 6, late(1))) if "with cues" in text]
    assert SECONDS.search(timed)


def test_status_is_answered_with_no_lap_time_at_any_stage() -> None:
    for stage in STAGES:
        left = lambda lap: Stores(0.0, lap, 40.0 - 2.0 * lap, 20.0 - lap, None)  # noqa: E731
        events = practise(marked(stage), 4, actions={3: STATUS}, stores=left)
        answers = [cue.text for cue in cues(events, "status")]
        assert answers, stage
        assert not any(SECONDS.search(text) for text in answers)


# what is earned


def test_the_next_stage_is_told_of_once_with_its_evidence() -> None:
    events = practise(marked(CLEAN), 12)
    (earned,) = [text for text in advice(events) if "earned" in text]
    assert earned.startswith("pace is earned: 5 clean laps in a row, 5 are needed; 45 of 45 marks hit")
    assert [text for _, text in said(events)].count("Next stage earned") == 1
    assert [one.earned for one in stages(events)][:5] == [False] * 4 + [True]


def test_the_last_stage_tells_that_it_has_all() -> None:
    events = practise(marked(REHEARSE), 12)
    assert "rehearse has all that it asks" in "\n".join(advice(events))
    assert "Ready to race" in [text for _, text in said(events)]
    assert "Laps steady" in [text for _, text in said(events)]


def test_without_a_stage_named_all_is_as_it_was_and_pace_is_judged_in_silence() -> None:
    events = practise(marked(None), 12, late(1, 2, 3))
    assert not [text for text in advice(events) if "earned" in text]
    assert not [text for _, text in said(events) if "stage" in text or "clean" in text]
    assert {one.stage for one in stages(events)} == {PACE}
    named = practise(marked(PACE), 12, late(1, 2, 3))
    assert [text for text in advice(named) if "rehearse is earned" in text]


def test_a_lap_off_the_road_takes_it_back_and_it_is_not_told_twice() -> None:
    found = {(7, 1): "off_track"}

    class Off(Marked):
        def push(self, event: Event) -> list[Event]:
            if isinstance(event, Lap) and event.lap == 7:
                event = replace(event, clean=False, why_not=("off_track",))
            return super().push(event)

    events = practise(Off(CLEAN, lambda lap: STEADY[lap % 4]), 16, found)
    earned = [one.earned for one in stages(events)]
    assert True in earned[:7] and earned[-1]
    assert False in earned[earned.index(True) :]
    assert len([text for text in advice(events) if "earned" in text]) == 1


# what is said at the line


def test_clean_laps_in_a_row_are_told_as_they_grow() -> None:
    told = [text for _, text in said(practise(marked(CLEAN), 12))]
    assert [text for text in told if "clean laps" in text] == ["Two clean laps", "Three clean laps", "Ten clean laps"]


def test_the_mark_that_scatters_most_is_told_now_and_then_and_only_if_it_does() -> None:
    events = practise(marked(CLEAN, more=6.0), 12)
    told = [cue for cue in cues(events, "summary") if "same" in cue.text]
    assert {(cue.text, cue.corner) for cue in told} == {("Turn one, same brake point", 1)}
    assert 2 <= len(told) <= 4
    assert not [text for _, text in said(practise(marked(CLEAN), 12)) if "same" in text]


def test_rehearse_is_as_silent_as_a_race_but_for_fuel_and_the_stint() -> None:
    found = late(1, 2, 3, 4) | {(lap, 2): "narrow_exit" for lap in range(1, 8)}
    low = lambda lap: Stores(0.0, lap, 16.0 - 2.0 * lap, 30.0, None)  # noqa: E731
    events = practise(marked(REHEARSE), 7, found, stores=low)
    told = {text for _, text in said(events)}
    assert told <= {"Fuel for four laps", "Fuel for three laps", "Fuel for two laps", "Fuel for one lap", "Laps steady"}
    assert "Fuel for three laps" in told


def test_words_that_a_recording_of_before_has_not_are_not_said() -> None:
    language = default().language
    new = ("clean_row", "steadier_brake", "earned", "rehearsed", "steady")
    old = replace(language, sentences=replace(language.sentences, **dict.fromkeys(new, "")))
    events = practise(marked(CLEAN, more=6.0, book=replace(default(), language=old)), 8)
    assert not [text for _, text in said(events) if text in ("", "Next stage earned") or "clean laps" in text]


# which stage it is


def test_the_command_line_goes_before_the_playbook_and_that_before_what_is_remembered() -> None:
    book = replace(default(), stage=LEARN)
    plan = marked(CLEAN, book=book)
    assert [one.stage for one in stages(run(plan))] == [CLEAN]
    assert plan.recall(None, REHEARSE) == []
    plan = marked(None, book=book)
    assert [one.stage for one in stages(run(plan))] == [LEARN]
    assert plan.recall(None, REHEARSE) == []
    plan = marked(None)
    assert stages(run(plan)) == []
    assert [one.stage for one in stages(plan.recall(None, CLEAN))] == [CLEAN]


def test_a_stage_that_is_recalled_again_or_is_the_one_that_everyone_begins_with_changes_nothing() -> None:
    plan = marked(None)
    run(plan)
    assert plan.recall(None, PACE) == []
    assert stages(plan.recall(None, CLEAN))
    assert plan.recall(None, CLEAN) == []
    assert not [text for text in advice(practise(Recalled(PACE), 12)) if "earned" in text]
    assert [text for text in advice(practise(Recalled(CLEAN), 12)) if "pace is earned" in text]


def run(plan: Planner, track: str = "made") -> list[Event]:
    return plan.push(Run(100.0, 0, "1", "made", track, "made", None, "made"))


def test_a_stage_that_is_remembered_narrows_what_is_coached_from_then_on() -> None:
    plan = marked(None)
    run(plan)
    plan.recall(None, CLEAN)
    found = late(2, 3, 4, 5)
    assert {cue.about for cue in cues(practise(Recalled(CLEAN), 6, found), "correction")} == set()
    assert {cue.about for cue in cues(practise(Recalled(None), 6, found), "correction")} == {"late_throttle"}


class Recalled(Marked):
    """A planner that is given what was kept right after the session has begun."""

    def __init__(self, stage: str | None) -> None:
        super().__init__(None, lambda lap: STEADY[lap % 4])
        self._kept = stage

    def push(self, event: Event) -> list[Event]:
        out = super().push(event)
        return out + self.recall(None, self._kept) if isinstance(event, Run) else out


def test_a_stage_of_before_that_is_none_is_passed_over() -> None:
    plan = marked(None)
    run(plan)
    assert plan.recall(None, "sprint") == []
    assert plan.recall(None, None) == []


def test_the_next_driver_begins_where_everyone_begins_and_the_overlay_is_told() -> None:
    plan = marked(None)
    run(plan)
    plan.recall(None, CLEAN)
    assert [one.stage for one in stages(run(plan, "another"))] == [PACE]
    assert stages(run(plan, "a third")) == []


def test_a_topic_that_the_stage_does_not_coach_is_worked_on_no_more() -> None:
    plan = planner()
    practise(plan, 4, late(1, 2, 3))
    out = plan.recall(None, CLEAN)
    assert [event.fault for event in out if event.type == "topic"] == [None]  # type: ignore[attr-defined]
