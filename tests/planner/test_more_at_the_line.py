"""What is said at the line beside the order of it: what gives way, what is logged, when it is out of date."""

from dataclasses import replace

from coach.planner.lapwords import LapWords
from coach.planner.phrases import Phrases
from coach.planner.planner import Planner
from coach.planner.playbook import Playbook
from coach.planner.start import PlannerStart
from coach.planner.stores import Tank
from coach.vocabulary.actions import NEXT_TOPIC
from coach.vocabulary.events import Action, Advice, Cue, Event, Fault, Lap, Loss, LossPart, Moment, Stores
from tests.planner.made_circuit import default, fault, phrases, planner, playbook
from tests.planner.session import cues, held_back, late, practise, said


def stores(number: int) -> Stores:
    return Stores(0.0, number, 16.0 - 2.0 * number, 30.0, None)


def lap(number: int) -> Lap:
    return Lap(0.0, number, 90.0, None, True, (), 0.1, 89.9)


def test_a_summary_leaves_the_straight_before_the_topics_corner_to_the_reminder() -> None:
    """Both are due on lap 7: the reminder every other lap, the summary every third."""
    events = practise(planner(), 7, late(*range(1, 8)))
    assert [cue.kind for cue in cues(events) if cue.lap == 7] == ["reminder", "correction"]
    without = practise(planner(book=playbook(reminders=False)), 7, late(*range(1, 8)))
    assert [cue.kind for cue in cues(without) if cue.lap == 7] == ["summary", "correction"]


def test_a_warning_of_fuel_is_logged_with_its_numbers_and_said() -> None:
    """2 L a lap are known from the third line on, where 8 L are left."""
    events = practise(planner(book=playbook(summary_every=0)), 6, stores=stores)
    fuel = [event for event in events if isinstance(event, Advice) and event.topic == "fuel"]
    assert [event.numbers["laps"] for event in fuel] == [4.0, 3.0, 2.0]
    assert fuel[0].numbers == {"fuel": 8.0, "a_lap": 2.0, "laps": 4.0, "laps_left": 30.0, "lacks": 52.0}
    assert [text for _, text in said(events)] == ["Fuel for four laps", "Fuel for three laps", "Fuel for two laps"]


def test_fuel_goes_before_a_new_topic_which_is_said_a_line_later() -> None:
    """The third line has both: the habit of laps 2 and 3, and fuel for four laps."""
    events = practise(planner(book=playbook(summary_every=0, reminders=False)), 6, late(2, 3), stores=stores)
    line = [text for _, text in said(events) if not text.startswith("Throttle")]
    assert line[0] == "Fuel for four laps"


def test_praise_that_finds_no_room_for_a_lap_is_dropped() -> None:
    """Mended in turn one of lap 6; from there on the driver brakes on every straight of lap 6 and most of lap 7."""

    def busy(moment: Moment) -> Moment:
        end = moment.distance is not None and moment.distance < 1300.0
        return replace(moment, brake=0.5) if moment.lap == 6 or (moment.lap == 7 and end) else moment

    events = practise(planner(book=playbook(summary_every=0)), 9, late(1, 2, 3), change=busy)
    assert cues(events, "praise") == []
    dropped = [event for event in events if isinstance(event, Cue) and event.kind == "praise"]
    assert [(cue.lap, cue.why_not) for cue in dropped] == [(7, "no room while it was news")]


class Pressing(Planner):
    """A planner that hears a button at 700 m of a lap."""

    def __init__(self, book: Playbook, lap: int, action: str) -> None:
        super().__init__(PlannerStart(book, lengths=dict.fromkeys(phrases(), 0.8)))
        self._pressed, self._waits = action, lap

    def push(self, event: Event) -> list[Event]:
        pressed = isinstance(event, Moment) and event.lap == self._waits and (event.distance or 0.0) >= 700.0
        if not pressed:
            return super().push(event)
        self._waits = -1
        return super().push(Action(event.t, event.lap, self._pressed)) + super().push(event)


def test_the_next_topic_is_said_when_it_is_asked_for_and_not_at_the_next_line() -> None:
    found = late(1, 2, 3) | {(n, 3): fault("coasting", net=0.1, cost=0.1) for n in range(1, 4)}
    plan = Pressing(playbook(summary_every=0, reminders=False), 4, NEXT_TOPIC)
    assert (4, "Next, no coasting") in said(practise(plan, 5, found))


def test_a_topic_is_announced_but_not_one_that_was_asked_for() -> None:
    book = playbook(summary_every=0, reminders=False)
    found = late(1, 2, corner=3)
    assert [cue.lap for cue in cues(practise(planner(book=book), 4, found), "summary")] == [3]
    assert cues(practise(planner(focus=("late_throttle",), book=book), 4, found), "summary") == []


def test_one_lap_against_a_reference_is_no_summary() -> None:
    """Two of three laps have no losses: one alone may be chance."""
    words = LapWords(replace(default().talk, summary_every=3))
    words.loss(Loss(0.0, 1, (LossPart(4, "exit", 0.9),)))
    for number in (1, 2, 3):
        words.lap_over(lap(number))
    wish = words.sentence(0.0, 4, Tank(), Phrases(default()))
    assert wish is not None and wish.texts == ("All within range",)


def test_where_something_came_up_all_is_not_called_within_range() -> None:
    words = LapWords(replace(default().talk, summary_every=3))
    words.found()
    for number in (1, 2, 3):
        words.lap_over(lap(number))
    assert words.sentence(0.0, 4, Tank(), Phrases(default())) is None


def test_losses_of_the_laps_before_the_last_summary_do_not_count_again() -> None:
    words, phrases = LapWords(replace(default().talk, summary_every=3)), Phrases(default())
    said_at = []
    for number, lost in enumerate([0.3, 0.3, 0.3, 0.01, 0.01, 0.01], 1):
        words.lap_over(lap(number))
        words.loss(Loss(0.0, number, (LossPart(4, "exit", lost),)))
        wish = words.sentence(0.0, number + 1, Tank(), phrases)
        said_at.append(None if wish is None else wish.texts[0])
    assert said_at == [None, None, "Turn four costs three tenths", None, None, "All within range"]


def test_corrections_are_counted_lap_by_lap() -> None:
    found: dict[tuple[int, int], str | Fault] = {(1, 1): "coasting", (1, 3): "late_turn_in", (2, 1): "missed_apex"}
    bare = {"reminders": False, "summary_every": 0, "focus": False, "praise": False}
    events = practise(planner(book=playbook(corrections=1, **bare)), 3, found)
    assert [(cue.lap, cue.about) for cue in cues(events)] == [(1, "coasting"), (2, "missed_apex")], (
        "not what lap 1 left over"
    )
    assert held_back(events) == [(1, "enough was said on this lap")]
