"""At the line one sentence: fuel, then the topic, then where the seconds are."""

from dataclasses import replace

from coach.planner.lapwords import LapWords
from coach.planner.phrases import Phrases
from coach.planner.stores import Tank
from coach.vocabulary.events import Lap, Loss, LossPart, Stores
from tests.planner.made_circuit import default, fault, planner, playbook
from tests.planner.session import cues, late, practise, said

PHRASES = Phrases(default())


def lap(number: int, time: float = 90.0, clean: bool = True) -> Lap:
    return Lap(0.0, number, time, None, clean, (), 0.1, 89.9)


def loss(corner: int, seconds: float, straight: float = 0.0, by_exit: float = 0.0) -> Loss:
    parts = (
        LossPart(corner, "exit", seconds),
        LossPart(corner, "straight", straight, by_exit),
        LossPart(None, "straight", 9.0),
    )
    return Loss(0.0, 1, parts)


def sentences(words: LapWords, laps: list[tuple[Lap, Loss | None]]) -> list[str | None]:
    out: list[str | None] = []
    for ended, lost in laps:
        words.lap_over(ended)
        if lost is not None:
            words.loss(lost)
        wish = words.sentence(0.0, ended.lap + 1, Tank(), PHRASES)
        if wish is not None:
            words.said(wish, wish.texts[0], PHRASES)
        out.append(None if wish is None else wish.texts[0])
    return out


def talking(every: int = 3) -> LapWords:
    return LapWords(replace(default().talk, summary_every=every))


def test_every_third_lap_where_the_seconds_are() -> None:
    """0.2 s in the corner and 0.1 s by its exit; what else the straight lost is not the corner's."""
    laps = [(lap(n), loss(4, 0.2, straight=5.0, by_exit=0.1)) for n in range(1, 7)]
    assert sentences(talking(), laps) == [None, None, "Turn four costs three tenths"] * 2


def test_the_median_counts_and_not_one_lap_that_went_wrong() -> None:
    lost = [0.1, 3.0, 0.12]
    laps = [(lap(n), loss(4, seconds)) for n, seconds in enumerate(lost, 1)]
    assert sentences(talking(), laps)[-1] == "Turn four costs a tenth"


def test_a_best_lap_is_said_with_what_it_is_better_by() -> None:
    times = [90.0, 90.0, 90.0, 89.9, 89.69, 90.0]
    assert (
        sentences(talking(), [(lap(n, time), None) for n, time in enumerate(times, 1)])[-1]
        == "Best lap by three tenths"
    )
    dirty = [(lap(n, time, clean=n != 5), None) for n, time in enumerate([90.0, 90.0, 90.0, 90.0, 89.0, 90.0], 1)]
    assert sentences(talking(), dirty)[-1] != "Best lap by a second", "a lap that is not clean is no best lap"


def test_silence_means_within_ones_range_and_that_is_said_once() -> None:
    laps = [(lap(n), loss(4, 0.05)) for n in range(1, 10)]
    assert [text for text in sentences(talking(), laps) if text] == ["All within range"]


def test_a_driver_who_wants_pace_only_hears_none() -> None:
    assert set(sentences(talking(0), [(lap(n), loss(4, 0.5)) for n in range(1, 10)])) == {None}


def test_losses_against_another_reference_are_not_put_together() -> None:
    words = talking()
    words.lap_over(lap(1))
    words.loss(loss(4, 3.0))
    words.new_reference()
    assert sentences(words, [(lap(2), loss(4, 0.01)), (lap(3), loss(4, 0.01))])[-1] == "All within range"


def test_fuel_goes_before_the_topic_and_the_topic_before_the_summary() -> None:
    def stores(number: int) -> Stores:
        return Stores(0.0, number, {1: 9.0, 2: 7.0, 3: 5.0, 4: 3.0}.get(number, 30.0), 20.0, None)

    found = late(1, 2, 3) | {(n, 3): fault("coasting", net=0.3, cost=0.15) for n in (1, 2, 3)}
    book = playbook(reminders=False)
    full = said(practise(planner(book=book), 8, found, stores=stores))
    at_the_line = [(number, text) for number, text in full if text.startswith(("Fuel", "Next", "Turn"))]
    assert at_the_line[0] == (4, "Fuel for one lap") or at_the_line[0][1].startswith(("Fuel", "Next"))
    lines = [number for number, _ in at_the_line]
    assert len(lines) == len(set(lines)), "one a line"


def test_what_found_no_room_at_the_line_is_dropped_by_half_of_the_lap() -> None:
    def busy(moment):  # type: ignore[no-untyped-def]
        return replace(moment, brake=0.5) if moment.lap == 4 and moment.distance < 1300 else moment

    events = practise(planner(), 5, delta=0.1, change=busy)
    assert cues(events, "summary") == []
