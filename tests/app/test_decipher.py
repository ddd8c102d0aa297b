"""`decipher`, guided through real UDP by a made driver in quick time, and again from its recording."""

from __future__ import annotations

import io
import json
import re
import socket
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from queue import SimpleQueue
from typing import Any

import pytest
from app.made_driver import LAYOUT, MadeDriver, Receiver, SimulatedClock, Simulator, lap

from coach.app.cli import main
from coach.app.config import DecipherOptions
from coach.app.console import Console
from coach.app.decipher import Deciphering, decipher
from coach.app.deciphering import finding
from coach.app.deciphering.finding import found
from coach.app.deciphering.guide import ASKS, Ask
from coach.app.deciphering.kept import Kept
from coach.app.stop import Stop
from coach.vocabulary.errors import InputError, WorkError
from feeds import finder
from feeds.base import Datagram
from feeds.car.send import encode
from feeds.finder import Found, Step
from feeds.layout import read_layout
from feeds.recording import ActionLine, RecordingWriter, open_recording
from feeds.udp import UdpReceiver
from tests.feeds.captures import pcap, stream

PACE = 20.0
"""times as fast as time; one datagram comes each 0.8 ms."""
SHORT = (ASKS[0], ASKS[2])
"""Standing still and the brake: enough for what is not the finding."""


class Proposed:
    """Stands in for what the finder proposes."""

    found = (Found("speed", 40, "f32", "km/h", 0.98, "it is the slope of the position"),)
    left_out = {"fuel": "nothing fell slowly"}  # noqa: RUF012
    kinds = ()

    def __init__(self, text: str = LAYOUT) -> None:
        self._text = text

    def text(self) -> str:
        return self._text


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[tuple[list[Datagram], list[Step]]]:
    """What the finder is asked for; it proposes the right layout."""
    calls: list[tuple[list[Datagram], list[Step]]] = []

    def find(packets: Sequence[Datagram], steps: Sequence[Step] = ()) -> Any:
        calls.append((list(packets), list(steps)))
        return Proposed()

    monkeypatch.setattr(finder, "find", find)
    return calls


class Heard(Console):
    """A console that has the driver do what it is asked, and calls `when` with each line."""

    def __init__(self, driver: MadeDriver | None, asks: Sequence[Ask], when: Callable[[str], None] = lambda line: None):
        super().__init__(io.StringIO())
        self.lines: list[str] = []
        self._driver, self._asks, self._when = driver, asks, when

    def say(self, line: str) -> None:
        self.lines.append(line)
        self._when(line)
        if self._driver is not None and line.startswith("step "):
            self._driver.ask(self._asks[int(line.split()[1]) - 1].name)

    @property
    def text(self) -> str:
        return "\n".join(self.lines)


@contextmanager
def receiving(clock: Callable[[], float]) -> Iterator[UdpReceiver]:
    with Receiver("127.0.0.1", 0, 4 * 1024 * 1024, clock) as receiver:
        yield receiver


def guided(
    folder: Path,
    asks: tuple[Ask, ...] = SHORT,
    when: Callable[[str], None] = lambda line: None,
    stop: Stop | None = None,
    lines: SimpleQueue[str] | None = None,
    ignores: tuple[str, ...] = (),
) -> tuple[str, Heard]:
    """The whole dialogue with a made driver; what the verb returned, and what was said."""
    driver = MadeDriver(ignores=ignores)
    heard = Heard(driver, asks, when)
    file, kept = folder / "sim.toml", folder / "sim.cwrec"
    clock = SimulatedClock()
    with receiving(clock) as receiver, Simulator(receiver.port, driver, clock, PACE):
        verb = Deciphering(file, kept, receiver, clock, heard, stop or Stop(), lambda text: None, lines, asks)
        return verb.run(), heard


