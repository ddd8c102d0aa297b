"""The check-up: what is said of a stream that is good, odd, poor, unreadable or not there."""

from __future__ import annotations

import io
import socket
import struct
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from app.made_driver import LAYOUT, RATE, Packets, Row, lap

from coach.app import checkup as verb
from coach.app.checking import diagnosis, tryout
from coach.app.checkup import Looker, checkup
from coach.app.cli import main
from coach.app.config import CheckupOptions, Presenting
from coach.app.console import Console
from coach.app.settings import Settings
from coach.app.source import Source
from coach.app.start import fresh
from coach.app.stop import Stop
from coach.playbook.load import load
from coach.vocabulary.errors import InputError, WorkError
from coach.vocabulary.events import Cue
from feeds.base import Datagram
from feeds.car.send import encode
from feeds.counts import Counts
from voice import lengths


class Receiver:
    """Stands in for a socket: `rate` datagrams a second on a clock that it moves itself, then none."""

    address, port, is_open, source = "127.0.0.1:26763", 26763, False, None
    open_to = ""
    receive_buffer, buffer_notice = 4 * 1024 * 1024, None

    def __init__(self, datagrams: Iterable[bytes | Datagram], rate: float = RATE) -> None:
        self.drops = Counts("datagram dropped")
        self.now = 500.0
        self._waiting, self._rate = iter(datagrams), rate

    def clock(self) -> float:
        return self.now

    def receive(self, timeout: float) -> list[Datagram]:
        found = next(self._waiting, None)
        self.now += timeout if found is None else 1.0 / self._rate
        if found is None:
            return []
        return [found if isinstance(found, Datagram) else Datagram(self.now, found, "10.0.0.2:4000")]

    def confirm(self, sender: str) -> bool:
        self.source = self.source or sender
        return self.source == sender

    def kernel_drops(self) -> int:
        return 0


def looked(datagrams: Iterable[bytes | Datagram], seconds: float = 10.0, rate: float = RATE) -> str:
    """The whole report, without sound and window."""
    receiver = Receiver(datagrams, rate)
    looker = Looker(fresh(Source(), None, ()), receiver, receiver.clock, Console(io.StringIO()))  # type: ignore[arg-type]
    seen = looker.look(seconds, Stop())
    wrong = [] if seen is None else diagnosis.odd(seen)
    blocks = looker.blocks(seen, wrong)
    if seen is not None:
        blocks.append(verb.Block("NEXT", diagnosis.following(seen, wrong, True, "cornerword drive", None)))
    return verb._text(blocks)


def part(text: str, heading: str) -> str:
    """The lines under a heading."""
    lines = iter(text.split("\n"))
    assert heading in lines, text
    found = []
    for line in lines:
        if not line.startswith("  "):
            break
        found.append(line.strip())
    return "\n".join(found)


def driven(change: Callable[[Row], Row] = lambda row: row, begin: int = 1500, count: int = 900) -> Iterator[bytes]:
    """Datagrams of the built-in car under way."""
    return (encode(change(row)) for row in lap()[begin : begin + count])


def without(*names: str) -> Callable[[Row], Row]:
    return lambda row: {name: value for name, value in row.items() if name not in names}


def test_a_good_stream_is_said_to_be_ready_in_about_25_lines() -> None:
    text = looked(driven())
    assert ", 60.0 a second\nfrom 10.0.0.2:4000 to 127.0.0.1:26763, feed" in part(text, "THE STREAM")
    assert "0 lost, 0 twice, 0 late" in part(text, "THE STREAM")
    assert part(text, "ITS CHANNELS").startswith("come: t, session, ")
    assert "do not: setup, " in part(text, "ITS CHANNELS")
    assert "WHAT IS ODD" not in text
    assert part(text, "WHAT IS COACHED").startswith("all detectors are on")
    assert part(text, "NEXT") == "all is ready: cornerword drive"
    assert len(text.split("\n")) <= 28 and max(map(len, text.split("\n"))) <= 100


def test_what_is_odd_is_named_and_said_to_be_mended_first() -> None:
    text = looked(driven(lambda row: row | {"speed": row["speed"] * 3.6, "throttle": row["throttle"] * 100.0}))
    assert "speed seems to be in km/h" in part(text, "WHAT IS ODD")
    assert "times: throttle must be a number from 0 to 1" in part(text, "WHAT IS ODD")
    assert part(text, "NEXT").startswith("see to what is odd first")
    assert part(text, "NEXT").endswith("then: cornerword drive")


def test_detectors_that_will_be_off_are_named_with_the_channel_that_they_lack() -> None:
    text = looked(driven(without("wheel_speed", "edge_left", "edge_right", "on_track", "x", "y")))
    coached = part(text, "WHAT IS COACHED")
    assert "off, as there is no wheel_speed: lock up" in coached
    assert "missed\napex" in coached or "missed apex" in coached
    text = looked(driven(lambda row: row | {"assists": ["gearbox"]}))
    assert "off, as the gearbox assist is on: early downshift" in part(text, "WHAT IS COACHED")


