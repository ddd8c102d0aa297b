"""What becomes of a cue, by a clock that the test moves."""

from __future__ import annotations

from typing import Any

import pytest

from coach.planner.rules import MARGIN
from voice.mixer import BUFFER
from voice.player import Answer, Failed, Gone, Ready, Started
from voice.speaker import ANSWERS, GAP, OPENING, RESTARTS, STALE, Said, Speaker
from voice.tones import tone
from voice.trim import SAMPLE_RATE

SOUNDS = {"Brake later": bytes(SAMPLE_RATE), "Throttle sooner": bytes(2 * SAMPLE_RATE)}
"""0.5 s, 1 s."""


class FakeBank:
    """What it has may grow."""

    def __init__(self) -> None:
        self.sounds = dict(SOUNDS)
        self.gone: set[str] = set()

    @property
    def seconds(self) -> dict[str, float]:
        return {text: len(samples) / 2 / SAMPLE_RATE for text, samples in self.sounds.items() if text not in self.gone}

    def sound(self, text: str) -> bytes | None:
        return self.sounds.get(text)


class FakePlayer:
    """Notes what it is told."""

    def __init__(self) -> None:
        self.played: list[tuple[int, bytes, float]] = []
        self.stops = 0
        self.closed: float | None = None

    def play(self, number: int, samples: bytes, volume: float) -> None:
        self.played.append((number, samples, volume))

    def stop(self) -> None:
        self.stops += 1

    def close(self, timeout: float) -> None:
        self.closed = timeout


class Stage:
    """A speaker, its players one after the other, and what it logged and told."""

    def __init__(self) -> None:
        self.players: list[FakePlayer] = []
        self.silent_at_start: list[bool] = []
        self.told: list[str] = []
        self.lines: list[dict[str, Any]] = []
        self.asked: list[str] = []
        self.may_come: set[str] = set()
        log = lambda **line: self.lines.append(line)  # noqa: E731
        self.speaker = Speaker(self._start, 0.8, self.told.append, log, self._ask)
        self.bank = FakeBank()
        self.speaker.use(self.bank)
        self.speaker.open(0.0)

    def _start(self, generation: int) -> FakePlayer:
        assert generation > len(self.players)
        self.silent_at_start.append(self.speaker.is_silent)
        self.generation = generation
        self.players.append(FakePlayer())
        return self.players[-1]

    def _ask(self, text: str) -> bool:
        self.asked.append(text)
        return text in self.may_come

    def answer(self, answer: Answer, now: float) -> float | None:
        self.speaker.answer(self.generation, answer, now)
        return self.speaker.step(now)

    def ready(self, now: float = 0.3) -> None:
        self.answer(Ready(now, {"driver": "made"}), now)

    def say(self, text: str, now: float, kind: str = "correction", planned: float | None = None) -> float | None:
        self.speaker.say(Said(text, kind, 100 + now, now, planned))
        return self.speaker.step(now)

    def started(self, now: float, late: bool = False) -> float | None:
        return self.answer(Started(self.players[-1].played[-1][0], now, late), now)

    def sources(self) -> list[tuple[str, str]]:
        return [(line["text"], line["source"]) for line in self.lines if line["what"] == "cue"]


@pytest.fixture
def stage() -> Stage:
    made = Stage()
    made.ready()
    return made


def test_a_cue_is_played_at_once_and_logged_when_it_has_begun(stage: Stage) -> None:
    stage.say("Brake later", 1.0)
    assert stage.players[0].played == [(1, SOUNDS["Brake later"], 0.8)]
    assert stage.sources() == []
    stage.started(1.002)
    line = stage.lines[-1]
    assert (line["text"], line["source"], line["t"]) == ("Brake later", "bank", 101.0)
    assert (line["decided"], line["started"], line["length"]) == (1.0, 1.002, 0.5)
    assert line["latency_ms"] == pytest.approx(2.0)


def test_an_answer_of_another_sound_is_none(stage: Stage) -> None:
    stage.say("Brake later", 1.0)
    stage.answer(Started(99, 1.001, False), 1.001)
    assert stage.sources() == []
    stage.started(1.002)
    assert stage.sources() == [("Brake later", "bank")]


