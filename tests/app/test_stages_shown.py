"""What terminal and summary tell at a stage that hides lap times; and where the stage is from."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

import pytest

from coach.app.cli import main
from coach.app.console import Console, Notices, Staged
from coach.app.line import Line
from coach.app.source import Source
from coach.app.start import fresh, from_head
from coach.app.summary import Summary
from coach.playbook.load import load, read
from coach.vocabulary.errors import FormatError
from coach.vocabulary.events import Advice, Event, Fault, Lap, Run, Stage
from coach.vocabulary.laptime import lap_time
from coach.vocabulary.stages import CLEAN, PACE, STAGES
from feeds.generic import GenericFeed
from tests.app.test_summary import SESSION

TIMES = re.compile(r"\d:\d\d\.\d|[+-]\d+\.\d\d|\d\.\d+ s\b|cost s|SECONDS")
"""A lap time, a delta, seconds, or a heading of them."""
STAGE = Stage(0.0, 0, CLEAN)


TOLD = "stage clean: clean laps in a row, and every mark hit: lap times are hidden"


def lap(number: int, clean: bool = True, why_not: tuple[str, ...] = ()) -> Lap:
    return Lap(60.0 * number, number, 61.2345, None, clean, why_not, 0.412, 60.8225)


def console(*events: Event) -> list[str]:
    out = io.StringIO()
    shown = Console(out)
    notices = Notices(shown)
    staged = Staged(shown, notices)
    for event in events:
        staged.take(event)
        if event.logged:
            shown.take(event)
            notices.take(event)
    return out.getvalue().splitlines()


def test_the_terminal_tells_laps_in_a_row_instead_of_times() -> None:
    assert console(lap(1)) == ["lap 1  1:01.234  +0.412  clean"]
    told = console(STAGE, lap(1), lap(2), lap(3, False, ("off_track",)), lap(4), lap(5, False, ("in_lap",)), lap(6))
    assert told == [
        TOLD,
        "lap 1  clean, 1 in a row",
        "lap 2  clean, 2 in a row",
        "lap 3  not clean: off track, 0 in a row",
        "lap 4  clean, 1 in a row",
        "lap 5  not clean: in lap, 1 in a row",
        "lap 6  clean, 2 in a row",
    ]


def test_a_row_is_counted_at_every_stage_and_ends_with_an_incident_and_another_driver() -> None:
    assert console(lap(1), lap(2), STAGE, lap(3))[-1] == "lap 3  clean, 3 in a row"
    assert console(STAGE, lap(1), Fault(70.0, 2, "spin", 1, 100.0), lap(2))[-1] == "lap 2  clean, 1 in a row"
    run = Run(70.0, 0, "0", "generic", "loop", "car", None, "en-us-175")
    assert console(STAGE, lap(1), run, lap(1))[-1] == "lap 1  clean, 1 in a row"
    back = console(STAGE, STAGE, Stage(1.0, 0, PACE), lap(1))
    assert back == [TOLD, "stage pace: the seconds: what costs most, one topic at a time", console(lap(1))[0]]


def test_how_much_quicker_the_reference_is_is_not_told_either() -> None:
    gap = Advice(60.0, 1, "practice", "the reference is 4 % quicker", {"gap": 0.04})
    assert console(gap) == ["the reference is 4 % quicker"]
    assert console(STAGE, gap) == [TOLD]


def told(*events: Event) -> str:
    summary = Summary()
    for event in events:
        summary.take(event)
    return summary.text()


def test_the_summary_of_clean_holds_no_time_but_laps_in_a_row_and_what_is_lacking() -> None:
    assert TIMES.search(told(*SESSION))
    text, _, things = told(*SESSION, STAGE).partition("\nNEXT TIME\n")
    assert not TIMES.search(text), TIMES.search(text)
    assert re.search(r"\d s a lap", things), "what each thing is worth is told at every stage"
    assert "4 laps ended, 2 clean, most in a row 2\n" in text
    assert "reference: lap 2 of this session\n" in text
    assert "STAGE\n  clean: clean laps in a row, and every mark hit: lap times are hidden\n" in text
    assert "  pace is not earned yet\n   - not yet: 2 clean laps in a row, 5 are needed\n" in text
    assert all(len(line) <= 80 for line in text.splitlines())
    for event in SESSION:
        for value in vars_of(event):
            assert lap_time(value) not in text


def vars_of(event: Event) -> list[float]:
    names = ("time", "source_time", "reference_time", "delta")
    values = [getattr(event, name, None) for name in names]
    return [value for value in values if isinstance(value, float)]


def test_a_drive_that_went_on_at_another_stage_keeps_hidden_what_was_hidden() -> None:
    """Another car is another session, which begins at pace again."""
    text, _, _ = told(*SESSION, STAGE, lap(3), Stage(0.0, 0, PACE)).partition("\nNEXT TIME\n")
    assert not TIMES.search(text), TIMES.search(text)


def test_other_stages_show_the_stage_and_times_as_ever() -> None:
    for stage in STAGES:
        text = told(*SESSION, Stage(0.0, 0, stage))
        assert ("STAGE" in text) == (stage != PACE)
        assert bool(TIMES.search(before_things(text))) == (stage != CLEAN)


def before_things(text: str) -> str:
    """A summary without its last block, in which each thing stands with the seconds a lap that it is worth."""
    return text.partition("\nNEXT TIME\n")[0]


def test_a_whole_drive_in_clean_tells_no_time_anywhere(practice_file: Path) -> None:
    """Console, notices, cues and summary of three laps through engine and planner; the log has its times all along."""
    start = fresh(Source(), str(practice_file), ()).at_stage(CLEAN)
    out, summary, log = io.StringIO(), Summary(), Log()
    shown = Console(out)
    notices = Notices(shown)
    line = Line(start.engine, start.planner, [shown, notices, log], [summary, Staged(shown, notices)])
    feed = GenericFeed()
    for row in practice_file.read_bytes().splitlines():
        sample = feed.decode(row)
        line.push(sample, sample.t)
    line.finish()
    assert len(log.times) >= 2
    for text in (out.getvalue(), before_things(summary.text())):
        assert not TIMES.search(text), TIMES.search(text)
        for time in log.times:
            assert lap_time(time)[:-2] not in text
    assert "in a row" in out.getvalue()


class Log:
    """Keeps the laps' times."""

    def __init__(self) -> None:
        self.times: list[float] = []

    def take(self, event: Event) -> None:
        if isinstance(event, Lap) and event.time is not None:
            self.times.append(event.time)


