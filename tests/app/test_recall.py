"""What a memory knows goes into a drive like a press: recorded at its place, followed, replayed, cut out with it."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from make_stream import Mistake, make_drive, test_loop

from coach.app.cli import main
from coach.app.compare import heard_under
from coach.app.config import CompareOptions
from coach.app.console import Console
from coach.app.following.followloop import FollowLoop, TheirClock
from coach.app.intake import Intake
from coach.app.line import Line
from coach.app.live import LiveLoop
from coach.app.recalling import WAIT, Recalling
from coach.app.session import Session, ended
from coach.app.source import Source
from coach.app.start import fresh
from coach.app.stop import Stop
from coach.app.watch import Watch
from coach.engine.known import Known
from coach.engine.learned import Learned
from coach.engine.study import study
from coach.planner.state import Practised
from coach.store.recalled import Recalled
from coach.vocabulary.errors import FormatError
from coach.vocabulary.events import Event, Moment, Run, record
from coach.vocabulary.laptime import lap_time
from coach.vocabulary.sample import Sample
from feeds.base import Datagram
from feeds.counts import Counts
from feeds.generic import GenericFeed
from feeds.recording import RecalledLine, RecordingWriter, open_recording
from feeds.sharing.follow import Heard
from tests.golden.case import read_lines

ORIGIN = "lap 3 of yesterday"
BEGAN = 1_750_000_000.0
RATE = 12.5
DRIVER, CAR, TRACK = "driver-a", "car-a", "loop-a"


@cache
def rows(laps: int, seed: int, late: tuple[int, ...] = ()) -> tuple[dict[str, Any], ...]:
    """A drive's rows, with throttle too late out of turn one in these laps, and a driver's name."""
    mistakes = [Mistake("late_throttle", lap, 1, 0.8) for lap in late]
    made = make_drive(test_loop(), laps, RATE, mistakes, seed, 0.012, 0.2).rows
    return tuple({**row, "driver": DRIVER} for row in made)


def datagrams(of: Iterable[dict[str, Any]]) -> list[bytes]:
    return [json.dumps(row).encode() for row in of]


class Kept:
    """A memory that knows this of whoever is named in `known`, and a watcher; notes what it is asked and told."""

    def __init__(self, known: dict[tuple[str | None, str | None, str | None], Recalled]) -> None:
        self.known = known
        self.asked: list[tuple[str | None, str | None, str | None]] = []
        self.told: list[Event | Sample] = []

    def recall(self, driver: str | None, car: str | None, track: str | None) -> Recalled | None:
        self.asked.append((driver, car, track))
        return self.known.get((driver, car, track))

    def sample(self, sample: Sample, received: float) -> None:
        self.told.append(sample)

    def take(self, event: Event) -> None:
        self.told.append(event)


class Log:
    """A sink that keeps all as the event log has it."""

    def __init__(self) -> None:
        self.lines: list[dict[str, Any]] = []

    def take(self, event: Event) -> None:
        self.lines.append(json.loads(json.dumps(record(event))))


@cache
def yesterday() -> Recalled:
    """What five laps with a habit left behind, the corners numbered from 21 as if an older map had them so."""
    kept, start, feed = Kept({}), fresh(Source(), None, ()), GenericFeed()
    line = Line(start.engine, start.planner, [], [kept])
    stream = [sample for data in datagrams(rows(5, 3, (3, 4, 5))) if (sample := feed.decode(data)) is not None]
    for sample in stream:
        line.push(sample, sample.t)
    line.finish()
    learned = [event for event in kept.told if isinstance(event, Learned)][-1]
    practised = [event for event in kept.told if isinstance(event, Practised)][-1]
    assert learned.circuit is not None
    circuit = replace(
        learned.circuit, marks=tuple(replace(mark, corner=mark.corner + 20) for mark in learned.circuit.marks)
    )
    best = study(stream, "yesterday").reference
    state = json.loads(json.dumps(practised.state))
    state["trails"] = [
        [fault, None if corner is None else corner + 20, turns] for fault, corner, turns in state["trails"]
    ]
    for topic in state["topics"]:
        topic["corners"] = [None if corner is None else corner + 20 for corner in topic["corners"]]
    assert state["topics"], "they had a topic"
    return Recalled(Known(best, ORIGIN, circuit, driver=DRIVER), state, None)


class Receiver:
    """Gives so many of the datagrams at a look, and asks for the end behind them."""

    def __init__(self, came: Sequence[bytes], at_a_look: int, stop: Stop) -> None:
        self.drops = Counts("datagram dropped")
        self.source: str | None = None
        self._came, self._each, self._stop = list(came), at_a_look, stop
        self.now = BEGAN

    def receive(self, timeout: float) -> list[Datagram]:
        taken, self._came = self._came[: self._each], self._came[self._each :]
        self._stop.asked = not self._came
        out = []
        for data in taken:
            self.now += 1.0 / RATE
            out.append(Datagram(self.now, data, "1.2.3.4:5"))
        return out

    def confirm(self, sender: str) -> bool:
        self.source = sender
        return True


def driven(
    came: Sequence[bytes],
    kept: Kept,
    recording: Path | None = None,
    at_a_look: int = 7,
    sharing: Any = None,
    reference: str | None = None,
) -> tuple[Log, str]:
    """What a live session logs and says, through the loop that owns the socket."""
    log, told, stop = Log(), io.StringIO(), Stop()
    start, console = fresh(Source(), reference, ()), Console(told)
    receiver: Any = Receiver(came, at_a_look, stop)
    recorder = None if recording is None else RecordingWriter(recording, start.head())
    recalling = Recalling(kept, console.say)
    coached = Session(start, [log], recorder, console, sharing=sharing, keeping=kept, recalling=recalling)
    with ended(coached, lambda: receiver.now) as session:
        intake, watch = Intake(GenericFeed(), console.say), Watch(receiver.now, "here", "generic")
        LiveLoop(receiver, lambda: receiver.now, intake, session, console, watch).run(stop)
    return log, told.getvalue()


def replayed(recording: Path, *more: str) -> list[dict[str, Any]]:
    log = recording.with_suffix(".jsonl")
    log.unlink(missing_ok=True)
    assert main(["replay", "--fast", str(recording), "--events", str(log), *more]) == 0
    return read_lines(log)


def of(lines: Iterable[dict[str, Any]], kind: str) -> list[dict[str, Any]]:
    return [line for line in lines if line["type"] == kind]


@cache
def knowing() -> Kept:
    return Kept({(DRIVER, CAR, TRACK): yesterday()})


@pytest.fixture(scope="module")
def today(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Log]:
    """A drive of two laps by one who is remembered: its recording, and what was logged live."""
    recording = tmp_path_factory.mktemp("today") / "today.cwrec"
    log, _ = driven(datagrams(rows(2, 9, (1, 2))), Kept(knowing().known), recording)
    return recording, log


def test_a_replay_says_what_was_said_with_no_memory_there(today: tuple[Path, Log]) -> None:
    recording, log = today
    recalled = [item for item in open_recording(recording) if isinstance(item, RecalledLine)]
    assert len(recalled) == 1
    assert Recalled.from_json(recalled[0].recalled).to_json() == replace(yesterday(), of=(DRIVER, CAR, TRACK)).to_json()
    assert replayed(recording) == log.lines
    assert [line["origin"] for line in of(log.lines, "reference")] == [ORIGIN]
    numbers = {mark["corner"] for line in of(log.lines, "corners") for mark in line["corners"] if mark["coached"]}
    assert min(numbers) > 20
    assert of(log.lines, "advice")[0]["text"].startswith("going on with late throttle in turn 21")


def test_its_place_is_behind_what_had_come_and_before_what_comes(tmp_path: Path) -> None:
    """However many wait at the socket: the recording has one order with the work."""
    for each in (1, 500):
        recording = tmp_path / f"{each}.cwrec"
        log, _ = driven(datagrams(rows(2, 9)[:350]), Kept(knowing().known), recording, each)
        assert replayed(recording) == log.lines
        items = list(open_recording(recording))
        at = next(number for number, item in enumerate(items) if isinstance(item, RecalledLine))
        assert at >= 1
        times = [item.received for item in items]
        assert times == sorted(times)


def test_with_a_reference_of_its_own_the_numbers_and_the_topic_are_recalled(tmp_path: Path) -> None:
    recording, own = tmp_path / "own.cwrec", tmp_path / "reference.jsonl"
    own.write_bytes(b"\n".join(datagrams(rows(2, 9))))
    log, _ = driven(datagrams(rows(2, 9, (1, 2))[:800]), Kept(knowing().known), recording, reference=str(own))
    assert {line["origin"] for line in of(log.lines, "reference")} == {own.name}
    assert len(of(log.lines, "corners")) == 2
    assert min(mark["corner"] for mark in of(log.lines, "corners")[1]["corners"] if mark["coached"]) > 20
    assert any(line["text"].startswith("going on with") for line in of(log.lines, "advice"))
    assert replayed(recording) == log.lines


def asks(change: Callable[[int, dict[str, Any]], dict[str, Any]], known: Kept, count: int = 200) -> list[float]:
    """s of the stream at which the memory was asked."""
    kept, feed, said = known, GenericFeed(), list[str]()
    recalling = Recalling(kept, said.append)
    times = []
    for number, row in enumerate(rows(2, 9)[:count]):
        sample = feed.decode(json.dumps(change(number, row)).encode())
        assert sample is not None
        if number == 0:
            recalling.take(Run(sample.t, 0, "1", "x", None, None, None, "x"))
        before = len(kept.asked)
        recalling.ask(sample)
        times += [sample.t] * (len(kept.asked) - before)
    return times


def lacking(*names: str, until: int = 10_000) -> Callable[[int, dict[str, Any]], dict[str, Any]]:
    def change(number: int, row: dict[str, Any]) -> dict[str, Any]:
        return {key: value for key, value in row.items() if key not in names or number >= until}

    return change


def test_it_is_asked_at_once_where_all_are_named_and_once_alone() -> None:
    kept = Kept({})
    assert asks(lacking(), kept) == [rows(2, 9)[0]["t"]]
    assert kept.asked == [(DRIVER, CAR, TRACK)]


def test_a_name_that_comes_late_is_waited_for() -> None:
    kept, begins = Kept({}), rows(2, 9)[0]["t"]
    (t,) = asks(lacking("driver", "track", until=20), kept)
    assert t == pytest.approx(begins + 20 / RATE) and kept.asked == [(DRIVER, CAR, TRACK)]


def test_a_name_that_never_comes_is_not_waited_for_longer() -> None:
    kept, begins = Kept({}), rows(2, 9)[0]["t"]
    (t,) = asks(lacking("driver"), kept)
    assert t == pytest.approx(begins + WAIT, abs=1.01 / RATE) and kept.asked == [(None, CAR, TRACK)]


def test_a_name_that_comes_later_still_is_asked_for_besides() -> None:
    kept = Kept({})
    assert len(asks(lacking("driver", until=100), kept)) == 2
    assert kept.asked == [(None, CAR, TRACK), (DRIVER, CAR, TRACK)]


def test_names_that_are_sent_now_and_then_alone_hold() -> None:
    kept = Kept({})
    asks(lambda number, row: row if number % 25 == 0 else lacking("driver", "car", "track")(number, row), kept)
    assert kept.asked == [(DRIVER, CAR, TRACK)]


def test_another_driver_begins_another_session_and_is_asked_for_anew(tmp_path: Path) -> None:
    """Of whom nothing is known: that is recorded, so that nobody who joins takes the first one's for theirs."""
    recording, kept = tmp_path / "two.cwrec", Kept(knowing().known)
    stream = [*rows(2, 9)[:300], *({**row, "driver": "driver-b"} for row in rows(2, 9)[300:600])]
    log, _ = driven(datagrams(stream), kept, recording)
    assert kept.asked == [(DRIVER, CAR, TRACK), ("driver-b", CAR, TRACK)]
    recalled = [Recalled.from_json(i.recalled) for i in open_recording(recording) if isinstance(i, RecalledLine)]
    assert [one.is_empty for one in recalled] == [False, True]
    assert len(of(log.lines, "run")) == 2 and len(of(log.lines, "reference")) == 1
    assert replayed(recording) == log.lines