def test_what_is_not_in_the_bank_is_a_tone_of_its_kind(stage: Stage) -> None:
    stage.say("Never rendered", 1.0, kind="praise")
    assert stage.players[0].played[0][1] == tone("praise")
    stage.started(1.002)
    assert stage.sources() == [("Never rendered", "tone")]


def test_a_phrase_that_is_still_to_be_rendered_is_asked_for_and_said_when_it_comes(stage: Stage) -> None:
    stage.may_come.add("Carry more speed")
    due = stage.say("Carry more speed", 1.0)
    assert due == pytest.approx(1.0 + STALE)
    assert set(stage.asked) == {"Carry more speed"}
    assert stage.players[0].played == []
    stage.bank.sounds["Carry more speed"] = b"\1\2" * 100
    stage.speaker.step(1.2)
    assert stage.players[0].played == [(1, b"\1\2" * 100, 0.8)]
    stage.started(1.201)
    assert stage.sources() == [("Carry more speed", "bank")]
    assert stage.lines[-1]["latency_ms"] == pytest.approx(201)


def test_one_that_does_not_come_in_time_is_not_said_and_no_tone_stands_in(stage: Stage) -> None:
    stage.may_come.add("Carry more speed")
    stage.say("Carry more speed", 1.0)
    stage.speaker.step(1.0 + STALE)
    stage.bank.sounds["Carry more speed"] = bytes(100)
    stage.speaker.step(1.0 + STALE + 0.01)
    assert stage.players[0].played == []
    assert stage.sources() == [("Carry more speed", "not rendered yet")]
    assert stage.lines[-1]["waited_ms"] == pytest.approx(1000 * STALE)
    stage.say("Carry more speed", 9.0)
    assert len(stage.players[0].played) == 1


def test_one_that_will_not_come_is_a_tone_at_once(stage: Stage) -> None:
    stage.may_come.add("Carry more speed")
    stage.say("Carry more speed", 1.0)
    stage.may_come.clear()  # it could not be rendered
    stage.speaker.step(1.1)
    assert stage.players[0].played[0][1] == tone("correction")


def test_it_is_asked_for_while_another_still_sounds(stage: Stage) -> None:
    stage.may_come.add("Carry more speed")
    stage.say("Brake later", 1.0)
    stage.started(1.0)
    stage.say("Carry more speed", 1.3)
    assert stage.asked == ["Carry more speed"] * len(stage.asked) != []
    stage.bank.sounds["Carry more speed"] = bytes(100)
    stage.speaker.step(1.5 + GAP)
    assert len(stage.players[0].played) == 2


def test_a_newer_cue_takes_the_place_of_one_that_is_still_to_be_rendered(stage: Stage) -> None:
    stage.may_come.add("Carry more speed")
    stage.say("Carry more speed", 1.0)
    stage.say("Brake later", 1.2)
    stage.started(1.2)
    assert stage.sources() == [("Carry more speed", "replaced"), ("Brake later", "bank")]


def test_one_that_is_replaced_at_once_is_rendered_all_the_same(stage: Stage) -> None:
    """It may come again."""
    stage.speaker.say(Said("Carry more speed", "correction", 101.0, 1.0))
    stage.speaker.say(Said("Brake later", "correction", 101.0, 1.0))
    assert stage.asked == ["Carry more speed"]


def test_a_phrase_whose_file_has_gone_is_asked_for_again(stage: Stage) -> None:
    class Losing(FakeBank):
        def sound(self, text: str) -> bytes | None:
            self.sounds.pop(text, None)
            return None

    stage.may_come.add("Brake later")
    bank = Losing()
    stage.speaker.use(bank)
    stage.say("Brake later", 1.0)
    assert (stage.players[0].played, stage.asked) == ([], ["Brake later"])
    bank.sounds["Brake later"] = bytes(100)
    stage.speaker.use(stage.bank)
    stage.speaker.step(1.2)
    assert len(stage.players[0].played) == 1


@pytest.mark.parametrize(("planned", "said"), [(0.44, False), (0.46, True), (0.5, True), (2.0, True), (None, True)])
def test_what_takes_longer_than_was_planned_is_not_said(planned: float | None, said: bool, stage: Stage) -> None:
    """It takes 0.5 s, and `LONGER` is allowed."""
    stage.say("Brake later", 1.0, planned=planned)
    assert len(stage.players[0].played) == said
    if not said:
        assert stage.sources() == [("Brake later", "longer than planned")]
        stage.say("Brake later", 3.0, planned=planned)
        assert len(stage.told) == 1
        assert stage.told[0].startswith('voice: "Brake later" takes 0.50 s and 0.44 s were planned')


