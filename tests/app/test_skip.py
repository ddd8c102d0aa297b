"""A replay that begins later: the same events from there on, and nothing that lies before is seen or heard."""

from __future__ import annotations

import gzip
import io
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from make_stream import Drive, Mistake, make_drive, test_loop

from coach.app import replay as replay_module
from coach.app.cli import main
from coach.app.config import ReplayOptions
from coach.app.console import Console
from coach.app.skip import LEAD
from coach.app.source import Source
from coach.app.stage import Stage
from coach.app.start import fresh
from coach.app.stop import Stop
from coach.vocabulary.events import Corners, Cue, Event, Moment, Reference, Run
from feeds.recording import RecordingWriter

RATE = 20.0
KNOWN = ("run", "reference", "corners", "detector")


def log_of(path: Path, log: Path, *more: str) -> list[dict[str, Any]]:
    assert main(["replay", "--fast", "--events", str(log), *more, str(path)]) == 0
    return [json.loads(line) for line in log.read_text().splitlines()]


def recorded(rows: list[dict[str, Any]], path: Path, reference: Path) -> Path:
    """As a live session would have recorded it: measured from the start on, so that its log has ten deltas a second."""
    with RecordingWriter(path, fresh(Source(), str(reference), ()).head()) as writer:
        for row in rows:
            writer.datagram(1000.0 + row["t"], json.dumps(row).encode())
    return path


@pytest.fixture(scope="module")
def drive() -> Drive:
    """Three laps with a mistake in the second and one in the third; lap 0 before, lap 4 begun behind them."""
    mistakes = [Mistake("late_throttle", 2, 1, 0.5), Mistake("early_downshift", 3, 4, 400.0)]
    return make_drive(test_loop(), laps=3, rate=RATE, mistakes=mistakes)


@pytest.fixture(scope="module")
def recording(drive: Drive, practice_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Measured against the best lap of the practice run."""
    return recorded(drive.rows, tmp_path_factory.mktemp("skip") / "practice.cwrec", practice_file)


@pytest.fixture(scope="module")
def zipped(drive: Drive, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Its datagrams alone: the map of the circuit is known when the first lap is over."""
    path = tmp_path_factory.mktemp("skip") / "practice.jsonl.gz"
    path.write_bytes(gzip.compress(b"".join(data + b"\n" for data in drive.datagrams())))
    return path


@pytest.fixture(scope="module")
def whole(recording: Path, tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, Any]]:
    return log_of(recording, tmp_path_factory.mktemp("log") / "whole.jsonl")