def test_an_answer_that_comes_when_another_drives_already_is_not_taken_for_theirs(tmp_path: Path) -> None:
    """A burst holds the end of one session and the beginning of the next: the answer stands behind both."""
    recording, kept = tmp_path / "burst.cwrec", Kept(knowing().known)
    stream = [*rows(2, 9)[:30], *({**row, "driver": "driver-b"} for row in rows(2, 9)[30:120])]
    log, _ = driven(datagrams(stream), kept, recording, at_a_look=100)
    items = list(open_recording(recording))
    assert next(number for number, item in enumerate(items) if isinstance(item, RecalledLine)) > 30
    assert len(of(log.lines, "run")) == 2
    assert not of(log.lines, "reference") and not of(log.lines, "advice")
    assert replayed(recording) == log.lines


def test_where_nothing_was_ever_known_nothing_is_recorded(tmp_path: Path) -> None:
    recording = tmp_path / "first.cwrec"
    log, _ = driven(datagrams(rows(2, 9)[:300]), Kept({}), recording)
    assert not [item for item in open_recording(recording) if isinstance(item, RecalledLine)]
    assert replayed(recording) == log.lines


def test_the_memory_has_each_sample_before_its_events() -> None:
    kept = Kept({})
    driven(datagrams(rows(2, 9)[:100]), kept)
    places = [number for number, one in enumerate(kept.told) if isinstance(one, Moment)]
    samples = [number for number, one in enumerate(kept.told) if isinstance(one, Sample)]
    assert len(samples) == 100 == len(places)
    assert all(before < behind for before, behind in zip(samples, places, strict=True))
    assert all(before > behind for before, behind in zip(samples[1:], places, strict=False))


