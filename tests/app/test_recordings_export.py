"""`export`: every channel of every sample comes back, read by other libraries than the one that wrote it."""

from __future__ import annotations

import csv
import gzip
import json
import math
import os
import sys
import warnings
from collections.abc import Callable
from dataclasses import replace
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from make_stream import Drive

from coach.app.cli import main
from coach.app.tables.columns import UNITS, parts_of
from coach.app.tables.kinds import KINDS, Csv
from coach.vocabulary.sample import CHANNELS
from tests.app.recorded import BEGAN, capture, layout_file, recorded

RATE = 12.5
ODD = {
    "track": 'Rue "é", 東',
    "car": "a\u2028b",
    "tyre_temp": [[81.0, 82.0, 83.5], [71.0, 72.0, 73.5], [61.0, 62.0, 63.5], [51.0, 52.0, 53.5]],
    "assists": ["abs", "traction"],
    "in_pit": True,
    "gap_ahead": 1e-7,
    "unknown": 5,
}
"""What the last row holds besides; texts that need quotes, vectors, a flag, a tiny number."""

Read = Callable[[Path], tuple[dict[str, list[Any]], dict[str, str]]]
"""Columns by name, None where absent, and their units."""


@pytest.fixture(scope="module")
def rows(practice: Drive) -> list[dict[str, Any]]:
    """Two laps of the practice run, with a row twice, one late, and an odd one at the end."""
    kept = [row for row in practice.rows[::2] if row["t"] < practice.laps[2].crossing + 3.0]
    last = kept[-1]
    return [*kept[:100], kept[99], *kept[100:200], kept[198], *kept[200:], last | ODD | {"t": last["t"] + 0.08}]


