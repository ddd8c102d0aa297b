"""The small parts of the guided finding: who sends, what is typed, what is said aloud, how it is shown."""

from __future__ import annotations

import io
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from coach.app import aloud as speaking
from coach.app.aloud import aloud
from coach.app.checking.senders import MOST, NAMED, Senders, described
from coach.app.checking.unheard import in_one_line, point_by_point
from coach.app.cli import main
from coach.app.config import DecipherOptions
from coach.app.console import Console
from coach.app.deciphering.guide import ASKS
from coach.app.deciphering.proposed import proposed
from coach.app.listening import flags
from coach.app.newfile import write_new
from coach.app.stop import Stop
from coach.app.typed import typed
from coach.vocabulary.errors import InputError, WorkError
from coach.vocabulary.events import Cue
from feeds.base import Datagram
from feeds.finder import STEPS, Found, Proposal
from feeds.finder.proposal import KindOf
from feeds.udp import REFUSED, UdpReceiver


def packets(sender: str, length: int, rate: float, seconds: float = 3.0) -> list[Datagram]:
    return [Datagram(100.0 + n / rate, bytes([200]) * length, sender) for n in range(round(rate * seconds))]


def test_the_steps_are_those_that_the_finder_knows_in_its_order() -> None:
    assert tuple(ask.name for ask in ASKS) == STEPS
    for ask in ASKS:
        assert ask.words[0].islower() and len(ask.words) < 110
        assert ask.spoken.endswith(".") and len(ask.spoken.split()) <= 15, "it is heard while driving"


def test_senders_are_named_by_how_much_they_send() -> None:
    senders = Senders()
    for packet in sorted(packets("a:1", 10, 20.0) + packets("b:2", 324, 60.0), key=lambda one: one.received):
        senders.take(packet)
    assert senders.busiest == "b:2" and senders.began == 100.0 and len(senders.of("b:2")) == 180
    assert list(senders.lines()) == [
        "packets come from b:2: 324 bytes, 60 a second",
        "a:1 sends too, 10 bytes, 20 a second: left out, stop it if that is not meant",
    ]


def test_of_a_flood_only_so_much_is_held() -> None:
    senders = Senders()
    data = bytes(60_000)
    for number in range(3000):
        senders.take(Datagram(number / 1000.0, data, "a:1"))
    assert senders.packets == 3000 and 60_000 * len(senders.of("a:1")) <= MOST
    assert list(senders.lines()) == ["packets come from a:1: 60,000 bytes, 1,000 a second"]


def test_many_senders_are_counted_and_odd_labels_do_no_harm() -> None:
    senders = Senders()
    for number in range(20):
        senders.take(Datagram(float(number), b"x", f"10.0.0.{number}:1"))
    lines = list(senders.lines())
    assert len(lines) == 1 + NAMED + 1 and lines[-1] == "and 16 more senders, left out"
    assert described([Datagram(1.0, b"hello\x1b[2J")]) == "9 bytes, once"
    assert described([Datagram(1.0, b"speed=12;gear=3")]).endswith('they are text and begin "speed=12;gear=3"')
    assert (
        described([Datagram(1.0, b"a"), Datagram(5.0, b"a")]) == '1 byte, one each 4.0 s; they are text and begin "a"'
    )
    assert "and 7 more lengths" in described([Datagram(1.0, b"\xff" * n) for n in range(10)])


def test_a_proposal_is_shown_with_place_unit_and_reason() -> None:
    shown = proposed(
        Proposal(
            found=[
                Found("speed", 12, "f32", "km/h", 0.984, "the slope of the position over time, within 0.3 %"),
                Found(
                    "gear",
                    3,
                    "u8",
                    "whole, 1 is neutral",
                    0.7,
                    "agrees with engine speed\x1b over speed " * 9,
                    packet=1,
                ),
            ],
            left_out={"tyre_temp": "four by three numbers that agree were not there"},
            kinds=[KindOf("a", 324), KindOf("b", 96)],
        )
    )
    assert shown[2:4] == [
        "  speed                12  f32    98 %  km/h, in a",
        "    the slope of the position over time, within 0.3 %",
    ]
    assert shown[4] == "  gear                  3  u8     70 %  whole, 1 is neutral, in b"
    assert shown[-1] == "  tyre temp: four by three numbers that agree were not there"
    assert max(map(len, shown)) <= 100 and all(line.isprintable() for line in shown)


