"""`compare`: each column is what a replay of its own with that playbook says; the text and the picture show it."""

from __future__ import annotations

import gzip
import io
import json
import os
import re
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
from make_stream import Drive
from shapely.geometry import LineString, Point, box  # type: ignore[import-untyped]

from coach.app import compare as compare_module
from coach.app.cli import main
from coach.app.compare import Driven, heard_under
from coach.app.config import CompareOptions
from coach.app.console import Console
from coach.app.sidebyside import Column, Heard, Stint, side_by_side
from coach.app.source import Source
from coach.app.start import fresh
from coach.app.stop import Stop
from coach.debrief.trackmap import FIRST, MARK
from coach.playbook.load import load
from coach.vocabulary.events import Cue, record
from feeds.recording import RecordingWriter
from tests.debrief.scenes import boxes, parsed, paths, texts

FIXTURES = Path(__file__).parents[2] / "replay_fixtures"
DRIVE = FIXTURES / "throttle" / "drive.jsonl.gz"
REFERENCE = FIXTURES / "steady" / "drive.jsonl.gz"
OWN = """
name = "Few & short"
talkativeness = "few"
[wordings.late_throttle]
say = ["Power sooner"]
short = "Power"
topic = "Late power"
"""
Found = tuple[Driven, tuple[Column, Column]]


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("playbook") / "few.toml"
    path.write_text(OWN)
    return path