@pytest.mark.parametrize("longer", [0.0, 0.04])
def test_a_cue_that_waits_and_is_longer_still_ends_before_the_next_braking(longer: float, stage: Stage) -> None:
    """It takes 0.5 s."""
    for waits, said in ((STALE - longer - 0.01, 1), (STALE - longer + 0.01, 0)):
        stage.speaker._free = 1.0 + waits
        stage.say("Brake later", 1.0, planned=0.5 - longer)
        stage.speaker.step(1.0 + waits)
        assert len(stage.players[0].played) == said
        stage.players[0].played.clear()
        if said:
            stage.answer(Started(1, 1.0, False), 1.0)
    assert stage.sources()[-1] == ("Brake later", "stale")


def test_one_that_is_shorter_than_planned_may_wait_no_longer_for_it(stage: Stage) -> None:
    """The place that it is about is behind all the same."""
    stage.speaker._free = 1.0 + STALE
    stage.say("Brake later", 1.0, planned=2.0)
    stage.speaker.step(1.0 + STALE)
    assert stage.sources() == [("Brake later", "stale")]


def test_what_the_planner_keeps_free_is_enough_for_what_a_cue_may_be_late() -> None:
    """Two buffers of the device come on top."""
    assert STALE + 2 * BUFFER / SAMPLE_RATE <= MARGIN


def test_a_tone_is_said_whatever_was_planned(stage: Stage) -> None:
    stage.say("Never rendered", 1.0, planned=0.01)
    assert stage.players[0].played[0][1] == tone("correction")


def test_a_phrase_that_has_begun_is_ended_and_the_next_comes_then(stage: Stage) -> None:
    stage.say("Brake later", 1.0)
    stage.started(1.0)
    free = stage.say("Throttle sooner", 1.3)
    assert len(stage.players[0].played) == 1
    assert free == pytest.approx(1.5 + GAP)
    stage.speaker.step(1.5 + GAP)
    assert stage.players[0].played[1][1] == SOUNDS["Throttle sooner"]


def test_of_those_that_wait_the_newest_is_said(stage: Stage) -> None:
    stage.say("Brake later", 1.0)
    stage.started(1.0)
    stage.say("one", 1.2)
    stage.say("two", 1.3)
    stage.say("Throttle sooner", 1.4)
    stage.speaker.step(1.5 + GAP)
    stage.started(1.61)
    assert [number for number, _, _ in stage.players[0].played] == [1, 2]
    assert stage.sources() == [
        ("Brake later", "bank"),
        ("one", "replaced"),
        ("two", "replaced"),
        ("Throttle sooner", "bank"),
    ]


def test_what_waited_too_long_is_not_said(stage: Stage) -> None:
    stage.say("Throttle sooner", 1.0)
    stage.started(1.0)
    due = stage.say("Brake later", 1.2)
    assert due == pytest.approx(1.2 + STALE)
    stage.speaker.step(1.2 + STALE)
    assert stage.sources() == [("Throttle sooner", "bank"), ("Brake later", "stale")]
    assert stage.speaker.step(5.0) is None
    assert len(stage.players[0].played) == 1


def test_a_cue_waits_for_a_device_that_opens_but_not_long() -> None:
    stage = Stage()
    stage.say("Brake later", 0.1)
    stage.ready(0.3)
    assert len(stage.players[0].played) == 1
    slow = Stage()
    slow.say("Brake later", 0.1)
    slow.ready(0.1 + STALE)
    assert slow.players[0].played == []
    assert slow.sources() == [("Brake later", "stale")]


def test_no_device_is_told_once_and_each_cue_logged() -> None:
    stage = Stage()
    stage.answer(Failed("it is not plugged in"), 0.3)
    stage.speaker.answer(stage.generation, Gone(), 0.4)
    stage.say("Brake later", 1.0)
    stage.say("Brake later", 5.0)
    assert len(stage.told) == 1
    assert "no sound device (it is not plugged in)" in stage.told[0]
    assert stage.sources() == [("Brake later", "silent")] * 2
    assert stage.speaker.is_silent
    assert stage.players[0].closed is not None
    assert len(stage.players) == 1


