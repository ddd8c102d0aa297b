"""Words in place of a voice: which cues are read, where, for how long, and what gives way to them."""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby

import pytest

from coach.overlay.glance import BUDGET, reading_time
from coach.overlay.keeper import ViewKeeper
from coach.overlay.look import Look
from coach.vocabulary.events import Cue, Delta, Event, Moment, Reference
from tests.overlay.test_keeper import LONG, REFERENCE, TRACE, driven

WORDS = {
    "late_throttle": "Throttle sooner",
    "early_braking": "Brake later",
    "missed_apex": "Innen näher heran",
    "spin": "Leave more of a margin",
    "off_track": "",
    "lock_up": "Unwahrscheinlichkeitsantrieb",
}
MUTE = Look(spoken=False, words=WORDS)


def cue(
    t: float = 101.0,
    about: str | None = "late_throttle",
    kind: str = "correction",
    spoken: bool = True,
    starts: float | None = None,
) -> Cue:
    begins = t if starts is None else starts
    told = (True, begins, begins + 1.0) if spoken else (False, None, None)
    return Cue(t, 1, kind, about, (), 3, "text", *told, None, None)


def shown(
    *cues: Cue,
    look: Look = MUTE,
    begin: float = LONG,
    seconds: float = 12.0,
    change: dict[float, dict[str, float]] | None = None,
) -> list[tuple[str, float, float]]:
    """Each text, and from when to when (s) it was to be read, on a drive that begins at 100 s."""
    keeper = ViewKeeper(look)
    keeper.take(REFERENCE)
    events: list[Event] = list(driven(begin, seconds))
    for event in cues:
        at = next(index for index, one in enumerate(events) if one.t >= event.t)
        events.insert(at, event)
    seen: list[tuple[str | None, float]] = []
    for event in events:
        for since, fields in (change or {}).items():
            if isinstance(event, Moment) and since <= event.t < since + 0.5:
                event = replace(event, **fields)  # type: ignore[arg-type]
        goal = keeper.take(event)
        if isinstance(event, Moment):
            seen.append((goal.text if goal.text_alpha > 0.0 else None, event.t))
    runs = [(text, [t for _, t in run]) for text, run in groupby(seen, key=lambda one: one[0])]
    return [(text, times[0], times[-1]) for text, times in runs if text is not None]


def near(t: float) -> object:
    return pytest.approx(t, abs=0.03)


def test_the_words_of_a_cue_stand_on_the_straight_and_go_by_themselves() -> None:
    ((text, begins, ends),) = shown(cue(101.0))
    assert text == "Throttle sooner"
    assert (begins, ends) == (near(101.0), near(103.5))
    assert ends - begins >= reading_time(text)


def test_where_a_voice_speaks_there_are_none() -> None:
    assert {text for text, _, _ in shown(cue(101.0), look=Look(words=WORDS))} == {"+0.42"}


def test_no_text_is_none_spoken_or_not() -> None:
    for spoken in (False, True):
        assert shown(cue(101.0), look=Look(text=False, spoken=spoken, words=WORDS)) == []


def test_the_number_is_left_out_of_their_straight() -> None:
    texts = [text for text, _, _ in shown(cue(101.0), seconds=TRACE.time[-1] + 8.0)]
    assert texts == ["Throttle sooner", "+0.42", "+0.42"]  # turn one's straight, and the long one a lap later


def test_a_number_that_stands_gives_way_at_once() -> None:
    (number, _, gone), (words, begins, _) = shown(cue(102.5))
    assert (number, words) == ("+0.42", "Throttle sooner")
    assert gone == near(102.5)
    assert begins == near(102.5)


def test_a_number_waits_until_words_can_come_no_more() -> None:
    ((number, begins, _),) = shown()
    assert (number, begins) == ("+0.42", near(101.6))
    assert shown(look=Look(spoken=False))[0][1] == near(100.4)
    ((text, begins, _),) = shown(cue(101.0, starts=102.2))  # told ahead
    assert (text, begins) == ("Throttle sooner", near(102.2))


def test_words_wait_for_the_straight_for_a_while() -> None:
    turn = 560.0  # 1.0 s before turn one's straight
    ((text, begins, _), *_) = shown(cue(100.1), begin=turn)
    straight = 100.0 + TRACE.at(TRACE.time, 600.0) - TRACE.at(TRACE.time, turn)
    assert (text, begins) == ("Throttle sooner", near(straight))
    turn = 440.0  # 4.3 s before
    assert [text for text, _, _ in shown(cue(100.1), begin=turn)] == ["+0.42"]


