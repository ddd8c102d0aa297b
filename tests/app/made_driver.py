"""A made driver in a made simulator: does what is asked of it, step by step, and sends an invented binary packet.

The lap is the built-in car's; before it the car stands, and pedals, wheel and gears move as a person moves them.
"""

from __future__ import annotations

import math
import random
import socket
import struct
import threading
import time
from collections.abc import Iterator
from functools import cache
from typing import Any

from feeds.base import Datagram
from feeds.car.circuit import CIRCUITS
from feeds.car.drive import Drive, DriveSpec
from feeds.car.person import PERSONS
from feeds.car.spec import CARS
from feeds.udp import UdpReceiver

Row = dict[str, Any]
LAYOUT = """
layout = 1
name = "Made"
byte_order = "little"

[[packet]]
name = "main"
match = [{ offset = 0, bytes = "4d 41 44 45 01" }]
[packet.channels]
t = { offset = 12, type = "f32" }
position = { offset = 16, type = "f32", axes = "east up north" }
speed = { offset = 40, type = "f32", convert = "km/h" }
engine_speed = { offset = 44, type = "f32" }
steer = { offset = 52, type = "f32", scale = 7.8, positive = "right" }
throttle = { offset = 56, type = "u8", convert = "0..255" }
brake = { offset = 57, type = "u8", convert = "0..255" }
gear = { offset = 59, type = "u8" }
lap_distance = { offset = 60, type = "f32" }

[[packet]]
name = "nothing of use"
length = 84
"""
"""Of the packets below."""
RATE = 60
REACTION = 0.6
LOCK = 7.8
IDLE = 950.0
BEGAN = 1.7e9
"""s since 1970."""
LAUNCH = 5.0
"""m/s^2 up to the speed with which the built-in car begins, rolling."""


@cache
def lap() -> list[Row]:
    """One lap of the built-in car with its run-up and a bit past the line; 4 s of work."""
    circuit = next(iter(CIRCUITS.values()))()
    return list(Drive(DriveSpec(circuit, CARS["Pellow R"], PERSONS["steady"], laps=1, rate=RATE, run_out=6.0)))


class MadeDriver:
    """`frames()` gives a row each 1/60 s for as long as it is asked; `ask` names the step to do now.

    A step in `ignores` is not done.
    """

    def __init__(self, seed: int = 1, ignores: tuple[str, ...] = ()) -> None:
        self._random = random.Random(seed)
        self._ignores = ignores
        self._asked = threading.Event()
        self._name = ""
        self._rows = lap()
        self.ended = False
        """whether the lap is over and the car stands again"""

    def ask(self, name: str) -> None:
        """From now on it does this."""
        self._name = name
        self._asked.set()

    def frames(self) -> Iterator[Row]:
        first = self._rows[0]
        run_up = first["speed"] ** 2 / (2.0 * LAUNCH)
        state = dict(first)
        state |= dict.fromkeys(("speed", "vx", "vy", "yaw_rate", "ax", "ay", "throttle", "brake", "clutch"), 0.0)
        state |= {"steer": 0.0, "gear": 0, "engine_speed": IDLE, "wheel_speed": [0.0] * 4}
        state |= {
            "x": first["x"] - run_up * math.cos(first["yaw"]),
            "y": first["y"] - run_up * math.sin(first["yaw"]),
            "lap_distance": first["lap_distance"] - run_up,
        }
        t, turns = 0.0, IDLE
        doing: Iterator[Row] = iter(())
        while True:
            if self._asked.is_set():
                self._asked.clear()
                doing = iter(()) if self._name in self._ignores else self._acts(self._name, state)
            acted = next(doing, None)
            row = dict(state)
            if acted is not None:
                row |= acted
            if "drives" not in row:
                aim = IDLE + row["throttle"] * (first["engine_speed_max"] - IDLE)
                turns += (aim - turns) / RATE / (0.22 if aim > turns else 0.5)
                row["engine_speed"] = turns + self._random.gauss(0.0, 8.0)
                row["ax"] += self._random.gauss(0.0, 0.02)
            elif self._name == "drive" and acted is not None:
                state = self._stopped(row)
            row.pop("drives", None)
            t += 1.0 / RATE
            row["t"] = t
            yield row

    def _stopped(self, row: Row) -> Row:
        """The car as it would stand where it is."""
        state = dict(row)
        state |= dict.fromkeys(("speed", "vx", "vy", "yaw_rate", "ax", "ay", "throttle", "steer", "clutch"), 0.0)
        state |= {"brake": 1.0, "gear": 0, "wheel_speed": [0.0] * 4}
        state.pop("drives", None)
        return state

    def _acts(self, name: str, state: Row) -> Iterator[Row]:
        yield from ({} for _ in range(round(REACTION * RATE)))
        if name in ("rev", "brake", "clutch"):
            channel = "throttle" if name == "rev" else name
            for _ in range(2):
                yield from ({channel: value} for value in _ramp(0.0, 1.0, 0.3))
                yield from ({channel: 1.0} for _ in range(round(0.6 * RATE)))
                yield from ({channel: value} for value in _ramp(1.0, 0.0, 0.25))
                yield from ({} for _ in range(round(0.5 * RATE)))
        elif name in ("left", "right"):
            lock = LOCK if name == "left" else -LOCK
            for part in (_ramp(0.0, lock, 1.0), [lock] * round(0.3 * RATE), _ramp(lock, 0.0, 1.0)):
                yield from ({"steer": value} for value in part)
        elif name == "gears":
            for gear in (1, 2, 3, 4, 5, 6, 5, 4, 3, 2, 1, 0):
                yield from ({"clutch": 1.0, "gear": gear} for _ in range(round(0.5 * RATE)))
        elif name == "drive":
            yield from self._launch(state)
            for row in self._rows:
                yield {**row, "drives": True}
            yield from self._brakes(self._rows[-1])
            self.ended = True

    def _launch(self, state: Row) -> Iterator[Row]:
        first = self._rows[0]
        ratio = first["engine_speed"] / first["speed"]
        for number in range(round(first["speed"] / LAUNCH * RATE)):
            moving = number / RATE
            speed, way = LAUNCH * moving, LAUNCH * moving**2 / 2.0
            gear = 1 if speed < 14.0 else 2 if speed < 25.0 else 3
            yield {
                "drives": True,
                "x": state["x"] + way * math.cos(state["yaw"]),
                "y": state["y"] + way * math.sin(state["yaw"]),
                "lap_distance": state["lap_distance"] + way,
                **{"speed": speed, "vx": speed, "ax": LAUNCH, "throttle": 0.7, "gear": gear},
                "wheel_speed": [speed] * 4,
                "engine_speed": max(2500.0, speed * ratio * {1: 2.2, 2: 1.45, 3: 1.0}[gear]),
            }

    def _brakes(self, last: Row) -> Iterator[Row]:
        """From the end of the lap to a stand, straight on."""
        speed, way = last["speed"], 0.0
        while speed > 0.0:
            yield {
                **last,
                "drives": True,
                "x": last["x"] + way * math.cos(last["yaw"]),
                "y": last["y"] + way * math.sin(last["yaw"]),
                "lap_distance": last["lap_distance"] + way,
                **{"speed": speed, "vx": speed, "ax": -9.0, "ay": 0.0, "yaw_rate": 0.0},
                **{"throttle": 0.0, "brake": 0.8, "steer": 0.0, "wheel_speed": [speed] * 4},
                "engine_speed": max(IDLE, last["engine_speed"] * speed / last["speed"]),
            }
            way += speed / RATE
            speed -= 9.0 / RATE