def test_what_to_check_depends_on_what_is_listened_to() -> None:
    with UdpReceiver("127.0.0.1", 0) as receiver:
        text = "\n".join(point_by_point(receiver))
        assert "--host 0.0.0.0 --allow ADDRESS" in text and str(receiver.port) in text
        assert "no telemetry for 10 s: be on track" in in_one_line(receiver)
        receiver.drops.add(REFUSED)
        assert "name the simulator's computer with --allow" in in_one_line(receiver)
    with UdpReceiver("0.0.0.0", 0) as receiver:
        assert "is it named with --allow?" in "\n".join(point_by_point(receiver))


class FakeVoice:
    def __init__(self) -> None:
        self.said: list[str] = []
        self.closed = False

    def take(self, cue: Cue) -> None:
        self.said.append(cue.text)

    def close(self) -> None:
        self.closed = True


def test_the_steps_are_spoken_where_there_is_a_voice(monkeypatch: pytest.MonkeyPatch) -> None:
    voice, prepared = FakeVoice(), list[str]()

    def opened(options: Any, chosen: Any, playbook: Any, phrases: Any, tell: Callable[[str], None], stop: Any) -> Any:
        prepared.extend(phrases)
        return voice

    monkeypatch.setattr(speaking, "opened_voice", opened)
    with aloud([ask.spoken for ask in ASKS], True, Console(io.StringIO()), Stop()) as speak:
        speak(ASKS[0].spoken)
    assert voice.said == [ASKS[0].spoken] and voice.closed and prepared == [ask.spoken for ask in ASKS]
    with aloud([], False, Console(io.StringIO()), Stop()) as speak:
        speak("unheard")
    assert voice.said == [ASKS[0].spoken]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")
def test_lines_typed_in_a_terminal_are_heard_and_without_one_there_are_none(monkeypatch: pytest.MonkeyPatch) -> None:
    import pty

    ours, terminals = pty.openpty()
    try:
        with os.fdopen(terminals, "r") as terminal:
            monkeypatch.setattr(sys, "stdin", terminal)
            lines = typed()
            assert lines is not None
            os.write(ours, b"\nr\n" + b"x" * 900 + b"\n")
            assert [lines.get(timeout=5.0) for _ in range(2)] == ["", "r"]
            assert set(lines.get(timeout=5.0)) == {"x"}
            os.write(ours, b"\x04")  # end of input: who reads ends
            time.sleep(0.1)
    finally:
        os.close(ours)
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n"))
    assert typed() is None
    monkeypatch.setattr(sys, "stdin", None)
    assert typed() is None


def test_the_command_refuses_a_file_that_is_there(tmp_path: Any, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "sim.toml"
    file.write_text("mine")
    assert main(["decipher", str(file), "--no-voice"]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err == f"cornerword: {file} exists already: choose another name, or move it away\n"


def test_a_name_that_no_file_can_have_is_one_line(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """POSIX: a name longer than NAME_MAX is ENAMETOOLONG."""
    assert main(["decipher", str(tmp_path / f"{'a' * 300}.toml"), "--no-voice"]) == 2
    assert capsys.readouterr().err.endswith("(File name too long): choose another name\n")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no full disk to offer")
def test_a_new_file_is_written_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "a.toml"
    write_new(file, "layout = 1\n")
    assert file.read_bytes() == b"layout = 1\n"
    with pytest.raises(InputError, match="exists already"):
        write_new(file, "other")
    with pytest.raises(WorkError, match="cannot write"):
        write_new(tmp_path / "no folder" / "a.toml", "x")
    full, removed = tmp_path / "full.toml", list[Path]()
    monkeypatch.setattr(Path, "open", lambda self, *_, **__: open("/dev/full", "wb"))  # noqa: SIM115 - it is closed there
    monkeypatch.setattr(Path, "unlink", lambda self: removed.append(self))
    with pytest.raises(WorkError, match=r"cannot write .*full\.toml \(No space left on device\)"):
        write_new(full, "x")
    assert removed == [full]


def test_what_comes_next_listens_where_this_did() -> None:
    assert flags(DecipherOptions(file=Path("a.toml"))) == []
    options = DecipherOptions(file=Path("a.toml"), host="0.0.0.0", port=5005, allow=("192.0.2.7", "192.0.2.8"))
    assert flags(options) == [
        *("--host", "0.0.0.0", "--port", "5005", "--allow", "192.0.2.7", "--allow", "192.0.2.8"),
    ]