@pytest.fixture(scope="module")
def source(rows: list[dict[str, Any]], practice_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return recorded(rows, tmp_path_factory.mktemp("export") / "a.cwrec", practice_file)


def kept(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Without duplicates and late ones."""
    found: list[dict[str, Any]] = []
    for row in rows:
        if not found or row["t"] > found[-1]["t"]:
            found.append(row)
    return found


def exported(source: Path, to: Path, *more: str) -> Path:
    assert main(["export", str(source), str(to), *more]) == 0
    return to


def by_csv(path: Path) -> tuple[dict[str, list[Any]], dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        head, *lines = csv.reader(file)
    names = [title.partition(" [")[0] for title in head]
    units = {name: title.partition(" [")[2].removesuffix("]") for name, title in zip(names, head, strict=True)}
    columns: dict[str, list[Any]] = {name: [] for name in names}
    for line in lines:
        for name, cell in zip(names, line, strict=True):
            columns[name].append(None if cell == "" else cell if not units[name] else float(cell))
    return columns, units


def by_numpy(path: Path) -> tuple[dict[str, list[Any]], dict[str, str]]:
    columns: dict[str, list[Any]] = {}
    with np.load(path, allow_pickle=False) as archive:
        units = dict(zip(archive["columns"].tolist(), archive["units"].tolist(), strict=True))
        for name, unit in units.items():
            assert archive[name].dtype == np.float64
            values = [None if math.isnan(value) else value for value in archive[name].tolist()]
            if not unit:
                labels = archive[f"{name}_labels"].tolist()
                values = [None if value is None else labels[int(value)] for value in values]
            columns[name] = values
    return columns, units


def library(name: str) -> ModuleType:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return import_module(name)
        except ImportError:
            assert os.environ.get("CI_TABLES") != "1", f"{name} is not installed: see .ci/run"
            pytest.skip(f"{name} is not installed (the extra `export`)")


def by_arrow(path: Path) -> tuple[dict[str, list[Any]], dict[str, str]]:
    table = library("pyarrow.parquet").read_table(path)
    units = {field.name: field.metadata[b"unit"].decode() for field in table.schema}
    return {name: table[name].to_pylist() for name in table.column_names}, units


def by_asammdf(path: Path) -> tuple[dict[str, list[Any]], dict[str, str]]:
    asammdf = library("asammdf")
    columns: dict[str, list[Any]] = {}
    units = {}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with asammdf.MDF(path) as mdf:
            assert mdf.version == "4.10"
            for channel in mdf.groups[0].channels[1:]:
                signal = mdf.get(channel.name, group=0)
                units[channel.name] = signal.unit
                values = signal.samples.tolist()
                if signal.samples.dtype.kind == "S":
                    columns[channel.name] = [value.decode() or None for value in values]
                else:
                    columns[channel.name] = [None if math.isnan(value) else value for value in values]
            times = mdf.get_master(0).tolist()
    assert times[0] == 0.0
    assert times == sorted(times)
    assert times[-1] == pytest.approx(columns["t"][-1] - columns["t"][0])
    return columns, units


READERS: dict[str, Read] = {".csv": by_csv, ".npz": by_numpy, ".parquet": by_arrow, ".mf4": by_asammdf}
KIND = pytest.mark.parametrize("ending", sorted(READERS))


@pytest.fixture
def need(ending: str) -> Read:
    if ending == ".parquet":
        library("pyarrow")
    if ending == ".mf4":
        library("asammdf")
    return READERS[ending]


def flat(value: Any) -> list[Any]:
    return [cell for item in value for cell in flat(item)] if isinstance(value, (list, tuple)) else [value]


@KIND
def test_every_channel_of_every_sample_comes_back(
    ending: str, need: Read, source: Path, rows: list[dict[str, Any]], tmp_path: Path
) -> None:
    columns, units = need(exported(source, tmp_path / f"a{ending}"))
    expected = kept(rows)
    assert set(READERS) == set(KINDS)
    for name in CHANNELS:
        parts = parts_of(name)
        if not any(name in row for row in expected):
            assert not set(parts) & set(columns), f"{name} never came"
            continue
        for place, part in enumerate(parts):
            assert units[part] == UNITS[name]
            for row, cell in zip(expected, columns[part], strict=True):
                sent = row.get(name)
                if name == "assists" and sent is not None:
                    sent = " ".join(sent)
                elif name == "car" and sent is not None:
                    sent = sent.replace("\u2028", " ")  # a label is one line, whoever reads it
                elif isinstance(sent, bool):
                    sent = float(sent)
                elif len(parts) > 1 and sent is not None:
                    sent = flat(sent)[place]
                assert cell == sent, f"{part} at {row['t']}"
    assert columns["received"] == [pytest.approx(BEGAN + row["t"], abs=1e-6) for row in expected]


def test_lap_distance_and_delta_are_the_engines(source: Path, rows: list[dict[str, Any]], tmp_path: Path) -> None:
    log = tmp_path / "log.jsonl"
    assert main(["replay", "--fast", "--events", str(log), str(source)]) == 0
    events = [json.loads(line) for line in log.read_text().splitlines()]
    deltas = {event["t"]: event for event in events if event["type"] == "delta"}
    columns, units = by_csv(exported(source, tmp_path / "a.csv"))
    found = {
        round(t, 4): (distance, delta, lap)
        for t, distance, delta, lap in zip(
            columns["t"], columns["distance"], columns["delta"], columns["counted_lap"], strict=True
        )
        if delta is not None
    }
    assert len(found) > 500
    assert set(found) == set(deltas)
    for t, (distance, delta, lap) in found.items():
        assert distance == pytest.approx(deltas[t]["distance"], abs=0.006)
        assert delta == pytest.approx(deltas[t]["delta"], abs=0.0001)
        assert lap == deltas[t]["lap"]
    assert (units["distance"], units["delta"], units["counted_lap"]) == ("m", "s", "1")


def test_only_the_laps_asked_for(
    source: Path, practice: Drive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    to = exported(source, tmp_path / "a.npz", "--laps", "2")
    columns, _ = by_numpy(to)
    assert set(columns["counted_lap"]) == {2}
    assert columns["t"][0] == pytest.approx(practice.laps[1].crossing, abs=0.08)
    assert columns["t"][-1] == pytest.approx(practice.laps[2].crossing, abs=0.08)
    assert capsys.readouterr().out.startswith(f"{to}: {len(columns['t'])} rows of lap 2, ")
    missing = tmp_path / "b.npz"
    assert main(["export", str(source), str(missing), "--laps", "9"]) == 2
    assert capsys.readouterr().err == f"cornerword: --laps: there is no lap 9 in {source}: it has 0, 1, 2, 3\n"
    assert not missing.exists()


@KIND
def test_a_clock_that_begins_anew_is_told_as_it_was(ending: str, need: Read, practice: Drive, tmp_path: Path) -> None:
    first = practice.rows[:100]
    lines = [json.dumps(row).encode() + b"\n" for row in [*first, *first]]
    source = tmp_path / "a.jsonl.gz"
    source.write_bytes(gzip.compress(b"".join(lines)))
    if ending == ".mf4":  # its master may not go back: it stands
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with library("asammdf").MDF(exported(source, tmp_path / f"a{ending}")) as mdf:
                times = mdf.get_master(0).tolist()
                assert mdf.get("t").samples.tolist() == [row["t"] for row in [*first, *first]]
        assert times == sorted(times)
        assert times[-1] == pytest.approx(2 * (first[-1]["t"] - first[0]["t"]))
        return
    columns, _ = need(exported(source, tmp_path / f"a{ending}"))
    assert columns["t"] == [row["t"] for row in [*first, *first]]


def test_a_csv_is_as_rfc_4180_says(source: Path, rows: list[dict[str, Any]], tmp_path: Path) -> None:
    """Section 2: rows end in CR LF, each has as many fields as the head, quotes round fields with quotes, doubled."""
    content = exported(source, tmp_path / "a.csv").read_bytes().decode()
    lines = content.split("\r\n")
    assert lines[-1] == "" and "\n" not in content.replace("\r\n", "")
    assert len(lines) == len(kept(rows)) + 2
    assert lines[0].startswith("received [s],counted_lap [1],distance [m],delta [s],t [s],session,track,car,driver,lap")
    assert '"Rue ""é"", 東"' in lines[-2]
    plain = {line.count(",") for line in lines[:-2]}
    assert len(plain) == 1


def test_of_a_capture_with_a_layout(practice: Drive, tmp_path: Path) -> None:
    drive = replace(practice, rows=practice.rows[:300])
    source, layout = capture(drive.rows, tmp_path / "a.pcap"), layout_file(tmp_path)
    columns, _ = by_csv(exported(source, tmp_path / "a.csv", "--layout", str(layout)))
    assert columns["speed"] == [row["speed"] for row in drive.rows]
    assert columns["gear"] == [row["gear"] for row in drive.rows]
    assert "track" not in columns


def test_every_channel_has_a_unit_and_a_place() -> None:
    assert set(UNITS) == set(CHANNELS)
    names = [part for name in CHANNELS for part in parts_of(name)]
    assert len(names) == len(set(names)) == len(CHANNELS) + 3 + 3 + 11


@pytest.mark.parametrize(("ending", "package"), [(".mf4", "asammdf"), (".parquet", "pyarrow")])
def test_a_missing_library_is_one_line_with_the_mend(
    ending: str,
    package: str,
    source: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setitem(sys.modules, package, None)
    to = tmp_path / f"a{ending}"
    assert main(["export", str(source), str(to)]) == 2
    error = capsys.readouterr().err
    assert error.startswith(f"cornerword: {ending} needs {package}, which cannot be imported")
    assert error.endswith('install it with `pip install "cornerword[export]"`, or write .csv or .npz\n')
    assert not to.exists()


def test_other_endings_and_files_that_exist_are_refused(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["export", str(source), str(tmp_path / "a.xls")]) == 2
    assert capsys.readouterr().err.endswith(
        "a.xls: its ending says what is written: give a name that ends in .csv, .npz, .mf4 or .parquet\n"
    )
    there = tmp_path / "a.csv"
    there.write_text("kept")
    assert main(["export", str(source), str(there)]) == 2
    assert "exists already: choose another name" in capsys.readouterr().err
    assert there.read_text() == "kept"


def test_a_disk_that_fails_leaves_nothing_behind(
    source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(self: Csv, cells: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Csv, "add", full)
    to = tmp_path / "a.csv"
    assert main(["export", str(source), str(to)]) == 1
    assert capsys.readouterr().err == (
        f"cornerword: {to} could not be written, No space left on device: make room, or name another place\n"
    )
    assert not to.exists()


def test_a_channel_of_endless_texts_is_no_label(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source = tmp_path / "a.jsonl"
    source.write_text("".join(f'{{"t":{n},"setup":"{n}"}}\n' for n in range(10_002)))
    assert main(["export", str(source), str(tmp_path / "a.csv")]) == 2
    assert "`setup` changes more than 10,000 times, so it is no label" in capsys.readouterr().err