def spoken(events: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [event for event in events if event["type"] == "cue" and event["spoken"]]


def tail_of(part: list[dict[str, Any]], whole: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The events from the start on: `part` is a few known facts and then the end of `whole`."""
    for known in range(len(part)):
        if part[known:] == whole[len(whole) - len(part) + known :]:
            assert [event["type"] for event in part[:known] if event["type"] not in KNOWN] == []
            assert part[:known] == [event for event in whole if event in part[:known]]
            assert part[0]["type"] == "run"
            return part[known:]
    raise AssertionError("no end of the whole log")


def test_from_a_lap_the_log_is_the_end_of_the_whole_one(
    recording: Path, whole: list[dict[str, Any]], drive: Drive, tmp_path: Path
) -> None:
    tail = tail_of(log_of(recording, tmp_path / "part.jsonl", "--from-lap", "2"), whole)
    assert 0 < len(tail) < len(whole)
    assert tail[0]["t"] == pytest.approx(drive.laps[1].crossing, abs=0.15), "the deltas come ten times a second"
    assert spoken(tail) == spoken(whole), "all of them are in laps 2 and 3"


def test_from_a_lap_of_datagrams_alone(zipped: Path, tmp_path: Path) -> None:
    whole = log_of(zipped, tmp_path / "whole.jsonl")
    part = log_of(zipped, tmp_path / "part.jsonl", "--from-lap", "4")
    tail = tail_of(part, whole)
    assert {event["lap"] for event in tail if event["type"] == "delta"} == {4}
    assert {event["type"] for event in part[: -len(tail)]} >= {"run", "reference", "corners"}


@pytest.mark.parametrize(("number", "lead"), [(1, 3.5), (2, 0.0), (2, LEAD)])
def test_before_a_cue(
    number: int, lead: float, recording: Path, whole: list[dict[str, Any]], drive: Drive, tmp_path: Path
) -> None:
    more = [] if lead == LEAD else ["--lead", str(lead)]
    tail = tail_of(log_of(recording, tmp_path / "part.jsonl", "--before-cue", str(number), *more), whole)
    assert spoken(tail) == spoken(whole)[number - 1 :]
    begins = spoken(whole)[number - 1]["t"] - lead
    assert begins - 1e-6 <= tail[0]["t"] <= begins + 0.2
    before = whole[len(whole) - len(tail) - 1]
    assert before["t"] < begins + 1.0 / RATE, "what lies before the start is no later than the sample before it"


@pytest.mark.parametrize("lap", [1, 3])
def test_before_a_corner_of_a_lap(
    lap: int, recording: Path, whole: list[dict[str, Any]], drive: Drive, tmp_path: Path
) -> None:
    corner, lead = 3, 4.0
    brake = next(event for event in whole if event["type"] == "corners")["corners"][corner - 1]["brake"]
    rows = [row for row in drive.rows if row["lap"] == lap and row["lap_distance"] >= brake]
    more = ["--from-lap", str(lap), "--from-corner", str(corner), "--lead", str(lead)]
    tail = tail_of(log_of(recording, tmp_path / "part.jsonl", *more), whole)
    assert tail[0]["t"] == pytest.approx(rows[0]["t"] - lead, abs=0.15)


def test_a_corner_alone_is_its_first_pass_that_was_driven_up_to(
    drive: Drive, practice_file: Path, whole: list[dict[str, Any]], tmp_path: Path
) -> None:
    """The recording begins inside corner 2 of lap 2: its pass of lap 3 is the first with a brake point ahead."""
    mark = next(event for event in whole if event["type"] == "corners")["corners"][1]
    inside = (mark["brake"] + 2 * mark["apex"]) / 3
    rows = [row for row in drive.rows if (row["lap"], row["lap_distance"]) >= (2, inside)]
    cut = recorded(rows, tmp_path / "cut.cwrec", practice_file)
    all_of_it = log_of(cut, tmp_path / "whole.jsonl")
    tail = tail_of(log_of(cut, tmp_path / "part.jsonl", "--from-corner", "2", "--lead", "0"), all_of_it)
    then = next(row["t"] for row in rows if row["lap"] == 3 and row["lap_distance"] >= mark["brake"])
    assert tail[0]["t"] == pytest.approx(then, abs=0.15)
    asked_for = log_of(cut, tmp_path / "asked.jsonl", "--from-lap", "2", "--from-corner", "2", "--lead", "0.1")
    assert len(tail) < len(tail_of(asked_for, all_of_it)), "of the lap that was asked for, the pass that there is"


def test_a_lap_that_comes_twice_is_its_first_time(drive: Drive, practice_file: Path, tmp_path: Path) -> None:
    """Back to the line half way through lap 2: two laps have its number."""
    lap = [row for row in drive.rows if row["lap"] == 2]
    first = [row for row in drive.rows if row["lap"] < 2] + lap[: len(lap) // 2]
    again = [row for row in drive.rows if row["lap"] >= 2]
    shift = first[-1]["t"] + 5.0 - again[0]["t"]
    rows = first + [row | {"t": row["t"] + shift, "lap": row["lap"] - 1} for row in again]
    path = recorded(rows, tmp_path / "reset.cwrec", practice_file)
    whole = log_of(path, tmp_path / "whole.jsonl")
    assert any(event["type"] == "stream" and event["what"] in ("reset", "rewind") for event in whole)
    tail = tail_of(log_of(path, tmp_path / "part.jsonl", "--from-lap", "2"), whole)
    assert tail[0]["t"] == pytest.approx(next(row["t"] for row in rows if row["lap"] == 2), abs=0.15)


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (
            ["--before-cue", "9"],
            "--before-cue: there is no cue 9 in FILE, SAID cues are said in it: give a number up to SAID",
        ),
        (["--from-lap", "9"], "--from-lap: there is no lap 9 in FILE: it has laps 0 to 4"),
        (["--from-lap", "9", "--from-corner", "1"], "--from-lap: there is no lap 9 in FILE: it has laps 0 to 4"),
        (["--from-corner", "40"], "--from-corner: there is no corner 40 in FILE: it has corners 1 to 7"),
        (["--from-lap", "4", "--from-corner", "7"], "--from-corner: corner 7 is not driven in lap 4 of FILE: choose"),
        (["--before-cue", "0"], "--before-cue: needs a cue's number, counted from 1, not '0'"),
        (["--from-lap", "two"], "--from-lap: needs a lap's number, 0 or more, not 'two'"),
        (["--from-corner", "1", "--lead", "-1"], "--lead: needs seconds, 0 or more, not '-1'"),
        (["--from-corner", "1", "--lead", "inf"], "--lead: needs seconds, 0 or more, not 'inf'"),
        (["--before-cue", "1", "--from-lap", "2"], "--before-cue and --from-lap are two places to begin at: leave"),
        (["--before-cue", "1", "--from-corner", "2"], "--before-cue and --from-corner are two places to begin at: "),
        (["--lead", "3"], "--lead: needs a corner or a cue to come before: give --from-corner or --before-cue as well"),
    ],
)
def test_a_wrong_place_is_one_line_that_says_what_there_is(
    more: list[str],
    told: str,
    recording: Path,
    whole: list[dict[str, Any]],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    told = told.replace("FILE", str(recording)).replace("SAID", str(len(spoken(whole))))
    capsys.readouterr()
    assert main(["replay", "--fast", "--events", str(tmp_path / "log"), *more, str(recording)]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err.count("\n") == 1
    assert err.startswith(f"cornerword: {told}")
    assert not (tmp_path / "log").exists()


def test_fast_without_a_log_has_nothing_to_begin(recording: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["replay", "--fast", "--from-lap", "2", str(recording)]) == 2
    assert capsys.readouterr().err.startswith("cornerword: --fast: nothing is seen or heard to begin later")


class Heard(list[Event]):
    """A sink that keeps what it hears, and a window that is gone at once."""

    def take(self, event: Event) -> None:
        self.append(event)

    def run(self, until: Callable[[], bool]) -> None:
        return None


@pytest.fixture
def staged(monkeypatch: pytest.MonkeyPatch) -> tuple[Heard, Heard, list[float]]:
    """Voice and window, and how long each step was waited for."""
    voice, window, waits = Heard(), Heard(), list[float]()

    @contextmanager
    def stage(*_: object) -> Iterator[Stage]:
        yield Stage(sinks=[voice], watchers=[window], window=window)

    def paced(items: Iterator[Any], sleep: object) -> Iterator[Any]:
        for item in items:
            waits.append(item.received)
            yield item

    monkeypatch.setattr(replay_module, "staged", stage)
    monkeypatch.setattr(replay_module, "paced", paced)
    return voice, window, waits


def test_the_voice_and_the_pace_begin_at_the_place_and_the_overlay_knows_all_that_was(
    recording: Path, drive: Drive, whole: list[dict[str, Any]], staged: tuple[Heard, Heard, list[float]]
) -> None:
    voice, window, waits = staged
    said = io.StringIO()
    text = replay_module.replay(ReplayOptions(file=recording, before_cue=2), Console(said), Stop())
    second, *later = spoken(whole)[1:]
    said_aloud = [event.text for event in voice if isinstance(event, Cue) and event.spoken]
    assert said_aloud == [second["text"], *(cue["text"] for cue in later)]
    assert [type(event) for event in voice[:3]] == [Run, Reference, Corners] or isinstance(voice[0], Run)
    assert waits[0] == pytest.approx(1000.0 + second["t"] - LEAD, abs=0.05)
    assert len(waits) < len(drive.rows)
    assert sum(isinstance(event, Moment) for event in window) == len(drive.rows)
    assert any(isinstance(event, Reference) for event in window)
    assert said.getvalue().count(f'"{second["text"]}"') == 1 and spoken(whole)[0]["text"] not in said.getvalue()
    assert "3 laps ended" in text, "the summary is of the whole recording"


def test_the_first_lap_begins_with_the_first_step(
    recording: Path, drive: Drive, whole: list[dict[str, Any]], staged: tuple[Heard, Heard, list[float]]
) -> None:
    voice, _, waits = staged
    replay_module.replay(ReplayOptions(file=recording, from_lap=0), Console(io.StringIO()), Stop())
    assert waits[0] == pytest.approx(1000.0 + drive.rows[0]["t"], abs=1e-6)
    assert sum(isinstance(event, Cue) and event.spoken for event in voice) == len(spoken(whole))


def test_the_search_can_be_stopped(recording: Path) -> None:
    stop = Stop()
    stop.asked = True
    with pytest.raises(KeyboardInterrupt):
        replay_module.replay(ReplayOptions(file=recording, before_cue=1), Console(io.StringIO()), stop)
