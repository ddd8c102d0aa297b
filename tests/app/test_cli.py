"""The command line, whole outputs: every error is one line that names what is wrong and the mend."""

from __future__ import annotations

import gzip
import json
import os
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest
from make_stream import Drive

import coach
from coach.app.cli import main
from coach.vocabulary.errors import WorkError

TOP = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def short_file(practice: Drive, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The first 20 s of the practice run, where it does not matter what was driven."""
    path = tmp_path_factory.mktemp("short") / "short.jsonl"
    path.write_bytes(b"".join(data + b"\n" for data in practice.datagrams()[:500]))
    return path


def failed(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str]:
    """Exit code and the one line on standard error."""
    code = main([str(argument) for argument in arguments])
    out, err = capsys.readouterr()
    assert out == ""
    assert err.endswith("\n") and err.count("\n") == 1, err
    return code, err.rstrip("\n")


def test_help_names_the_verbs_and_imports_nothing_heavy() -> None:
    script = (
        "import sys\nfrom coach.app.cli import main\ncode = main(['--help'])\n"
        "heavy = {'pygame', 'numpy', 'scipy', 'zeroconf', 'pydantic', 'pyttsx3'} & set(sys.modules)\n"
        "sys.exit(f'imported {sorted(heavy)}' if heavy else code)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=TOP, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    for verb in ("drive", "record", "replay"):
        assert f"\n    {verb} " in done.stdout


def test_help_answers_at_once() -> None:
    """Within ten times the bare interpreter, best of three: imports of 0.3 s and more would show."""
    best = {}
    for name, arguments in (("bare", ["-c", "pass"]), ("help", ["-m", "coach", "--help"])):
        spans = []
        for _ in range(3):
            began = time.perf_counter()
            subprocess.run([sys.executable, *arguments], capture_output=True, cwd=TOP, check=True)
            spans.append(time.perf_counter() - began)
        best[name] = min(spans)
    assert best["help"] < 10 * best["bare"]


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"cornerword {coach.__version__}\n"


@pytest.mark.parametrize("verb", [[], ["drove"], ["replay"], ["replay", "a", "b"], ["drive", "--loud"]])
def test_a_wrong_command_line_is_one_line_and_the_way_to_help(
    verb: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    code, line = failed(capsys, *verb)
    assert code == 2
    assert line.startswith("cornerword") and line.endswith("--help")


def test_a_wrong_verb_names_the_right_ones(capsys: pytest.CaptureFixture[str]) -> None:
    _, line = failed(capsys, "drove")
    assert all(word in line for word in ("drove", "drive", "record", "replay"))


def test_a_missing_file(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "gone.cwrec"
    assert failed(capsys, "replay", path) == (2, f"cornerword: there is no file {path}: check the name")


def test_a_file_that_is_no_recording(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "letter.txt"
    path.write_text("Dear driver,\nbrake later.\n")
    code, line = failed(capsys, "replay", path)
    assert code == 2
    assert line == (
        f"cornerword: {path} is not a recording: expected a .cwrec, JSON lines (.jsonl, .jsonl.gz) with one datagram "
        "and its `t` a line, or a packet capture (.pcap, .pcapng)"
    )


def test_a_recording_of_another_feed(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "other.cwrec"
    head = {"format": "cornerword recording", "version": 1, "source": "another"}
    path.write_bytes(gzip.compress(json.dumps(head).encode() + b"\n"))
    code, line = failed(capsys, "replay", path)
    assert code == 2
    assert str(path) in line


def test_datagrams_that_no_feed_reads(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    from coach.app.source import Source
    from coach.app.start import fresh
    from feeds.recording import RecordingWriter

    path = tmp_path / "noise.cwrec"
    with RecordingWriter(path, fresh(Source(), None, ()).head()) as writer:
        writer.datagram(1.0, b"\xff\xfe")
        writer.datagram(1.1, b"[]")
    code, line = failed(capsys, "replay", "--fast", path)
    assert (code, line) == (
        2,
        f"cornerword: {path}: none of its datagrams could be read (1 not UTF-8, 1 not an object): "
        'give a recording of the feed "generic", or say with --layout what its packets are made of',
    )


def test_an_unknown_fault_names_the_nearest(capsys: pytest.CaptureFixture[str], practice_file: Path) -> None:
    code, line = failed(capsys, "replay", "--fast", "--focus", "late_throtle", practice_file)
    assert (code, line) == (2, "cornerword: focus: no fault is called 'late_throtle'; did you mean late_throttle?")


def test_an_unknown_feed_names_the_known(capsys: pytest.CaptureFixture[str]) -> None:
    code, line = failed(capsys, "drive", "--port", "0", "--feed", "genric")
    assert (code, line) == (2, 'cornerword: there is no feed "genric": choose one of generic')


@pytest.mark.parametrize("port", ["north", "-1", "65536", "1e9"])
def test_a_wrong_port(port: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, line = failed(capsys, "drive", f"--port={port}")
    assert (code, line) == (2, f"cornerword: --port: needs a UDP port, 0 to 65535, not {port!r}")


def test_an_address_of_another_computer(capsys: pytest.CaptureFixture[str]) -> None:
    """192.0.2.0/24 is for documentation and is nobody's (RFC 5737)."""
    code, line = failed(capsys, "drive", "--host", "192.0.2.1")
    assert code == 2
    assert "192.0.2.1" in line and "127.0.0.1" in line


def test_a_port_in_use(capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
        other.bind(("127.0.0.1", 0))
        port = other.getsockname()[1]
        code, line = failed(capsys, "drive", "--port", str(port))
    assert code == 1
    assert line == (
        f"cornerword: UDP port {port} on 127.0.0.1 is in use by another program: close it, or choose another port"
    )


def test_a_reference_of_another_circuit_ends_a_replay_before_any_work(
    capsys: pytest.CaptureFixture[str], practice: Drive, practice_file: Path, tmp_path: Path
) -> None:
    other, log = tmp_path / "other.jsonl", tmp_path / "events.jsonl"
    other.write_text("".join(json.dumps({**row, "track": "loop-b"}) + "\n" for row in practice.rows))
    code, line = failed(capsys, "replay", "--fast", "--reference", other, "--events", log, practice_file)
    assert code == 2
    assert line.startswith("cornerword: --reference: ") and "loop-a" in line and "loop-b" in line
    assert not log.exists()


def test_a_reference_without_a_clean_lap(
    capsys: pytest.CaptureFixture[str], practice: Drive, practice_file: Path, tmp_path: Path
) -> None:
    short = tmp_path / "short.jsonl"
    short.write_text("".join(json.dumps(row) + "\n" for row in practice.rows[:500]))
    code, line = failed(capsys, "replay", "--fast", "--reference", short, practice_file)
    assert code == 2
    assert line.startswith("cornerword: --reference: short.jsonl: no reference lap in it")


def test_a_missing_reference(capsys: pytest.CaptureFixture[str], practice_file: Path) -> None:
    code, line = failed(capsys, "replay", "--fast", "--reference", "gone.cwrec", practice_file)
    assert (code, line) == (2, "cornerword: --reference: there is no file gone.cwrec: check the name")


def test_a_log_that_cannot_be_written(capsys: pytest.CaptureFixture[str], practice_file: Path, tmp_path: Path) -> None:
    log = tmp_path / "nowhere" / "events.jsonl"
    code, line = failed(capsys, "replay", "--fast", "--events", log, practice_file)
    assert code == 2
    assert line.startswith(f"cornerword: --events: cannot write {log} (No such file or directory)")


def test_a_log_over_the_recording_itself(capsys: pytest.CaptureFixture[str], practice_file: Path) -> None:
    before = practice_file.read_bytes()
    code, line = failed(capsys, "replay", "--fast", "--events", practice_file, practice_file)
    assert code == 2
    assert "the same file" in line
    assert practice_file.read_bytes() == before


@pytest.mark.parametrize("option", ["--events", "--sound-log"])
def test_nothing_is_written_over_what_is_read_or_recorded(
    option: str, capsys: pytest.CaptureFixture[str], practice_file: Path, tmp_path: Path
) -> None:
    before = practice_file.read_bytes()
    new = tmp_path / "new"
    for arguments in (
        ["replay", practice_file, option, practice_file],
        ["replay", practice_file, "--reference", new, option, new],
        ["drive", "--record", new, option, new],
        ["drive", "--reference", new, option, new],
        ["drive", "--events", new, "--sound-log", new],
        ["demo", "--reference", new, option, new],
        ["demo", "--events", new, "--sound-log", new],
    ):
        code, line = failed(capsys, *arguments)
        assert code == 2
        assert "are the same file" in line
    assert practice_file.read_bytes() == before
    assert not new.exists()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["demo", "--fast"], "with --fast nothing sounds, so there is nothing to write: leave one out"),
        (["demo", "--no-voice"], "with --no-voice nothing sounds, so there is nothing to write: leave one out"),
        (["drive", "--no-voice"], "with --no-voice nothing sounds, so there is nothing to write: leave one out"),
        (["replay", "a.cwrec", "--fast"], "with --fast nothing sounds, so there is nothing to write: leave one out"),
    ],
)
def test_a_sound_log_without_sound(arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert failed(capsys, *arguments, "--sound-log", "sound.jsonl") == (2, f"cornerword: --sound-log: {says}")


def test_a_sound_log_is_a_file(capsys: pytest.CaptureFixture[str]) -> None:
    code, line = failed(capsys, "drive", "--sound-log", "-")
    assert (code, line) == (2, "cornerword: --sound-log: needs a file, not standard output")


def test_a_recording_is_not_overwritten(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "kept.cwrec"
    path.write_bytes(b"precious")
    code, line = failed(capsys, "record", "--port", "0", path)
    assert (code, line) == (2, f"cornerword: {path} exists already: choose another name, or move it away")
    assert path.read_bytes() == b"precious"


def test_a_bug_is_one_line_without_a_traceback(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, practice_file: Path
) -> None:
    def broken(*_: object) -> None:
        raise KeyError("two\nlines")

    monkeypatch.setattr("coach.app.replay.open_recording", broken)
    monkeypatch.delenv("CORNERWORD_TRACEBACK", raising=False)
    code, line = failed(capsys, "replay", practice_file)
    assert code == 1
    assert line.startswith("cornerword: a bug, KeyError: ") and "test_cli.py:" in line

    monkeypatch.setenv("CORNERWORD_TRACEBACK", "1")
    assert main(["replay", str(practice_file)]) == 1
    assert "Traceback (most recent call last)" in capsys.readouterr().err


def test_work_that_fails_is_exit_code_1(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, practice_file: Path
) -> None:
    def broken(*_: object) -> None:
        raise WorkError("the disk is gone: find it")

    monkeypatch.setattr("coach.app.replay.open_recording", broken)
    assert failed(capsys, "replay", practice_file) == (1, "cornerword: the disk is gone: find it")


def test_a_reader_that_leaves_early_is_no_error(practice_file: Path) -> None:
    """As `cornerword replay --events - | head -1` does."""
    command = [sys.executable, "-m", "coach", "replay", "--fast", "--events", "-", str(practice_file)]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=TOP, env={**os.environ, "PYTHONPATH": str(TOP)}
    ) as process:
        assert process.stdout is not None and process.stderr is not None
        assert json.loads(process.stdout.readline())["type"] == "run"
        process.stdout.close()
        errors = process.stderr.read().decode()
        assert process.wait(timeout=60) == 0
    assert "Traceback" not in errors and "BrokenPipe" not in errors
    assert errors.startswith("loop-a, car-a\n")


@pytest.mark.parametrize("content", [b"\x1f\x8b\x08 a recording", b'{"t":0.0,"lap":1}\n', b"notes\n"])
def test_a_log_over_what_is_no_log(
    capsys: pytest.CaptureFixture[str], short_file: Path, tmp_path: Path, content: bytes
) -> None:
    """A recording cannot be made again; only an older event log is written anew."""
    kept, log = tmp_path / "yesterday.cwrec", tmp_path / "events.jsonl"
    kept.write_bytes(content)
    code, line = failed(capsys, "replay", "--fast", "--events", kept, short_file)
    assert code == 2 and "is no event log: name another file" in line
    assert kept.read_bytes() == content
    for _ in range(2):
        assert main(["replay", "--fast", "--events", str(log), str(short_file)]) == 0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no full disk to offer")
def test_a_log_on_a_full_disk_fails_a_replay(capsys: pytest.CaptureFixture[str], practice_file: Path) -> None:
    """The log is what a replay is for; a drive goes on without it."""
    code, line = failed(capsys, "replay", "--fast", "--events", "/dev/full", practice_file)
    assert code == 1
    assert line == (
        "cornerword: event log: writing to /dev/full failed (No space left on device): make room, or name another file"
    )


def run_with(practice_file: Path, redirect: str, **environment: str) -> tuple[int, str]:
    """The command in a shell with its outputs as `redirect` has them; returns the code and what errors said."""
    shell = f'exec "{sys.executable}" -m coach replay --fast "{practice_file}" {redirect}'
    done = subprocess.run(
        ["bash", "-c", shell],
        stderr=subprocess.PIPE,
        text=True,
        cwd=TOP,
        env={**os.environ, "PYTHONPATH": str(TOP), **environment},
        timeout=60,
        check=False,
    )
    return done.returncode, done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="needs a Unix shell")
@pytest.mark.parametrize(
    ("redirect", "code", "says"),
    [
        (">/dev/full", 1, "the summary could not be written (No space left on device)"),
        (">&-", 1, "the summary has nowhere to go"),
        ("--events - >&-", 2, "--events -: standard output is closed"),
        (">&- 2>&-", 1, ""),
    ],
)
def test_an_output_that_takes_nothing_is_one_line_and_no_bug(
    short_file: Path, redirect: str, code: int, says: str
) -> None:
    ended, errors = run_with(short_file, redirect)
    assert (ended, errors.count("\n")) == (code, 1 if says else 0), errors
    assert says in errors and "a bug" not in errors


@pytest.mark.skipif(sys.platform == "win32", reason="needs a Unix shell")
def test_a_label_that_the_terminal_does_not_know_is_escaped(practice: Drive, tmp_path: Path) -> None:
    path = tmp_path / "p.jsonl"
    path.write_text("".join(json.dumps({**row, "track": "Čapí"}) + "\n" for row in practice.rows[:300]))
    code, errors = run_with(path, ">/dev/null", PYTHONIOENCODING="ascii")
    assert (code, errors) == (0, "")
