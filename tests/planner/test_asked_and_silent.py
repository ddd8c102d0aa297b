"""When nothing is said, what is said if asked for, and what becomes of the rest."""

from dataclasses import replace

import pytest

from coach.vocabulary.actions import (
    ACTIONS,
    MARK,
    NEXT_TOPIC,
    QUIET,
    QUIET_OR_SPEAK,
    REPEAT,
    SPEAK,
    STATUS,
    USE_LAP,
)
from coach.vocabulary.events import Action, Advice, Answer, Event, Fault, Moment, Run, Stores, Topic
from tests.planner.made_circuit import drive, fault, lap_trace, planner, playbook, unkept
from tests.planner.session import advice, begun, cues, held_back, late, practise, said

BARE = {"reminders": False, "summary_every": 0, "focus": False, "praise": False}


def stores(lap: int) -> Stores:
    return Stores(0.0, lap, 20.0 - 2.0 * lap, 12.0 - lap, 600.0 - 45.0 * lap)


def racing(moment: Moment) -> Moment:
    return replace(moment, quiet="race")


def test_in_a_race_nothing_is_said_that_was_not_asked_for() -> None:
    events = practise(planner(), 4, late(1, 2, 3), change=racing, stores=stores)
    assert said(events) == []
    assert {why for _, why in held_back(events)} <= {"silent: race", "a newer one of the same"}


def test_a_race_is_coached_where_the_playbook_or_the_driver_says_so() -> None:
    book = playbook({"race": False}, **BARE)
    assert len(said(practise(planner(book=book), 3, late(1, 2), change=racing))) == 2
    events = practise(planner(book=playbook(**BARE)), 4, late(1, 2, 3), change=racing, actions={2: SPEAK})
    assert [cue.of[0].lap for cue in cues(events, "correction")] == [2, 3]
    assert said(events, "status") == [(2, "Speaking again")]


@pytest.mark.parametrize("why", ["pit", "off", "yellow", "beside"])
def test_no_playbook_and_no_wish_lifts_the_other_silences(why: str) -> None:
    def hushed(moment: Moment) -> Moment:
        return replace(moment, quiet=why)

    book = playbook({"race": False}, **BARE)
    events = practise(planner(book=book), 3, late(1, 2), change=hushed, actions={2: SPEAK, 3: STATUS}, stores=stores)
    assert said(events) == []


def test_status_is_one_number_a_sentence_in_a_race_too() -> None:
    """At the fourth lap's beginning 14 L of 2 L a lap were sent last, and 9 laps and 465 s to go."""
    events = practise(planner(), 6, change=racing, stores=stores, actions={4: STATUS})
    assert [text for _, text in said(events, "status")] == [
        "Fuel for seven laps",
        "Nine laps left",
        "Seven minutes left",
    ]
    assert all(cue.kind == "status" for cue in cues(events))


def test_status_without_a_source_that_knows_is_answered_in_the_log() -> None:
    events = practise(planner(), 2, actions={2: STATUS})
    assert held_back(events) == [(2, "the source sends neither fuel nor laps nor time left")]
    events = practise(planner(), 3, actions={3: STATUS}, stores=lambda lap: Stores(0.0, lap, 30.0, None, None))
    assert held_back(events) == [(3, "it is not known yet how much fuel a lap takes")]


def test_quiet_is_quiet_until_asked_to_speak() -> None:
    events = practise(planner(book=playbook(**BARE)), 6, late(1, 2, 3, 4, 5), actions={2: QUIET, 5: SPEAK})
    assert [cue.of[0].lap for cue in cues(events, "correction")] == [1, 5]
    assert said(events, "status") == [(2, "Silent now"), (5, "Speaking again")]
    assert "silent: asked for" in {why for _, why in held_back(events)}


def test_the_last_thing_is_said_once_more() -> None:
    events = practise(planner(book=playbook(**BARE)), 3, late(1), actions={2: REPEAT})
    assert said(events) == [(1, "Throttle sooner"), (2, "Throttle sooner, turn one")], "two corners on, it is named"
    assert cues(events)[1].kind == "status"
    assert held_back(practise(planner(), 2, actions={2: REPEAT})) == [(2, "nothing was said yet")]


def test_another_topic_may_be_asked_for() -> None:
    found = late(1, 2, 3, 4, 5) | {(lap, 3): fault("coasting", net=0.1, cost=0.1) for lap in range(1, 6)}
    events = practise(planner(book=playbook(**BARE)), 5, found, actions={4: NEXT_TOPIC})
    assert [text.split(" in ")[0].split(":")[0] for text in advice(events)] == [
        "working on late throttle",
        "late throttle is left for now",
        "working on coasting",
    ]
    assert (4, "another topic is worked on") in held_back(events)


def test_actions_of_later_versions_do_nothing() -> None:
    assert unkept(practise(planner(), 2, actions={2: "dance"})) == []
    assert "dance" not in ACTIONS