def test_without_a_position_nothing_is_coached_and_that_is_next() -> None:
    text = looked(driven(without("x", "y", "lap_distance")))
    assert part(text, "NEXT") == "nothing can be coached without a position: the stream needs lap_distance, or x and y"


def test_a_car_that_stands_is_asked_to_drive_and_is_not_odd() -> None:
    stands = {"speed": 0.0, "vx": 0.0, "gear": 0, "throttle": 0.0, "wheel_speed": [0.0] * 4, "x": 1.0, "y": 2.0}
    text = looked(driven(lambda row: row | stands | {"lap_distance": 5.0, "ax": 0.0, "ay": 0.0, "yaw_rate": 0.0}))
    assert "WHAT IS ODD" not in text
    assert part(text, "NEXT").startswith("the car stood: look again while it drives through some corners")


def test_a_clock_that_stands_is_odd() -> None:
    still = encode(lap()[1500])
    assert "the clock t stands still" in part(looked([still] * 400), "WHAT IS ODD")


def test_loss_and_a_second_source_are_odd() -> None:
    lossy = [data for number, data in enumerate(driven()) if number % 10]
    assert re_share(part(looked(lossy, rate=54.0), "WHAT IS ODD")) == pytest.approx(10.0, abs=1.0)
    receiver = Receiver(driven())
    named = "10.0.0.3:5000, while 10.0.0.2:4000 is listened to: stop one of them"
    receiver.drops.add("another source", named)
    looker = Looker(fresh(Source(), None, ()), receiver, receiver.clock, Console(io.StringIO()))  # type: ignore[arg-type]
    seen = looker.look(5.0, Stop())
    assert seen is not None and f"datagram dropped: another source ({named})" in diagnosis.odd(seen)


def re_share(text: str) -> float:
    line = next(line for line in text.split("\n") if "lost on the way" in line)
    return float(line.split(" %")[0])


def test_what_cannot_be_read_is_shown_and_decipher_is_named() -> None:
    packets = Packets()
    receiver = Receiver(data for row in lap()[:120] for data in packets.of(row))
    looker = Looker(fresh(Source(), None, ()), receiver, receiver.clock, Console(io.StringIO()))  # type: ignore[arg-type]
    assert looker.look(5.0, Stop()) is None
    text = verb._text(looker.blocks(None, []))
    assert "packets come from 10.0.0.2:4000: 148 bytes" in text and "could not be read: not UTF-8" in text
    assert "cornerword decipher" in looker.failure()


