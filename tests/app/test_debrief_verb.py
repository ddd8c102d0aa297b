"""`debrief`, `progress` and `pupils` as commands: from memory and recording, pages, pictures, what goes wrong.

The drives are of the invented circuit; the PNGs are read by Pillow, the pages' text by the standard library's parser.
"""

from __future__ import annotations

import gzip
import html.parser
import os
import pty
import resource
import sys
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from make_stream import Drive
from PIL import Image

from coach.app import debrief as debrief_module
from coach.app.cli import main
from coach.app.config import DebriefOptions, ProgressOptions, PupilsOptions, checked
from coach.app.console import Console
from coach.app.kept import chosen
from coach.app.pagefiles import write_page
from coach.app.progress import progress
from coach.app.pupils import pupils
from coach.app.telling.numbers import size_of
from coach.review.model import KeptLap
from coach.store.memory import Memory
from feeds.recording import open_recording
from tests.app.recorded import capture, layout_file, recorded
from tests.app.test_debrief_bar import read_all
from tests.app.test_recordings_stopped import After
from tests.store.keptdrive import BEGAN, DAY, keep, samples_of

HOSTILE = "<script>alert(1)</script>\x1b[2J\u2028&'\""


@pytest.fixture(scope="module")
def memory(practice: Drive, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two days of Ann, each with the practice drive."""
    path = tmp_path_factory.mktemp("memory") / "ann.sqlite"
    samples = samples_of(practice, driver="Ann")
    keep(path, samples)
    keep(path, samples, BEGAN + DAY)
    return path


@pytest.fixture(scope="module")
def hostile(practice: Drive, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A drive whose every label is an attack."""
    path = tmp_path_factory.mktemp("hostile") / "memory.sqlite"
    keep(path, samples_of(practice, driver=HOSTILE, car=HOSTILE, setup=HOSTILE, track=HOSTILE)[::2])
    with Memory(path) as opened:
        opened.note(1, HOSTILE)
    return path


class Told:
    """What commands print."""

    def __init__(self, capsys: pytest.CaptureFixture[str]) -> None:
        self._capsys = capsys
        self.err = ""

    def __call__(self, *arguments: str | Path, code: int = 0) -> str:
        assert main([str(argument) for argument in arguments]) == code
        captured = self._capsys.readouterr()
        self.err = captured.err
        assert code == 0 or captured.out == ""
        return captured.out


@pytest.fixture
def told(capsys: pytest.CaptureFixture[str]) -> Told:
    return Told(capsys)


def test_a_kept_session_and_a_recording_of_it_come_to_the_same(
    practice: Drive, memory: Path, tmp_path: Path, told: Told
) -> None:
    """But for what only a memory knows: who, when, and what was told the time before."""
    kept = told("debrief", "1", "--memory", memory)
    driven = told("debrief", recorded(practice.rows, tmp_path / "a.cwrec"))
    assert kept[kept.index("\nLAPS\n") :] == driven[driven.index("\nLAPS\n") :]
    assert "  1. throttle sooner in turn 1: " in kept and "HOW THE LAST ONES FARED" not in kept
    assert told.err == ""


def test_without_a_number_it_is_the_session_kept_last(memory: Path, told: Told) -> None:
    text = told("debrief", "--memory", memory)
    assert text == told("debrief", "2", "--memory", memory)
    assert text.startswith(f"loop-a, car-a, Ann\nsession 2, {datetime.fromtimestamp(BEGAN + DAY):%Y-%m-%d %H:%M}, ")
    assert "\nHOW THE LAST ONES FARED\n  same     throttle sooner in turn 1\n" in text


class Page(html.parser.HTMLParser):
    """Which tags a page has, and its text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.scripts = 0
        self.read = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.scripts += tag == "script"

    def handle_data(self, data: str) -> None:
        self.read += data


def test_a_page_is_a_new_file_and_its_size_is_told(memory: Path, tmp_path: Path, told: Told) -> None:
    file = tmp_path / "two.html"
    text = told("debrief", "--memory", memory, "--to", file)
    size = file.stat().st_size
    assert text.endswith(f"\n\nwritten: {file}, {size_of(size)}\n")
    assert "throttle sooner in turn 1" in Page(file.read_text(encoding="utf-8")).read.casefold()
    assert told("debrief", "--memory", memory, "--to", file, code=2) == ""
    assert told.err == f"cornerword: {file} exists already: choose another name, or move it away\n"
    assert file.stat().st_size == size


def test_without_the_extra_the_page_stands_still_and_the_pictures_are_svg(
    memory: Path, tmp_path: Path, told: Told, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "plotly", None)
    monkeypatch.setitem(sys.modules, "resvg_py", None)
    page, folder = tmp_path / "a.html", tmp_path / "pictures"
    text = told("debrief", "--memory", memory, "--to", page, "--pictures", folder)
    assert told.err == (
        "the charts of the page stand still: for those that zoom, pip install 'cornerword[debrief]'\n"
        "the pictures are SVG alone: for PNG, pip install 'cornerword[debrief]'\n"
    )
    assert page.stat().st_size < 1_000_000 and "<svg" in page.read_text(encoding="utf-8")
    names = sorted(path.name for path in folder.iterdir())
    assert names and all(name.endswith(".svg") for name in names)
    assert text.endswith(f"written: {folder}, {len(names)} pictures as SVG\n")


def test_pictures_are_svg_and_png_of_the_same(memory: Path, tmp_path: Path, told: Told) -> None:
    pytest.importorskip("resvg_py")
    folder = tmp_path / "pictures"
    told("debrief", "--memory", memory, "--pictures", folder)
    drawn = sorted(path for path in folder.iterdir() if path.suffix == ".svg")
    assert len(drawn) >= 3
    for path in drawn:
        wide, high = map(float, ElementTree.fromstring(path.read_text()).attrib["viewBox"].split()[2:])
        with Image.open(path.with_suffix(".png")) as picture:
            assert picture.size == (pytest.approx(2 * wide, abs=2), pytest.approx(2 * high, abs=2))
            assert len(set(picture.convert("L").resize((60, 60)).tobytes())) > 5, "something is drawn"
    told("debrief", "--memory", memory, "--pictures", folder, code=2)
    assert told.err == f"cornerword: {folder} exists already: choose another name, or move it away\n"


def wrong(memory: Path, tmp_path: Path) -> Iterator[tuple[list[str | Path], str]]:
    here = ["debrief", "--memory", memory]
    yield [*here, "77"], "there is no session 77 in the memory"
    yield ["debrief", "--memory", tmp_path / "none.sqlite"], f"there is no memory {tmp_path / 'none.sqlite'}"
    yield [*here, tmp_path / "none.cwrec"], f"there is no file {tmp_path / 'none.cwrec'}: check the name"
    yield [*here, "--reference", "grip"], "--reference: a kept session stands beside the reference that it had"
    yield [*here, "--port", "1"], "--port: a kept session is no stream to be read"
    yield [*here, "--to", tmp_path / "no" / "a.html"], f"cannot write {tmp_path / 'no' / 'a.html'}: there is no folder"
    yield [*here, "--pictures", tmp_path / "no" / "a"], f"cannot write {tmp_path / 'no' / 'a'}: there is no folder"
    yield (
        [*here, "--to", tmp_path / "a", "--pictures", tmp_path / "a"],
        f"--to and --pictures are the same name, {tmp_path / 'a'}: choose two",
    )
    yield ["progress", "--memory", memory, "--driver", "Nobody"], "the memory holds no such session with a lap"
    yield ["pupils", tmp_path / "none.sqlite"], "none of the files holds a session with a lap"
    yield ["pupils", memory, "--track", "Elsewhere"], "--track: nobody drove Elsewhere: in the files are loop-a"


def test_what_is_wrong_is_one_line_that_says_how_to_mend_it(memory: Path, tmp_path: Path, told: Told) -> None:
    for arguments, line in wrong(memory, tmp_path):
        told(*arguments, code=2)
        last = told.err.splitlines()[-1]
        assert last.startswith(f"cornerword: {line}"), (arguments, told.err)
        assert ":" in last.removeprefix("cornerword: ")
    assert list(tmp_path.iterdir()) == []


@contextmanager
def files_of_at_most(size: int) -> Iterator[None]:
    """As on a full disk: the system refuses to write more (setrlimit(2), RLIMIT_FSIZE)."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.parametrize("option", ["--to", "--pictures"])
def test_a_full_disk_leaves_no_half_a_page(option: str, practice: Drive, tmp_path: Path, told: Told) -> None:
    source = recorded(practice.rows[::5], tmp_path / "a.cwrec")
    with files_of_at_most(2000):
        told("debrief", source, option, tmp_path / "new", code=1)
    assert told.err.startswith(f"cornerword: cannot write {tmp_path / 'new'} (")
    assert told.err.endswith("): make room, or name another place\n")
    assert list(tmp_path.iterdir()) == [source]


@pytest.mark.parametrize("looks", [0, 300])
def test_ctrl_c_ends_it_and_leaves_nothing(looks: int, practice: Drive, tmp_path: Path) -> None:
    drive = replace(practice, rows=practice.rows[::5])
    source = recorded(drive.rows, tmp_path / "a.cwrec")
    asked = {"what": str(source), "to": tmp_path / "new.html", "pictures": tmp_path / "new"}
    with pytest.raises(KeyboardInterrupt):
        debrief_module.debrief(checked(DebriefOptions, asked), Console(), After(looks))
    assert list(tmp_path.iterdir()) == [source]


def test_ctrl_c_while_the_memory_is_read(memory: Path, tmp_path: Path) -> None:
    page = {"to": tmp_path / "new.html"}
    works = [
        lambda: debrief_module.debrief(checked(DebriefOptions, page | {"memory": memory}), Console(), After(0)),
        lambda: progress(checked(ProgressOptions, page | {"memory": memory}), Console(), After(1)),
        lambda: pupils(checked(PupilsOptions, page | {"files": [memory]}), Console(), After(1)),
    ]
    for work in works:
        with pytest.raises(KeyboardInterrupt):
            work()
    assert list(tmp_path.iterdir()) == []


def test_hostile_labels_are_text_and_nothing_else(hostile: Path, tmp_path: Path, told: Told) -> None:
    page, week, school, folder = (tmp_path / name for name in ("a.html", "b.html", "c.html", "pictures"))
    texts = [
        told("debrief", "--memory", hostile, "--to", page, "--pictures", folder),
        told("progress", "--memory", hostile, "--to", week),
        told("pupils", hostile, "--to", school),
    ]
    for text in texts:
        assert all(line.isprintable() for line in text[:-1].split("\n")) and "<script>alert(1)" in text
    for file in (page, week, school):
        written = file.read_text(encoding="utf-8")
        assert "<script>alert" not in written and "alert(1)" in Page(written).read
    for picture in folder.glob("*.svg"):
        root = ElementTree.fromstring(picture.read_text(encoding="utf-8"))
        assert not [element for element in root.iter() if element.tag.endswith("script")]


def test_progress_is_of_the_driver_and_car_driven_last(
    memory: Path, practice: Drive, tmp_path: Path, told: Told
) -> None:
    text = told("progress", "--memory", memory, "--to", tmp_path / "week.html")
    assert text.startswith("loop-a, car-a, Ann\n2 sessions, held against 1:03.597, ")
    assert [line.split()[-1] for line in text.splitlines() if line.startswith("    ") and "1:03" in line] == ["1", "2"]
    assert text.endswith(f"\n\nwritten: {tmp_path / 'week.html'}, {size_of((tmp_path / 'week.html').stat().st_size)}\n")
    assert told("progress", "--memory", memory, "--driver", "Ann") == text[: text.rindex("\nwritten")]


def test_pupils_of_one_name_are_told_apart_and_what_is_no_memory_is_left_out(
    memory: Path, tmp_path: Path, told: Told
) -> None:
    other, broken = tmp_path / "ann2.sqlite", tmp_path / "broken.sqlite"
    with Memory(memory) as opened:
        opened.copy(other)
    broken.write_text("no memory")
    text = told("pupils", memory, other, broken, memory)
    assert text.startswith("loop-a, 2 pupils\n\nPUPILS\n")
    assert "\n  Ann (ann)                2 " in text and "\n  Ann (ann2)               2 " in text
    assert told.err.startswith("left out: ") and str(broken) in told.err and told.err.count("\n") == 1


def test_the_bar_is_there_where_it_takes_long_and_gone_at_the_end(
    practice: Drive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    source = recorded(practice.rows[::5], tmp_path / "long.cwrec")
    monkeypatch.setattr("coach.app.telling.progressbar.AFTER", 0.0)
    monkeypatch.setattr("coach.app.telling.progressbar.EVERY", 0.0)
    master, slave = pty.openpty()
    with open(slave, "w", encoding="utf-8") as terminal:
        monkeypatch.setattr("sys.stderr", terminal)
        assert main(["debrief", str(source)]) == 0
        shown = read_all(master)
    os.close(master)
    bars = shown.split("\r\x1b[K")
    shares = [int(bar.partition("]")[2].split()[0]) for bar in bars if bar]
    assert shares == sorted(shares) and shares[0] < 20 and shares[-1] > 80
    assert "%  reading long.cwrec" in shown and bars[-1] == ""
    assert "\x1b" not in capsys.readouterr().out


def test_of_many_laps_the_quickest_and_others_all_over_the_session_are_read() -> None:
    laps = [KeptLap(number, number, 60.0 * number, 60.0 + (number != 7), True) for number in range(40)]
    for most in (1, 2, 8, 20, 40, 50):
        found = chosen(laps, most)
        assert laps[7] in found and len(found) == min(most, 40) and found == sorted(found, key=lambda lap: lap.index)
    assert {lap.index for lap in chosen(laps, 8)} >= {0, 39}


def test_of_several_sessions_in_a_recording_it_is_the_last_with_a_lap(
    practice: Drive, tmp_path: Path, told: Told
) -> None:
    rows = practice.rows[::5]
    shift = rows[-1]["t"] + 60.0
    other = [row | {"t": row["t"] + shift, "car": "car-b"} for row in rows if row["lap"] <= 2]
    third = [row | {"t": row["t"] + 2 * shift, "car": "car-c"} for row in rows[:100]]
    source = recorded([*rows, *other, *third], tmp_path / "a.cwrec")
    assert told("debrief", source).startswith("loop-a, car-b")
    assert told.err == f"there are 3 sessions in {source}: this is the last in which a lap ended\n"


def test_a_capture_is_read_by_its_layout(practice: Drive, tmp_path: Path, told: Told) -> None:
    rows = [row for row in practice.rows[::5] if row["lap"] <= 2]
    source, layout = capture(rows, tmp_path / "a.pcap"), layout_file(tmp_path)
    text = told("debrief", source, "--layout", layout)
    assert text.startswith("a track without a name, a car without a name\n2025-06-15 ")
    assert "\nLAPS\n" in text and f"{source} is a capture" in told.err
    told("debrief", source, "--layout", layout, "--port", "9", code=2)
    assert "no datagram to port 9" in told.err


@pytest.mark.parametrize("name", ["a.jsonl", "a.jsonl.gz"])
def test_how_much_of_a_file_was_read_is_known_while_it_is_read(name: str, tmp_path: Path) -> None:
    lines = b"".join(b'{"t": %d, "x": %d}\n' % (number, number * 7919 % 9973) for number in range(40_000))
    file = tmp_path / name
    file.write_bytes(gzip.compress(lines) if name.endswith("gz") else lines)
    recording = open_recording(file)
    assert recording.share == 0.0
    shares = [recording.share for _ in recording]
    assert shares == sorted(shares) and 0.0 < shares[0] < 0.6 and shares[-1] == 1.0
    assert recording.share == 0.0


def test_half_a_character_of_a_label_is_written_as_a_mark(tmp_path: Path) -> None:
    assert write_page(tmp_path / "a.html", "a\ud800b") == f"written: {tmp_path / 'a.html'}, 3 bytes\n"
    assert (tmp_path / "a.html").read_text(encoding="utf-8") == "a?b"