@pytest.fixture(scope="module")
def picture(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("picture") / "lap.svg"


@pytest.fixture(scope="module")
def text(own: Path, picture: Path) -> str:
    """What the command prints for the demo case: the throttle fixture under the default and a playbook of our own."""
    with pytest.MonkeyPatch.context() as patch:
        out = io.StringIO()
        patch.setattr("sys.stdout", out)
        assert main(["compare", str(DRIVE), *REF, "--playbook", str(own), "--picture", str(picture)]) == 0
    return out.getvalue()


REF = ["--reference", str(REFERENCE)]


def cues_of_a_replay(file: Path, log: Path, *more: str) -> list[dict[str, Any]]:
    assert main(["replay", "--fast", "--events", str(log), *more, str(file)]) == 0
    return [line for line in map(json.loads, log.read_text().splitlines()) if line["type"] == "cue"]


@pytest.fixture(scope="module")
def replayed(own: Path, tmp_path_factory: pytest.TempPathFactory) -> list[list[dict[str, Any]]]:
    """The cues of two plain replays: of the default playbook, and of ours."""
    folder = tmp_path_factory.mktemp("logs")
    plain = cues_of_a_replay(DRIVE, folder / "default.jsonl", *REF)
    return [plain, cues_of_a_replay(DRIVE, folder / "own.jsonl", *REF, "--playbook", str(own))]


def heard(file: Path, *playbooks: str, reference: Path | None = REFERENCE) -> Found:
    named = None if reference is None else str(reference)
    options = CompareOptions(file=file, playbook=playbooks, reference=named)
    return heard_under(options, Console(io.StringIO()), Stop())


def test_each_column_is_what_a_replay_with_that_playbook_says(own: Path, replayed: list[list[dict[str, Any]]]) -> None:
    _, columns = heard(DRIVE, "default", str(own))
    found = [[record(one.cue) for one in column.heard] for column in columns]
    assert found == replayed
    assert found[0] != found[1] and all(any(cue["spoken"] for cue in cues) for cues in found)


def test_the_order_of_the_playbooks_is_the_order_of_the_columns(
    own: Path, replayed: list[list[dict[str, Any]]]
) -> None:
    """And so neither planner hears the other."""
    _, columns = heard(DRIVE, str(own), "default")
    assert [[record(one.cue) for one in column.heard] for column in columns] == replayed[::-1]
    assert [column.name for column in columns] == ["A Few & short", f"B {load().name}"]


def test_a_recording_and_what_its_head_holds(practice: Drive, practice_file: Path, own: Path, tmp_path: Path) -> None:
    """A drive that was coached by our playbook: "recorded" is that one, and its focus holds for both."""
    path = tmp_path / "drive.cwrec"
    head = fresh(Source(), str(practice_file), ("late_throttle",), None, load(str(own))).head()
    with RecordingWriter(path, head) as writer:
        for row, data in zip(practice.rows, practice.datagrams(), strict=True):
            writer.datagram(1000.0 + row["t"], data)
    _, columns = heard(path, "recorded", "default", reference=None)
    found = [[record(one.cue) for one in column.heard] for column in columns]
    assert found[0] == cues_of_a_replay(path, tmp_path / "recorded.jsonl")
    assert {cue["text"] for cue in found[0] if cue["spoken"]} & {"Power sooner", "Power, turn one"}
    assert {cue["about"] for cues in found for cue in cues if cue["spoken"] and cue["about"]} == {"late_throttle"}


def test_the_text_shows_every_cue_with_its_number_time_and_place(
    text: str, replayed: list[list[dict[str, Any]]]
) -> None:
    rows = text.splitlines()
    assert max(map(len, rows)) <= 80 and not any(row != row.rstrip() for row in rows)
    said = [row for row in text.split("COUNTED")[0].split("LAP 0")[1].splitlines() if row[39:40] in ("|", "=", "~")]
    for column, cues in enumerate(replayed):
        cells = [row[:38] if column == 0 else row[41:] for row in said]
        shown = [match for cell in cells if (match := re.match(r" *(\d+) +(\d:\d\d\.\d) (T\d+|-) +(\S.*)", cell))]
        spoken = [cue for cue in cues if cue["spoken"]]
        assert [int(match[1]) for match in shown] == list(range(1, len(spoken) + 1))
        for match, cue in zip(shown, spoken, strict=True):
            assert match[3] == ("-" if cue["corner"] is None else f"T{cue['corner']}")
            assert cue["text"].startswith(match[4].rstrip())


def test_times_are_those_of_the_lap(text: str, replayed: list[list[dict[str, Any]]]) -> None:
    """Against the datagrams, in which the lap's number changes at the line."""
    rows = [json.loads(row) for row in gzip.decompress(DRIVE.read_bytes()).splitlines()]
    for cue in (cue for cue in replayed[0] if cue["spoken"]):
        lap_time = cue["starts"] - next(row["t"] for row in rows if row["lap"] == cue["lap"])
        about = [
            f"{tenths // 600}:{tenths % 600 / 10:04.1f}" for tenths in (int(lap_time * 10) + d for d in (-1, 0, 1))
        ]
        assert any(f" {time} " in text for time in about)


def test_what_is_counted_is_what_the_replays_say(text: str, replayed: list[list[dict[str, Any]]]) -> None:
    counted = {row[:54].strip(): row[54:].split() for row in text.split("COUNTED")[1].splitlines()[1:]}
    spoken = [[cue for cue in cues if cue["spoken"]] for cues in replayed]
    assert counted["said"] == [str(len(cues)) for cues in spoken]
    assert counted["held back"] == [str(sum(not cue["spoken"] for cue in cues)) for cues in replayed]
    seconds = [sum(cue["ends"] - cue["starts"] for cue in cues) for cues in spoken]
    assert [float(one) for one in counted["seconds of speech"]] == pytest.approx(seconds, abs=0.051)
    for kind in {cue["kind"] for cues in spoken for cue in cues}:
        assert counted[kind] == [str(sum(cue["kind"] == kind for cue in cues)) for cues in spoken]
    for reason in {cue["why_not"] for cues in replayed for cue in cues if not cue["spoken"]}:
        assert counted[reason] == [str(sum(cue["why_not"] == reason for cue in cues)) for cues in replayed]


def cue(starts: float, text: str, corner: int | None = 1) -> Cue:
    return Cue(starts, 1, "correction", None, (), corner, text, True, starts, starts + 1.0, starts + 3.0, None)


def test_what_both_say_alike_is_marked_and_what_is_near_in_time_stands_side_by_side() -> None:
    left = [cue(100.0, "Brake later"), cue(110.0, "Throttle sooner"), cue(120.0, "Use the kerb"), cue(140.0, "Only A")]
    right = [cue(100.0, "Brake later"), cue(110.4, "Throttle sooner"), cue(120.0, "Use the road"), cue(130.0, "Only B")]
    stints = [Stint(1, 0, 90.0)]
    columns = [Column(name, [Heard(one, 0, 0, 5.0) for one in cues]) for name, cues in (("A x", left), ("B y", right))]
    block = side_by_side("a track, a car", stints, (columns[0], columns[1])).split("\n\n")[1].splitlines()
    assert block == [
        "LAP 1",
        "  1 0:10.0 T1  Brake later             =   1 0:10.0 T1  Brake later",
        "  2 0:20.0 T1  Throttle sooner         ~   2 0:20.4 T1  Throttle sooner",
        "  3 0:30.0 T1  Use the kerb            |   3 0:30.0 T1  Use the road",
        "                                       |   4 0:40.0 T1  Only B",
        "  4 0:50.0 T1  Only A                  |",
    ]


def test_a_lap_that_was_joined_on_the_way_has_distances_and_long_words_fold() -> None:
    one = Heard(cue(5.0, "Brake a car length later, at the second of the esses", None), 0, 0, 1234.4)
    block = side_by_side("t, c", [Stint(0, 0, None)], (Column("A", [one]), Column("B", []))).split("\n\n")[1]
    assert block.splitlines() == [
        "LAP 0",
        "  1  1234m -   Brake a car length      |",
        "               later, at the second of |",
        "               the esses               |",
    ]


def test_the_picture_shows_each_cue_where_it_sounded(
    text: str, picture: Path, replayed: list[list[dict[str, Any]]]
) -> None:
    """The share of the road's length at which each stroke begins and ends, against the datagrams' own distance."""
    root = parsed(picture.read_text(encoding="utf-8"))
    (road,) = paths(root, "road", "id")
    line = LineString(road)
    rows = [json.loads(row) for row in gzip.decompress(DRIVE.read_bytes()).splitlines()]
    for group, cues in zip(("left", "right"), replayed, strict=True):
        driven = []
        for one in (one for one in cues if one["spoken"]):
            sounding = [row for row in rows if one["starts"] <= row["t"] <= one["ends"]]
            driven.append([row["lap_distance"] / row["track_length"] for row in (sounding[0], sounding[-1])])
        strokes = paths(root, group)
        drawn = [[line.project(Point(end)) / line.length for end in (one[0], one[-1])] for one in strokes]
        assert len(drawn) == len(driven)
        for one, other in zip(sorted(drawn), sorted(driven), strict=True):
            assert one == pytest.approx(other, abs=0.005)
        for stroke in strokes:
            away = [line.distance(Point(at)) for at in stroke]
            assert min(away) > FIRST - 3.0 and max(away) < FIRST + 40.0


def test_the_pictures_labels_can_be_read(picture: Path, text: str) -> None:
    root = parsed(picture.read_text(encoding="utf-8"))
    _, _, width, height = (float(number) for number in root.get("viewBox", "").split())
    labels = boxes(root)
    assert labels and all(one[0] >= 0 and one[1] >= 0 and one[2] <= width and one[3] <= height for one in labels)
    assert not any(box(*one).intersects(box(*other)) for one, other in combinations(labels, 2))
    assert f"A {load().name} | B Few & short" in texts(root)


def test_a_picture_of_one_lap_has_that_laps_cues_alone(
    own: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], replayed: list[list[dict[str, Any]]]
) -> None:
    out = tmp_path / "lap.svg"
    out.write_text(MARK + "an older one")
    given = ["compare", str(DRIVE), *REF, "--playbook", str(own), "--picture", str(out)]
    assert main([*given, "--lap", "2"]) == 0
    capsys.readouterr()
    root = parsed(out.read_text(encoding="utf-8"))
    of_lap = [sum(one["spoken"] and one["lap"] == 2 for one in cues) for cues in replayed]
    assert [len(paths(root, group)) for group in ("left", "right")] == of_lap and sum(of_lap) > 0
    assert main([*given, "--lap", "7"]) == 2
    assert capsys.readouterr().err == f"cornerword: --lap: there is no lap 7 in {DRIVE}: it has 0, 1, 2, 3\n"