def _ramp(first: float, last: float, seconds: float) -> list[float]:
    steps = round(seconds * RATE)
    return [first + (last - first) * (number + 1) / steps for number in range(steps)]


class Packets:
    """Packs rows: one kind of packet each frame, another of another length each tenth frame."""

    def __init__(self, seed: int = 1) -> None:
        self._random = random.Random(seed)
        self._number = 0

    def of(self, row: Row) -> list[bytes]:
        self._number += 1
        chance = self._random
        main = struct.pack(
            "<4sBBHIf3f3fffffBBBbfffIf16s",
            *(b"MADE", 1, 7, 180, self._number, row["t"]),
            *(row["x"], row["z"], row["y"], row["vx"], row["vy"], 0.0),
            *(row["speed"] * 3.6, row["engine_speed"], row["engine_speed_max"], -row["steer"] / LOCK),
            *(round(row["throttle"] * 255), round(row["brake"] * 255), round(row["clutch"] * 255), row["gear"]),
            *(row["lap_distance"], row["ax"], row["ay"], row["lap"], row["yaw"]),
            b"no name",
        )
        wheels = struct.pack("<4f", *row["wheel_speed"])
        noise = bytes(chance.randrange(256) for _ in range(12))
        fuel = struct.pack("<f", row["fuel"])
        sent = [main + wheels + noise + fuel + bytes(20)]
        if self._number % 10 == 0:
            sent.append(struct.pack("<4sBBHI", b"MADE", 2, 7, 80, self._number) + noise + bytes(60))
        return sent


class SimulatedClock:
    """A receive clock that goes as the simulator goes, however quick or held up it is; s since 1970."""

    def __init__(self) -> None:
        self.now = BEGAN

    def __call__(self) -> float:
        return self.now


class Receiver(UdpReceiver):
    """Stamps each packet with when it was sent, and a little more: at twenty times the speed of time, a millisecond in
    which this machine was busy would be a fiftieth of a second on the way."""

    def receive(self, timeout: float) -> list[Datagram]:
        packets = super().receive(timeout)
        for packet in packets:
            if packet.data.startswith(b"MADE"):
                number = struct.unpack_from("<I", packet.data, 8)[0]
                packet.received = BEGAN + number / RATE + 0.001 * (number % 7 % 3)
        return packets


class Simulator:
    """Sends what the driver does to a port, `pace` times as fast as it would happen; use it with `with`."""

    def __init__(self, port: int, driver: MadeDriver, clock: SimulatedClock, pace: float) -> None:
        self._port, self._driver, self._clock, self._pace = port, driver, clock, pace
        self._packets = Packets()
        self._over = threading.Event()
        self._silent = 0
        self._thread = threading.Thread(target=self._run, name="simulator", daemon=True)

    def pause(self, seconds: float) -> None:
        """Send nothing for so long, as in a menu."""
        self._silent = round(seconds * RATE)

    def __enter__(self) -> Simulator:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join(10.0)

    def _run(self) -> None:
        began = time.perf_counter()
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
            out.bind(("127.0.0.1", 0))
            for number, row in enumerate(self._driver.frames(), start=1):
                if self._over.is_set():
                    return
                self._clock.now = BEGAN + number / RATE
                packets = self._packets.of(row)
                if self._silent:
                    self._silent -= 1
                else:
                    for data in packets:
                        out.sendto(data, ("127.0.0.1", self._port))
                left = began + number / RATE / self._pace - time.perf_counter()
                if left > 0.002:
                    time.sleep(left)