@pytest.mark.parametrize("race", [False, True])
def test_one_button_serves_for_quiet_and_for_speech(race: bool) -> None:
    """It asks for the one that is not so now: in a race that is silent by itself, for speech first."""
    pressed = dict.fromkeys((2, 4, 5), QUIET_OR_SPEAK)
    change = racing if race else lambda moment: moment
    events = practise(planner(book=playbook(**BARE)), 6, late(1, 2, 3, 4, 5, 6), change=change, actions=pressed)
    quiet, speak = "Silent now", "Speaking again"
    first, second = (speak, quiet) if race else (quiet, speak)
    assert said(events, "status") == [(2, first), (4, second), (5, first)]
    assert {cue.of[0].lap for cue in cues(events, "correction")} <= ({2, 3, 5, 6} if race else {1, 4})
    assert cues(events, "correction")


@pytest.mark.parametrize("why", ["pit", "yellow", "beside", "off"])
def test_in_a_race_one_button_asks_for_speech_whatever_keeps_silence_just_now(why: str) -> None:
    """A race that is silent by itself is a race behind a yellow flag, too."""

    def hushed(moment: Moment) -> Moment:
        here = moment.distance
        near = here is not None and (here < 300.0 or here > lap_trace().length - 100.0)
        return replace(moment, quiet=why if near else "race")

    plan = planner(book=playbook(**BARE))
    events = practise(plan, 3, late(1, 2, 3), change=hushed, actions={2: QUIET_OR_SPEAK})
    assert said(events, "status") == [(2, "Speaking again")]
    assert cues(events, "correction")


def test_who_asks_for_speech_is_not_told_of_silence_any_more() -> None:
    plan = begun(planner(book=playbook(**BARE)))
    out = plan.push(Action(100.0, 1, QUIET)) + plan.push(Action(100.0, 1, SPEAK))
    out += [event for moment in drive(lap_trace(), laps=1, rate=25.0) for event in plan.push(moment)]
    assert said(out) == [(1, "Speaking again")]
    assert held_back(out) == [(1, "it is not so any more")]


@pytest.mark.parametrize("name", [MARK, SPEAK])
def test_a_press_in_a_corner_takes_nothing_from_what_is_said_at_its_exit(name: str) -> None:
    plan, apex, leave = begun(planner(book=playbook(**BARE))), 520.0, 600.0
    out: list[Event] = []
    before = 0.0
    for moment in drive(lap_trace(), laps=1, rate=25.0):
        assert moment.distance is not None
        if before < apex <= moment.distance:
            out += plan.push(Action(moment.t, 1, name, moment.distance))
        if before < leave <= moment.distance:
            out += plan.push(replace(fault("late_throttle", distance=apex), t=moment.t, lap=1, corner=1))
        out += plan.push(moment)
        before = moment.distance
    assert [cue.kind for cue in cues(out)] == ["correction", "status"]
    assert said(out, "correction") == [(1, "Throttle sooner")], "at the corner itself, without its name"


def test_a_press_is_confirmed_and_its_confirmation_is_not_what_is_repeated() -> None:
    events = practise(planner(book=playbook(**BARE)), 4, late(1), actions={2: MARK, 3: REPEAT})
    assert said(events) == [(1, "Throttle sooner"), (2, "Marked"), (3, "Throttle sooner, turn one")]


@pytest.mark.parametrize(("done", "text"), [(True, "New reference"), (False, "Lap not clean")])
def test_what_became_of_the_lap_that_was_asked_for_is_said(done: bool, text: str) -> None:
    plan = begun(planner(book=playbook(**BARE)))
    plan.push(Answer(100.0, 1, USE_LAP, done))
    out = [event for moment in drive(lap_trace(), laps=1, rate=25.0) for event in plan.push(moment)]
    assert said(out) == [(1, text)]


def test_a_playbook_without_words_for_answers_gives_none() -> None:
    """As in the heads of recordings from before there were such answers."""
    book = playbook(**BARE)
    sentences = replace(book.language.sentences, marked="", silent="", speaking="", lap_used="", lap_unfit="")
    book = replace(book, language=replace(book.language, sentences=sentences))
    assert said(practise(planner(book=book), 4, actions={2: MARK, 3: QUIET, 4: SPEAK})) == []


def test_the_topic_is_told_when_it_changes_and_when_there_is_none_any_more() -> None:
    found = late(1, 2, 3) | {(lap, 3): fault("coasting", net=0.1, cost=0.1) for lap in range(1, 4)}
    events = practise(planner(book=playbook(**BARE)), 7, found, actions={4: NEXT_TOPIC})
    topics = [event.fault for event in events if isinstance(event, Topic)]
    assert topics == ["late_throttle", "coasting", None]
    plan = planner(book=playbook(**BARE))
    practise(plan, 4, late(1, 2, 3))
    again = plan.push(Run(900.0, 0, "1", "made", "made", "made", None, "made"))
    assert [event.fault for event in again if isinstance(event, Topic)] == [None]


def test_the_first_laps_may_be_without_a_word() -> None:
    events = practise(planner(book=playbook({"first_laps": 2}, **BARE)), 4, late(1, 2, 3))
    assert [cue.of[0].lap for cue in cues(events)] == [3]
    assert held_back(events) == [(1, "the first laps are without a word"), (2, "the first laps are without a word")]