def test_without_positions_the_lap_is_a_ribbon_and_without_any_place_there_is_none(
    practice: Drive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, left_out in (("ribbon", ("x", "y")), ("nowhere", ("x", "y", "lap_distance", "track_length"))):
        rows = [{key: row[key] for key in row if key not in left_out} for row in practice.rows[:2500]]
        (tmp_path / f"{name}.jsonl").write_text("".join(json.dumps(row) + "\n" for row in rows))
    out = tmp_path / "out.svg"
    given = ["--playbook", "default", "--picture", str(out)]
    assert main(["compare", str(tmp_path / "ribbon.jsonl"), *given]) == 0
    (road,) = paths(parsed(out.read_text(encoding="utf-8")), "road", "id")
    assert len({y for _, y in road}) == 1 and road[-1][0] - road[0][0] > 1000.0
    capsys.readouterr()
    assert main(["compare", str(tmp_path / "nowhere.jsonl"), *given]) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1 and "has neither x and y nor a distance to draw" in err


def test_two_playbooks_of_one_name_are_told_apart_by_their_files(own: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    other.write_text(OWN.replace("few", "many"))
    short = tmp_path / "short.jsonl"
    short.write_text("".join(json.dumps({"t": n / 10}) + "\n" for n in range(50)))
    _, columns = heard(short, str(own), str(other), reference=None)
    assert [column.name for column in columns] == ["A Few & short (few.toml)", "B Few & short (other.toml)"]


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ([], "--playbook: none named: name the two to compare, or one beside the default"),
        (["default", "default", "default"], "--playbook: 3 named: name the two to compare, or one beside the default"),
        (["gone.toml"], "playbook gone.toml: cannot be read (No such file or directory); name a TOML file"),
        (["recorded"], f"--playbook: {DRIVE} has no head with a playbook in it: name a file, or default"),
    ],
)
def test_a_wrong_playbook_is_one_line(more: list[str], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", str(DRIVE), *(part for name in more for part in ("--playbook", name))]) == 2
    out, err = capsys.readouterr()
    assert (out, err) == ("", f"cornerword: {told}\n")


def test_a_playbook_with_a_mistake_is_one_line_with_its_key(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wrong = tmp_path / "wrong.toml"
    wrong.write_text("[talk]\ncorrections = -1\n")
    assert main(["compare", str(DRIVE), "--playbook", str(wrong)]) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1 and "corrections" in err and "wrong.toml" in err


def test_a_picture_takes_the_place_of_nothing_else(
    tmp_path: Path, own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = tmp_path / "notes.svg"
    kept.write_text("<svg/>")
    given = ["compare", str(DRIVE), "--playbook", str(own)]
    assert main([*given, "--picture", str(kept)]) == 2
    assert capsys.readouterr().err == (
        f"cornerword: --picture: {kept} exists and is no picture of ours: name another file\n"
    )
    assert kept.read_text() == "<svg/>"
    assert main([*given, "--picture", str(own)]) == 2
    assert "--picture and --playbook are the same file" in capsys.readouterr().err
    assert main([*given, "--lap", "2"]) == 2
    assert capsys.readouterr().err.startswith("cornerword: --lap: chooses the lap of the picture: ")
    assert main([*given, "--picture", str(tmp_path)]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_it_can_be_stopped(own: Path) -> None:
    stop = Stop()
    stop.asked = True
    with pytest.raises(KeyboardInterrupt):
        heard_under(CompareOptions(file=DRIVE, playbook=(str(own),)), Console(io.StringIO()), stop)


@pytest.mark.parametrize("name", ["-", "nowhere/lap.svg", "pipe.svg"])
def test_a_picture_that_cannot_be_is_refused_before_any_work(
    name: str, practice_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    if name == "pipe.svg":
        os.mkfifo(name)
    monkeypatch.setattr(compare_module, "heard_under", lambda *_: pytest.fail("it began"))
    assert main(["compare", str(practice_file), "--playbook", "default", "--picture", name]) == 2
    assert capsys.readouterr().err.startswith("cornerword: --picture: ")
    assert not (tmp_path / "-").exists()