def test_nothing_comes_and_each_thing_to_check_is_one_point(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["checkup", "--port", "0", "--seconds", "1", "--no-voice", "--no-overlay"]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    lines = err.rstrip("\n").split("\n")
    assert [line.strip()[:2] for line in lines if line.strip()[1:2] == "."] == ["1.", "2.", "3.", "4.", "5."]
    for word in ("menu", "telemetry by UDP", "127.0.0.1", "--allow", "firewall", "Another program"):
        assert word in err
    assert lines[-1].startswith("cornerword: nothing came to 127.0.0.1:")


def test_ctrl_c_before_anything_came_claims_nothing() -> None:
    receiver, stop = Receiver([]), Stop()
    stop.asked = True
    looker = Looker(fresh(Source(), None, ()), receiver, receiver.clock, Console(io.StringIO()))  # type: ignore[arg-type]
    with pytest.raises(KeyboardInterrupt):
        looker.look(10.0, stop)


def test_a_clock_that_jumps_is_odd_and_an_unread_stream_shows_no_empty_lines() -> None:
    text = looked(b'{"t": %d}' % (100 * number) for number in range(50))
    assert "the clock t jumped ahead 49 times, by 1 s or more" in part(text, "WHAT IS ODD")
    assert "read:" not in text and "jumped back" not in text


def test_a_port_in_use_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
        other.bind(("127.0.0.1", 0))
        port = other.getsockname()[1]
        assert main(["checkup", "--port", str(port), "--no-voice", "--no-overlay"]) == 1
    assert f"UDP port {port} on 127.0.0.1 is in use by another program" in capsys.readouterr().err


class Calling(Console):
    """A console that starts sending once it hears the port that is listened on."""

    def __init__(self, send: Callable[[int], None]) -> None:
        super().__init__(io.StringIO())
        self._send = send

    def say(self, line: str) -> None:
        super().say(line)
        if line.startswith("looking for"):
            self._send(int(line.split("127.0.0.1:")[1].split(";")[0]))


@contextmanager
def sending(datagrams: Iterable[bytes]) -> Iterator[Calling]:
    over = threading.Event()
    threads: list[threading.Thread] = []

    def run(port: int) -> None:
        began = time.perf_counter()
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
            for number, data in enumerate(datagrams):
                if over.wait(max(0.0, began + number / RATE - time.perf_counter())):
                    return
                out.sendto(data, ("127.0.0.1", port))

    def send(port: int) -> None:
        threads.append(threading.Thread(target=run, args=(port,)))
        threads[0].start()

    try:
        yield Calling(send)
    finally:
        over.set()
        for thread in threads:
            thread.join()


def test_the_verb_looks_at_a_real_stream_by_a_layout_file(tmp_path: Path) -> None:
    file = tmp_path / "made.toml"
    file.write_text(LAYOUT)
    packets = Packets()
    options = CheckupOptions(port=0, layout=file, seconds=1.5, voice=False, overlay=False)
    with sending(packets.of({**row, "steer": row["steer"]})[0] for row in lap()[1500:]) as console:
        text = checkup(options, console, Stop())
    assert "datagrams of 148 bytes" in part(text, "THE STREAM")
    assert 'feed "layout"' in part(text, "THE STREAM")
    assert "come: t, lap_distance, x, y, z, speed, throttle, brake, steer, gear, engine_speed" in text
    assert part(text, "NEXT").endswith(f"cornerword drive --port 0 --layout {file}")


class FakeVoice:
    """`silent`: without a device."""

    def __init__(self, table: lengths.LengthTable, silent: bool) -> None:
        self.table, self.is_silent, self.said = table, silent, list[str]()

    def wait(self, timeout: float) -> bool:
        return True

    def take(self, cue: Cue) -> None:
        self.said.append(cue.text)

    def close(self) -> None:
        pass


def measured() -> lengths.LengthTable:
    table = lengths.for_voice(None)
    return replace(table, name="a voice of this computer", lengths=dict.fromkeys(table.lengths, 0.01))


def tried(monkeypatch: pytest.MonkeyPatch, voice: FakeVoice, told: str | None = None) -> tuple[bool, str]:
    def opened(options: Any, chosen: Any, playbook: Any, phrases: Any, tell: Callable[[str], None], stop: Any) -> Any:
        if told is not None:
            tell(told)
        return voice

    monkeypatch.setattr(tryout, "opened_voice", opened)
    monkeypatch.setattr(tryout, "PAUSE", 0.01)
    return tryout.sound(Presenting(), Settings(), load(), Stop())


def test_sound_is_tried_with_a_phrase_of_the_coach(monkeypatch: pytest.MonkeyPatch) -> None:
    voice = FakeVoice(measured(), silent=False)
    well, line = tried(monkeypatch, voice)
    assert well and voice.said and f'"{voice.said[0]}" was spoken just now' in line


def test_sound_that_fails_gives_the_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    voice = FakeVoice(lengths.for_voice(None), silent=True)
    well, line = tried(monkeypatch, voice, "voice: no sound device (none): connect one")
    assert not well and line == "no voice: no sound device (none): connect one" and voice.said == []


def test_a_window_that_cannot_be_opened_gives_the_reason_and_one_that_can_is_drawn(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from coach.overlay import overlay

    def none(*_: Any) -> Any:
        raise WorkError("no screen: the overlay is off; start it from a desktop")

    drawn: list[bool] = []

    class Fake:
        def run(self, until: Callable[[], bool]) -> None:
            while not until():
                time.sleep(0.01)
            drawn.append(True)

    monkeypatch.setattr(tryout, "SHOWN", 0.02)
    monkeypatch.setattr(overlay, "open_overlay", none)
    assert tryout.window(Presenting(), Settings(), load(), Stop()) == (
        False,
        "no screen: the overlay is off; start it from a desktop",
    )
    monkeypatch.setattr(overlay, "open_overlay", lambda *_: Fake())
    well, line = tryout.window(Presenting(), Settings(), load(), Stop())
    assert well and drawn and "shown just now" in line


def test_the_next_command_listens_as_the_look_did() -> None:
    options = CheckupOptions(host="0.0.0.0", port=4444, allow=("192.168.1.7",), layout=Path("my sim.toml"))
    assert verb._command(options) == (
        "cornerword drive --host 0.0.0.0 --port 4444 --allow 192.168.1.7 --layout 'my sim.toml'"
    )


def test_a_layout_that_is_wrong_is_one_line_before_any_listening(tmp_path: Path) -> None:
    file = tmp_path / "wrong.toml"
    file.write_text("layout = 1\nspeed = 3\n")
    with pytest.raises(InputError, match=r"wrong\.toml"):
        checkup(CheckupOptions(port=0, layout=file), Console(io.StringIO()), Stop())


def test_values_no_channel_can_hold_do_not_stop_the_look() -> None:
    bad = [b"", b"\0" * 100, b"[]", b'{"t": 1e400}', struct.pack("<d", 1.0), b'{"t": 3, "speed": "fast"}'] * 20
    assert "could not be read" in looked([*bad, *driven(count=60)], seconds=5.0)