def test_they_are_gone_half_a_second_before_the_reference_brakes() -> None:
    begin = 740.0
    brakes = 100.0 + TRACE.at(TRACE.time, 900.0) - TRACE.at(TRACE.time, begin)
    ((_, begins, ends),) = shown(cue(101.0), begin=begin, seconds=7.0)
    assert ends <= brakes - 0.5 + 0.03
    assert ends - begins >= BUDGET - 0.03
    assert shown(cue(brakes - 1.8), begin=begin, seconds=brakes - 100.0 + 0.4) == []


@pytest.mark.parametrize("change", [{"brake": 0.3}, {"lateral": 15.0}, {"throttle": 0.2}])
def test_brake_load_or_lift_takes_them_away_at_once(change: dict[str, float]) -> None:
    (_, _, ends), *_ = shown(cue(101.0), change={102.0: change})
    assert ends <= 102.0 + (0.31 if "throttle" in change else 0.0)


def test_three_words_at_most_and_none_that_take_longer_than_a_look() -> None:
    for about in ("spin", "off_track", "lock_up", "coasting", None):
        assert [text for text, _, _ in shown(cue(101.0, about))] == ["+0.42"]
    assert shown(cue(101.0, "missed_apex"))[0][0] == "Innen näher heran"


def test_a_cue_that_is_held_back_has_no_words() -> None:
    assert [text for text, _, _ in shown(cue(101.0, spoken=False))] == ["+0.42"]


@pytest.mark.parametrize("kind", ["correction", "reminder", "summary"])
def test_what_tells_to_do_something_is_read(kind: str) -> None:
    assert shown(cue(101.0, kind=kind))[0][0] == "Throttle sooner"


@pytest.mark.parametrize("kind", ["praise", "status", "a kind of a later version"])
def test_what_tells_something_else_is_not(kind: str) -> None:
    assert [text for text, _, _ in shown(cue(101.0, kind=kind))] == ["+0.42"]


def test_asked_for_again_an_order_is_read_again_and_a_praise_is_not() -> None:
    again = cue(106.0, kind="status")
    assert [text for text, _, _ in shown(cue(101.0), again)] == ["Throttle sooner"] * 2
    assert [text for text, _, _ in shown(cue(101.0), cue(104.0, kind="praise"), again)] == ["Throttle sooner"]


def test_one_thing_at_a_time() -> None:
    texts = shown(cue(101.0), cue(102.0, "early_braking"))
    assert [text for text, _, _ in texts] == ["Throttle sooner", "Brake later"]
    assert texts[0][2] < texts[1][1]


def test_the_same_words_do_not_stay_longer_for_being_told_twice() -> None:
    ((_, begins, ends),) = shown(cue(101.0), cue(102.0))
    assert (begins, ends) == (near(101.0), near(103.5))


def test_words_stand_on_the_side_that_the_float_is_not_on() -> None:
    for delta, above in ((-0.5, False), (0.5, True)):
        keeper = ViewKeeper(MUTE)
        keeper.take(REFERENCE)
        for event in driven(LONG, 2.0, delta=delta):
            keeper.take(event)
            if event.t == 101.0 and isinstance(event, Moment):
                keeper.take(cue(101.0))
        assert (keeper.goal.text, keeper.goal.text_above) == ("Throttle sooner", above)


def test_a_number_goes_when_the_float_has_crossed_to_its_side() -> None:
    keeper = ViewKeeper()
    keeper.take(REFERENCE)
    for event in driven(LONG, 3.5, delta=0.1):
        if isinstance(event, Delta) and event.t > 102.5:
            event = replace(event, delta=-0.3)
        keeper.take(event)
        if isinstance(event, Moment):
            assert keeper.goal.text_alpha == (1.0 if 101.61 < event.t < 102.59 else 0.0) or event.t < 102.7
    assert keeper.goal.text_alpha == 0.0


def test_where_times_are_hidden_words_are_read_and_no_number_is() -> None:
    hidden = replace(MUTE, times=False)
    assert [text for text, _, _ in shown(cue(101.0), look=hidden, seconds=30.0)] == ["Throttle sooner"]
    for look in (replace(hidden, spoken=True), hidden):
        assert shown(look=look, seconds=30.0) == []


def test_without_a_reference_there_is_no_room_to_read() -> None:
    keeper = ViewKeeper(replace(MUTE, times=False))
    for event in [cue(100.0), *driven(LONG, 4.0)]:
        assert keeper.take(event).text is None
    assert keeper.take(Reference(104.0, 1, TRACE.time[-1], "made", TRACE)).state == "driving"