def test_what_is_kept_finds_the_same_again(asked: list[tuple[list[Datagram], list[Step]]], tmp_path: Path) -> None:
    text, heard = guided(tmp_path)
    assert re.search(r"packets come from 127\.0\.0\.1:\d+: 148 bytes, \d+ a second; 84 bytes, \d+ a second", heard.text)
    assert "  seen" in heard.lines and "step 2 of 2: press the brake" in heard.text
    assert [step.name for step in asked[0][1]] == ["still", "brake"]
    again = tmp_path / "again.toml"
    assert "FOUND" in decipher(DecipherOptions(file=again, recorded=tmp_path / "sim.cwrec"), heard, Stop())
    live, replayed = asked
    assert [(one.data, round(one.received, 6)) for one in live[0]] == [(one.data, one.received) for one in replayed[0]]
    for step, same in zip(live[1], replayed[1], strict=True):
        assert step.name == same.name and step.ends == pytest.approx(same.ends, abs=1e-5)
        assert step.begins == pytest.approx(same.begins, abs=1e-5)
    assert again.read_text() == (tmp_path / "sim.toml").read_text() == LAYOUT
    assert "speed                40  f32    98 %  km/h" in text
    assert "fuel: nothing fell slowly" in text
    now = text[text.index("\nNOW\n") :]
    assert "speed          0 km/h, standing" in now and "gear           neutral" in now
    assert "engine speed   9" in now and "all of this agrees with each other" in now
    assert "Nothing can be coached without a position" in text, "this finder proposed speed alone"