# where the stage is from


def test_the_stage_is_in_a_recordings_head_and_the_command_line_goes_before_it() -> None:
    head = json.loads(json.dumps(fresh(Source(), None, ()).at_stage(CLEAN).head()))
    again = from_head(head, None, ())
    assert again.planner.stage == CLEAN
    assert again.at_stage(None).planner.stage == CLEAN
    assert again.at_stage(PACE).planner.stage == PACE
    head["planner"].pop("stage")
    assert from_head(head, None, ()).planner.stage is None


def test_a_head_with_a_stage_that_is_none_is_one_line() -> None:
    head = json.loads(json.dumps(fresh(Source(), None, ()).head()))
    head["planner"]["stage"] = "sprint"
    with pytest.raises(FormatError, match=r"planner\.stage: none is called 'sprint'"):
        from_head(head, None, ())
    book = load().to_json() | {"stage": "sprint"}
    with pytest.raises(FormatError, match=r"playbook\.stage: none is called 'sprint': choose from learn, clean"):
        read(json.loads(json.dumps(book)))


def test_replay_at_a_stage(practice_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    logs = {}
    for stage in (CLEAN, PACE):
        log = tmp_path / f"{stage}.jsonl"
        assert main(["replay", "--fast", "--stage", stage, "--events", str(log), str(practice_file)]) == 0
        text = before_things(capsys.readouterr().out)
        assert bool(TIMES.search(text)) == (stage == PACE)
        logs[stage] = [line for line in log.read_text().splitlines() if '"type":"lap"' in line or '"loss"' in line]
    assert logs[CLEAN] == logs[PACE]
    assert logs[CLEAN]


def test_a_playbook_may_name_the_stage(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('stage = "clean"\n')
    book = load(str(own))
    assert book.stage == CLEAN
    assert read(json.loads(json.dumps(book.to_json()))) == book
    assert load().stage is None
    own.write_text('stage = "sprint"\n')
    with pytest.raises(FormatError) as caught:
        load(str(own))
    assert "stage" in str(caught.value)
    assert "\n" not in str(caught.value)