def test_after_an_incident_nothing_until_the_car_is_settled() -> None:
    """Off in turn one, and back on the road at a third of the pace until 1300 m; then three seconds of driving."""
    found: dict[tuple[int, int], str | Fault] = {(1, 1): fault("off_track", net=2.0, cost=2.0)}

    def slowly(moment: Moment) -> Moment:
        here = moment.distance
        if moment.lap != 1 or here is None or not 500 < here < 1300:
            return moment
        return replace(moment, speed=moment.speed and moment.speed * 0.3, quiet="off" if here < 620 else "")

    settled, plain = cues(practise(planner(), 2, found, change=slowly))[0], cues(practise(planner(), 2, found))[0]
    assert settled.text == "Inside the lines, turn one"
    assert settled.starts is not None and plain.starts is not None
    assert settled.starts > plain.starts + 5.0


def test_an_incident_waits_its_seconds_even_where_the_car_is_quick() -> None:
    """Found at the exit of turn three at 1240 m; at 55 m/s three seconds are 165 m."""
    found: dict[tuple[int, int], str | Fault] = {(1, 3): fault("spin", net=2.0, cost=2.0)}
    first = {}
    for wait in (0.0, 3.0, 6.0):
        cue = cues(practise(planner(book=playbook({"after_incident": wait}, **BARE)), 2, found))[0]
        assert cue.starts is not None
        first[wait] = cue.starts
    assert first[3.0] - first[0.0] > 1.5
    assert first[6.0] - first[3.0] >= 2.9


def test_every_other_lap_is_without_a_word_and_both_are_reported() -> None:
    events = practise(planner(book=playbook(alternate=True, **BARE)), 7, late(1, 2, 3, 4, 5, 6))
    assert {cue.lap % 2 for cue in cues(events)} == {1}
    report = next(event for event in events if isinstance(event, Advice) and "cued" in event.numbers)
    assert (report.numbers["cued_laps"], report.numbers["uncued_laps"]) == (3.0, 3.0)
    assert report.text.startswith("clean laps with cues 0:4") and report.text.endswith("(medians of 3 and 3)")
    silent = practise(planner(book=playbook(alternate=True, **BARE)), 7)
    assert any(isinstance(e, Advice) and e.text.endswith("; but nothing was said on either") for e in silent)


def test_what_hurts_is_told_on_every_lap() -> None:
    found: dict[tuple[int, int], str | Fault] = {(lap, 1): "lock_up" for lap in (1, 2, 3, 4)}
    events = practise(planner(book=playbook(alternate=True, **BARE)), 4, found)
    assert [cue.of[0].lap for cue in cues(events)] == [1, 2, 3, 4]


def test_an_instructors_topic_is_worked_on_from_now_on_and_said() -> None:
    found = late(1, 2, 3, 4, 5, 6) | {(lap, 3): fault("coasting", net=0.1, cost=0.1) for lap in range(1, 7)}
    plan = planner(book=playbook(**BARE | {"focus": True}))
    events = practise(plan, 6, found, actions={4: "topic coasting"})
    assert [text.split(" in ")[0].split(":")[0] for text in advice(events)] == [
        "working on late throttle",
        "late throttle is left for now",
        "working on coasting",
    ]
    assert advice(events)[-1] == "working on coasting in turn 3, as asked"
    topics = [(event.lap, event.fault) for event in events if isinstance(event, Topic) and event.fault is not None]
    assert topics[-1] == (4, "coasting")
    spoken = [cue.about for cue in cues(events) if cue.spoken and cue.lap >= 4]
    assert spoken and set(spoken) == {"coasting"}


def test_the_topic_that_is_worked_on_already_is_not_begun_again() -> None:
    found = late(1, 2, 3, 4, 5, 6)
    plain = practise(planner(book=playbook(**BARE)), 6, found)
    assert practise(planner(book=playbook(**BARE)), 6, found, actions={4: "topic late_throttle"}) == plain


def test_a_topic_that_the_playbook_leaves_out_is_refused_in_words() -> None:
    book = playbook(**BARE)
    book = replace(book, order=tuple(tuple(fault for fault in group if fault != "coasting") for group in book.order))
    events = practise(planner(book=book), 5, late(1, 2, 3, 4), actions={4: "topic coasting"})
    assert advice(events)[-1] == "coasting is not coached here: the playbook or --focus leaves it out"
    assert [event.fault for event in events if isinstance(event, Topic)][-1] == "late_throttle"


@pytest.mark.parametrize("odd", ["topic", "topic ", "topic nonsense", "topic  coasting", "topics coasting"])
def test_a_topic_that_is_no_fault_does_nothing(odd: str) -> None:
    found = late(1, 2, 3, 4, 5)
    plain = practise(planner(book=playbook(**BARE)), 5, found)
    assert practise(planner(book=playbook(**BARE)), 5, found, actions={4: odd}) == plain