def test_the_recording_names_no_feed_and_replays_by_the_layout(
    asked: list[tuple[list[Datagram], list[Step]]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    guided(tmp_path)
    kept, file = str(tmp_path / "sim.cwrec"), str(tmp_path / "sim.toml")
    assert main(["replay", "--fast", kept]) == 2
    assert 'there is no feed "unknown"' in capsys.readouterr().err
    assert main(["replay", "--fast", "--layout", file, kept]) == 0


def test_ctrl_c_keeps_what_came_and_says_how_to_go_on(
    asked: list[tuple[list[Datagram], list[Step]]], tmp_path: Path
) -> None:
    stop = Stop()

    def when(line: str) -> None:
        stop.asked = stop.asked or line.startswith("step 2")

    with pytest.raises(WorkError, match=r"stopped before the end; \d+ packets are kept in .*sim\.cwrec: .*--recorded"):
        guided(tmp_path, when=when, stop=stop)
    recording = open_recording(tmp_path / "sim.cwrec")
    items = list(recording)
    assert recording.truncated is None
    marks = [item.action for item in items if isinstance(item, ActionLine)]
    assert [mark.split(".")[0] for mark in marks] == ["step still", "step still done 4", "step brake"]
    assert not (tmp_path / "sim.toml").exists() and asked == []


def test_ctrl_c_before_anything_came_leaves_nothing(tmp_path: Path) -> None:
    stop = Stop()

    def when(line: str) -> None:
        stop.asked = stop.asked or "no telemetry for 10 s" in line

    heard = Heard(None, SHORT, when)
    began = time.perf_counter()

    def clock() -> float:
        return 1.7e9 + 50.0 * (time.perf_counter() - began)

    with receiving(clock) as receiver, pytest.raises(KeyboardInterrupt):
        Deciphering(tmp_path / "a.toml", tmp_path / "a.cwrec", receiver, clock, heard, stop, lambda text: None).run()
    assert "firewall" in heard.text and "no other program's port" in heard.text
    assert list(tmp_path.iterdir()) == []


def test_enter_ends_a_step_that_is_not_seen(asked: list[tuple[list[Datagram], list[Step]]], tmp_path: Path) -> None:
    lines: SimpleQueue[str] = SimpleQueue()

    def when(line: str) -> None:
        if line.startswith("step 2") and lines.empty():
            lines.put("")

    _, heard = guided(tmp_path, when=when, lines=lines, ignores=("brake",))
    assert "Enter ends a step" in heard.text and "  not seen, going on" in heard.lines
    assert [step.name for step in asked[0][1]] == ["still"]


def test_a_step_waits_where_nothing_comes_and_begins_anew(
    asked: list[tuple[list[Datagram], list[Step]]], tmp_path: Path
) -> None:
    driver, clock = MadeDriver(ignores=("brake",)), SimulatedClock()
    simulators: list[Simulator] = []

    def when(line: str) -> None:
        if line.startswith("step 2") and "packets come again" not in heard.lines:
            simulators[0].pause(12.0)  # longer than the step's limit

    asks = (SHORT[0], replace(SHORT[1], limit=10.0))
    heard = Heard(driver, asks, when)
    with receiving(clock) as receiver, Simulator(receiver.port, driver, clock, PACE) as simulator:
        simulators.append(simulator)
        verb = Deciphering(
            tmp_path / "a.toml", tmp_path / "a.cwrec", receiver, clock, heard, Stop(), lambda text: None, None, asks
        )
        verb.run()
    waits = heard.lines.index("nothing comes any more: be on track and not in a menu; this step waits for it")
    again = heard.lines.index("packets come again")
    assert waits < again and heard.lines[again + 1].startswith("step 2") and "  not seen, going on" in heard.lines


def test_as_much_as_can_be_held_ends_all_steps_and_is_looked_at(
    asked: list[tuple[list[Datagram], list[Step]]], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("coach.app.deciphering.kept.MOST", 300 * 148)  # 5 s
    _, heard = guided(tmp_path, ASKS)
    assert heard.text.count("as much as can be looked at: the steps end here") == 1
    assert sum(line.startswith("step ") for line in heard.lines) <= 2
    assert sum(len(packet.data) for packet in asked[0][0]) >= 300 * 148
    marks = [item.action for item in open_recording(tmp_path / "sim.cwrec") if isinstance(item, ActionLine)]
    assert "not seen" in marks[-1] or "done" in marks[-1], "the step that ran is over in the recording too"


def test_a_finder_that_fails_leaves_the_recording_and_its_name(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def broken(packets: Sequence[Datagram], steps: Sequence[Step] = ()) -> Any:
        raise ZeroDivisionError

    monkeypatch.setattr(finder, "find", broken)
    said: list[str] = []
    with pytest.raises(ZeroDivisionError):
        guided(tmp_path, SHORT[:1], said.append)
    assert "packets are kept in" in said[-1] and open_recording(tmp_path / "sim.cwrec").headless is None


def test_the_busiest_sender_is_the_source(asked: list[tuple[list[Datagram], list[Step]]], tmp_path: Path) -> None:
    driver = MadeDriver()
    heard, clock = Heard(driver, SHORT), SimulatedClock()
    with (
        receiving(clock) as receiver,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other,
        Simulator(receiver.port, driver, clock, PACE),
    ):
        other.sendto(b"from another program", ("127.0.0.1", receiver.port))
        verb = Deciphering(
            tmp_path / "a.toml", tmp_path / "a.cwrec", receiver, clock, heard, Stop(), lambda text: None, None, SHORT
        )
        verb.run()
    assert 'sends too, 20 bytes, once; they are text and begin "from another program": left out' in heard.text
    assert all(len(packet.data) in (148, 84) for packet in asked[0][0])


def test_a_file_that_is_there_is_refused_before_any_listening(tmp_path: Path) -> None:
    file, kept = tmp_path / "sim.toml", tmp_path / "sim.cwrec"
    for there in (file, kept):
        there.write_text("mine")
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
            other.bind(("127.0.0.1", 0))  # listening there would fail otherwise
            options = DecipherOptions(file=file, port=other.getsockname()[1], voice=False)
            with pytest.raises(InputError, match="exists already: choose another name, or move it away"):
                decipher(options, Heard(None, ()), Stop())
        assert there.read_text() == "mine"
        there.unlink()
    for name, why in (("nowhere/sim.toml", "there is no folder"), ("sim.cwrec", "is a recording's name")):
        with pytest.raises(InputError, match=why):
            decipher(DecipherOptions(file=tmp_path / name, port=0, voice=False), Heard(None, ()), Stop())


def test_the_generic_stream_needs_no_layout(tmp_path: Path) -> None:
    recording = tmp_path / "generic.cwrec"
    with RecordingWriter(recording, {"source": "generic"}) as writer:
        writer.datagram(1.0, encode(lap()[0]))
    with pytest.raises(InputError, match="the generic stream already, no layout is needed"):
        decipher(DecipherOptions(file=tmp_path / "a.toml", recorded=recording), Heard(None, ()), Stop())
    assert not (tmp_path / "a.toml").exists()


def test_a_recording_without_packets_or_steps(asked: list[tuple[list[Datagram], list[Step]]], tmp_path: Path) -> None:
    recording = tmp_path / "r.cwrec"
    with RecordingWriter(recording, {"source": "unknown"}) as writer:
        writer.action(1.0, "step still")
    heard = Heard(None, ())
    with pytest.raises(InputError, match="holds no packet"):
        decipher(DecipherOptions(file=tmp_path / "a.toml", recorded=recording), heard, Stop())
    recording.unlink()
    with RecordingWriter(recording, {"source": "unknown"}) as writer:
        writer.datagram(1.0, b"\1\2\3")
        writer.action(1.5, "mark")
        for action in ("step of another kind", "step still done soon", "step still done -1", "step jump done 3"):
            writer.action(1.5, action)
    decipher(DecipherOptions(file=tmp_path / "a.toml", recorded=recording), heard, Stop())
    assert "no steps are marked in it" in heard.text and asked[0][1] == []


def test_a_capture_is_looked_at_too_at_the_port_that_is_named(
    asked: list[tuple[list[Datagram], list[Step]]], tmp_path: Path
) -> None:
    capture = tmp_path / "all.pcap"
    many = stream([b"\1\2\3"] * 40, port=4001)
    few = stream([b"\4\5"] * 20, port=4002)
    capture.write_bytes(pcap(sorted(many + few)))
    for port, packet in ((None, b"\1\2\3"), (4002, b"\4\5")):
        given = {} if port is None else {"port": port}
        file = tmp_path / f"{port}.toml"
        decipher(DecipherOptions(file=file, recorded=capture, **given), Heard(None, ()), Stop())
        assert {one.data for one in asked[-1][0]} == {packet}


def test_a_finder_that_takes_long_is_said_to_work_and_can_be_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    def slow(packets: Sequence[Datagram], steps: Sequence[Step] = ()) -> Any:
        time.sleep(0.3)
        return Proposed()

    monkeypatch.setattr(finder, "find", slow)
    monkeypatch.setattr(finding, "LONG", 0.1)
    heard, stop = Heard(None, ()), Stop()
    assert found([Datagram(0.0, b"1")], [], heard, stop, lambda: time.sleep(0.05)).found
    assert heard.lines == ["looking for the channels in 1 packets, 0 s so far"]
    stop.asked = True
    with pytest.raises(WorkError, match="stopped while looking"):
        found([], [], heard, stop, lambda: None)
    time.sleep(0.4)  # the thread of the second one


def test_nothing_found_writes_no_file_and_names_the_recording(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    class Nothing(Proposed):
        found = ()

    monkeypatch.setattr(finder, "find", lambda packets, steps=(): Nothing())
    with pytest.raises(WorkError, match=r"no channel could be told .* packets are kept in .*sim\.cwrec"):
        guided(tmp_path)
    assert not (tmp_path / "sim.toml").exists() and (tmp_path / "sim.cwrec").exists()


def test_a_disk_that_fails_ends_the_recording_alone(tmp_path: Path) -> None:
    class Full(RecordingWriter):
        def datagram(self, received: float, data: bytes) -> None:
            raise WorkError("the recording stops here, no space left: make room")

    heard = Heard(None, ())
    kept = Kept(tmp_path / "a.cwrec", Full(tmp_path / "a.cwrec", {}), heard)
    for number in range(3):
        kept.take(Datagram(float(number), b"abc"))
    kept.mark(3.0, "step still")
    kept.recorder.close()
    assert len(kept.packets) == 3 and kept.bytes == 9 and not kept.recording
    assert heard.lines == ["the recording stops here, no space left: make room; going on without it"]


def test_from_unknown_packets_to_a_drive(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """All of it: the steps, the real finder, the file, and the same stream coached by that file."""
    text, heard = guided(tmp_path, ASKS)
    assert heard.lines.count("  seen") == len(ASKS)
    file, kept, log = tmp_path / "sim.toml", tmp_path / "sim.cwrec", tmp_path / "events.jsonl"
    gives = text[: text.index("LEFT OUT")] if "LEFT OUT" in text else text
    for channel in ("speed", "engine speed", "gear", "throttle", "brake", "steer", "lap distance"):
        assert f"\n  {channel} " in gives, text
    assert read_layout(file).name
    assert "NOW" in text and "0 km/h, standing" in text
    assert text.endswith(f"cornerword drive --layout {file}\n")
    capsys.readouterr()
    assert main(["replay", "--fast", "--layout", str(file), "--events", str(log), str(kept)]) == 0
    laps = [event for event in map(json.loads, log.read_text().splitlines()) if event["type"] == "lap"]
    true = next(row["last_lap_time"] for row in lap() if row["last_lap_time"] is not None)
    assert any(event["time"] == pytest.approx(true, abs=0.15) for event in laps if event["time"] is not None)