def test_a_damaged_state_is_told_and_gone_without(tmp_path: Path) -> None:
    recording = tmp_path / "damaged.cwrec"
    damaged = replace(yesterday(), planner={"version": 1})
    log, told = driven(datagrams(rows(2, 9)[:200]), Kept({(DRIVER, CAR, TRACK): damaged}), recording)
    assert told.count("what was practised cannot be read") == 1
    assert not of(log.lines, "reference")
    assert replayed(recording) == log.lines


def test_a_damaged_line_is_told_and_the_replay_goes_on(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    recording = tmp_path / "odd.cwrec"
    start = fresh(Source(), None, ())
    with RecordingWriter(recording, start.head()) as writer:
        for number, row in enumerate(rows(2, 9)[:100]):
            writer.datagram(BEGAN + number / RATE, json.dumps(row).encode())
            if number == 50:
                writer.recalled(BEGAN + number / RATE, {"known": {"reference": "\x1b[2J"}})
    assert of(replayed(recording), "run")
    told = capsys.readouterr().err
    assert "what was remembered is left out" in told and "\x1b" not in told


# who follows


class Given:
    """What a session gives to those who follow, as they read it."""

    has_begun = False

    def __init__(self) -> None:
        self.items: list[Heard] = []

    def datagram(self, received: float, data: bytes) -> None:
        self.items.append(Datagram(received, data))

    def recalled(self, received: float, recalled: dict[str, Any]) -> None:
        self.items.append(RecalledLine(received, json.loads(json.dumps(recalled))))

    def silence(self, received: float) -> None:
        raise AssertionError("the stream was never silent")

    def end(self, received: float) -> None:
        self.ends = received


class Linked:
    """A link that gives these, a hundred at a time."""

    is_other, is_connected, name = False, True, "desk"

    def __init__(self, items: list[Heard]) -> None:
        self.left, self.now, self.drops = list(items), self, Counts("line dropped")

    def receive(self, timeout: float, stop: Stop) -> list[Heard]:
        items, self.left = self.left[:100], self.left[100:]
        stop.asked = not self.left
        return items


def followed(items: list[Heard], recording: Path | None = None) -> Log:
    log, start = Log(), fresh(Source(), None, ())
    console, clock = Console(io.StringIO()), TheirClock()
    recorder = None if recording is None else RecordingWriter(recording, start.head())
    link: Any = Linked(items)
    with ended(Session(start, [log], recorder, console), clock) as session:
        FollowLoop(link, clock, Intake(GenericFeed(), console.say), session, console).run(Stop())
    return log


def test_who_follows_hears_the_same_and_who_joins_late_goes_by_the_same_lap(tmp_path: Path) -> None:
    given: Any = Given()
    log, _ = driven(datagrams(rows(2, 9, (1,))[:950]), Kept(knowing().known), sharing=given)
    assert [line for line in followed(given.items).lines if line["type"] != "run"] == [
        line for line in log.lines if line["type"] != "run"
    ]
    (recalled,) = [item for item in given.items if isinstance(item, RecalledLine)]
    recording = tmp_path / "late.cwrec"
    late = followed([recalled, *given.items[600:]], recording)
    assert [line["origin"] for line in of(late.lines, "reference")] == [ORIGIN]
    assert next(type(item) for item in open_recording(recording)) is RecalledLine
    assert replayed(recording) == late.lines


# recordings


def test_a_lap_cut_out_of_the_middle_replays_by_itself(today: tuple[Path, Log], tmp_path: Path) -> None:
    recording, log = today
    to = tmp_path / "lap2.cwrec"
    assert main(["cut", str(recording), str(to), "--laps", "2"]) == 0
    items = list(open_recording(to))
    assert isinstance(items[0], RecalledLine) and sum(isinstance(item, RecalledLine) for item in items) == 1
    again = replayed(to)
    assert [line["origin"] for line in of(again, "reference")] == [ORIGIN]

    def second(lines: list[dict[str, Any]]) -> list[tuple[Any, ...]]:
        return [(line["fault"], line["corner"], line["cost"]) for line in of(lines, "fault") if line["lap"] == 2]

    assert second(again) == second(log.lines) and second(again)


def test_a_replay_from_the_middle_is_the_end_of_the_whole(today: tuple[Path, Log]) -> None:
    recording, log = today
    lines = replayed(recording, "--from-lap", "2")
    assert [line["origin"] for line in of(lines, "reference")] == [ORIGIN]
    assert of(lines, "fault") == [line for line in of(log.lines, "fault") if line in of(lines, "fault")]
    assert of(lines, "cue")[-1] == of(log.lines, "cue")[-1]


def test_two_playbooks_go_on_from_the_same_day(today: tuple[Path, Log]) -> None:
    """Each column has what a replay of its own says: the same, as the playbooks are."""
    recording, log = today
    options = CompareOptions(file=recording, playbook=("default", "recorded"))
    _, columns = heard_under(options, Console(io.StringIO()), Stop())
    cues = [(line["t"], line["text"], line["spoken"]) for line in of(log.lines, "cue")]
    assert cues
    for column in columns:
        assert [(heard.cue.t, heard.cue.text, heard.cue.spoken) for heard in column.heard] == cues


def test_what_looks_into_a_recording_reads_over_it(today: tuple[Path, Log], capsys: pytest.CaptureFixture[str]) -> None:
    recording, log = today
    assert main(["inspect", str(recording)]) == 0
    text = capsys.readouterr().out
    assert f"{len(rows(2, 9, (1, 2))):,} datagrams" in text and "damaged" not in text
    for line in of(log.lines, "lap"):
        assert lap_time(line["time"]) in text


# as plain values


def test_what_is_recalled_reads_back_as_it_was() -> None:
    for one in (yesterday(), Recalled(), Recalled(stage="clean", of=(DRIVER, None, TRACK))):
        assert Recalled.from_json(json.loads(json.dumps(one.to_json()))).to_json() == one.to_json()
    assert Recalled().is_empty and not yesterday().is_empty


@pytest.mark.parametrize(
    "change",
    [
        {"known": {}},
        {"known": []},
        {"planner": {}},
        {"planner": [1]},
        {"stage": "dance"},
        {"stage": 3},
        {"of": None},
        {"of": ["a", "b"]},
        {"of": ["a", "b", 3]},
    ],
)
def test_what_was_not_written_so_is_refused_in_one_line(change: dict[str, Any]) -> None:
    with pytest.raises(FormatError) as caught:
        Recalled.from_json({**Recalled().to_json(), **change})
    assert "\n" not in str(caught.value)
    for nothing in (None, [], 3, {}):
        with pytest.raises(FormatError):
            Recalled.from_json(nothing)