def test_a_device_that_never_opens_is_given_up() -> None:
    stage = Stage()
    assert stage.speaker.step(0.5) == pytest.approx(OPENING)
    assert not stage.speaker.is_silent
    stage.speaker.step(OPENING)
    assert stage.speaker.is_silent
    assert stage.players[0].closed == 0.0
    assert len(stage.told) == 1
    stage.answer(Ready(OPENING + 1, {}), OPENING + 1)  # too late: it was ended
    assert stage.speaker.is_silent


def test_a_process_that_cannot_be_started_is_silence() -> None:
    told: list[str] = []

    def start(generation: int) -> Any:
        raise OSError(11, "Resource temporarily unavailable")

    speaker = Speaker(start, 1.0, told.append, lambda **line: None)
    speaker.open(0.0)
    assert speaker.is_silent
    assert len(told) == 1


def test_a_process_that_ends_is_started_again_and_speaks(stage: Stage) -> None:
    stage.say("Brake later", 1.0)
    stage.answer(Gone(), 1.1)
    assert stage.sources() == [("Brake later", "unanswered")]
    assert len(stage.players) == 2
    stage.ready(1.4)
    stage.say("Throttle sooner", 2.0)
    assert stage.players[1].played[0][1] == SOUNDS["Throttle sooner"]
    assert len(stage.told) == 1
    assert "opened again" in stage.told[0]


def test_a_process_that_is_started_again_is_not_taken_for_silence(stage: Stage) -> None:
    """Who renders meanwhile would stop if it were."""
    stage.answer(Gone(), 1.1)
    assert stage.silent_at_start == [False, False]


def test_a_process_that_does_not_answer_is_started_again(stage: Stage) -> None:
    due = stage.say("Brake later", 1.0)
    assert due == pytest.approx(1.0 + ANSWERS)
    stage.speaker.step(1.0 + ANSWERS)
    assert stage.players[0].closed == 0.0
    assert len(stage.players) == 2
    assert stage.sources() == [("Brake later", "unanswered")]


def test_a_device_that_takes_no_sound_is_opened_again_and_the_cue_said_then(stage: Stage) -> None:
    stage.say("Brake later", 1.0)
    stage.started(1.0)
    stage.say("Throttle sooner", 4.0)
    stage.started(4.001, late=True)  # the first one still sounds, 2.5 s after its end
    assert len(stage.players) == 2
    stage.ready(4.3)
    assert stage.players[1].played[0][1] == SOUNDS["Throttle sooner"]


def test_a_newer_cue_is_said_instead_when_the_device_is_open_again(stage: Stage) -> None:
    stage.say("Brake later", 1.0)
    stage.started(1.0)
    stage.say("one", 4.0)
    stage.say("Throttle sooner", 4.1)
    stage.started(4.15, late=True)
    stage.ready(4.3)
    assert [samples for _, samples, _ in stage.players[1].played] == [SOUNDS["Throttle sooner"]]


def test_a_mixer_that_is_a_buffer_late_is_no_failure(stage: Stage) -> None:
    stage.say("Brake later", 1.0)
    stage.started(1.0)
    stage.say("Throttle sooner", 1.5 + GAP)
    stage.started(1.5 + GAP, late=True)
    assert len(stage.players) == 1
    assert stage.told == []


def test_a_device_that_fails_again_and_again_is_left_alone(stage: Stage) -> None:
    now = 1.0
    for _ in range(RESTARTS + 1):
        stage.answer(Gone(), now)
        stage.ready(now + 0.3)
        now += 10
    assert len(stage.players) == RESTARTS + 1
    assert stage.speaker.is_silent
    assert len(stage.told) == 2


def test_a_device_that_fails_as_it_opens_is_not_tried_again() -> None:
    stage = Stage()
    stage.answer(Gone(), 0.1)
    assert stage.speaker.is_silent
    assert len(stage.players) == 1


def test_answers_of_a_player_that_was_given_up_are_not_heard(stage: Stage) -> None:
    old = stage.generation
    stage.answer(Gone(), 1.0)
    stage.ready(1.3)
    stage.speaker.answer(old, Gone(), 1.4)
    assert len(stage.players) == 2
    assert stage.speaker.is_open


def test_mute_cuts_off_and_keeps_silent_until_it_is_over(stage: Stage) -> None:
    stage.say("Throttle sooner", 1.0)
    stage.started(1.0)
    stage.speaker.mute(True, 1.2)
    assert stage.players[0].stops == 1
    stage.say("Brake later", 1.3)
    stage.speaker.mute(False, 1.4)
    stage.say("Brake later", 1.5)
    assert [samples for _, samples, _ in stage.players[0].played] == [SOUNDS["Throttle sooner"], SOUNDS["Brake later"]]
    assert stage.sources()[:2] == [("Throttle sooner", "bank"), ("Brake later", "muted")]


def test_a_phrase_that_is_cut_off_before_it_is_heard_of_holds_up_nothing(stage: Stage) -> None:
    stage.say("Throttle sooner", 1.0)
    stage.speaker.mute(True, 1.001)
    stage.started(1.002)
    stage.speaker.mute(False, 1.1)
    stage.say("Brake later", 1.2)
    assert len(stage.players[0].played) == 2


def test_without_a_device_nothing_is_rendered() -> None:
    stage = Stage()
    stage.may_come.add("Carry more speed")
    stage.answer(Failed("none"), 0.3)
    stage.say("Carry more speed", 1.0)
    assert stage.asked == []
    assert stage.sources() == [("Carry more speed", "silent")]


def test_mute_in_silence_stops_nothing(stage: Stage) -> None:
    stage.speaker.mute(True, 1.0)
    assert stage.players[0].stops == 0


def test_closing_lets_a_phrase_end(stage: Stage) -> None:
    stage.say("Throttle sooner", 1.0)
    stage.started(1.0)
    stage.speaker.close(1.1, until=3.1)
    assert stage.speaker.step(1.1) == pytest.approx(2.0 + GAP)
    assert not stage.speaker.over
    stage.speaker.step(2.0 + GAP)
    assert stage.speaker.over
    assert stage.players[0].closed is not None
    assert stage.players[0].closed > 0


def test_closing_cuts_off_what_would_take_too_long(stage: Stage) -> None:
    stage.say("Throttle sooner", 1.0)
    stage.started(1.0)
    stage.speaker.close(1.1, until=1.3)
    assert stage.speaker.step(1.1) == pytest.approx(1.3)
    stage.speaker.step(1.3)
    assert stage.speaker.over


def test_closing_still_says_what_was_just_taken_and_drops_what_waits(stage: Stage) -> None:
    stage.speaker.say(Said("Brake later", "correction", 0.0, 1.0))
    stage.speaker.close(1.0, until=3.0)
    stage.speaker.step(1.0)
    assert len(stage.players[0].played) == 1
    stage.started(1.0)
    other = Stage()
    other.ready()
    other.say("Throttle sooner", 1.0)
    other.started(1.0)
    other.say("Brake later", 1.1)
    other.speaker.close(1.1, until=3.0)
    assert other.sources()[-1] == ("Brake later", "closed")


def test_closing_does_not_wait_for_a_phrase_to_be_rendered(stage: Stage) -> None:
    stage.may_come.add("Carry more speed")
    stage.say("Carry more speed", 1.0)
    stage.speaker.close(1.1, until=3.0)
    stage.may_come.clear()  # nothing is rendered any more
    stage.speaker.step(1.1)
    assert stage.sources() == [("Carry more speed", "closed")]
    assert (stage.players[0].played, stage.speaker.over) == ([], True)


def test_a_device_that_ends_while_the_voice_closes_is_not_opened_again(stage: Stage) -> None:
    stage.say("Throttle sooner", 1.0)
    stage.started(1.0)
    stage.speaker.close(1.1, until=3.1)
    stage.answer(Gone(), 1.2)
    assert stage.speaker.over
    assert len(stage.players) == 1


def test_closing_does_not_wait_for_a_device_that_is_not_there() -> None:
    stage = Stage()
    stage.speaker.close(0.1, until=9.0)
    stage.speaker.step(0.1)
    assert stage.speaker.over
    assert stage.players[0].closed == 0.0
