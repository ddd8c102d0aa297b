"""Random packet layouts, packed by `struct`: the channels as real sources send them, among unrelated bytes.

Nothing here knows the finder or the layout files. A `Plan` is drawn from a seed; `packed` turns columns into packets.
"""

from __future__ import annotations

import math
import random
import struct
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from feeds.base import Datagram
from tests.finder.columns import WHEELS, Columns, Floats

CODE = {"u8": "B", "i8": "b", "u16": "H", "i16": "h", "u32": "I", "i32": "i", "f32": "f", "f64": "d", "u64": "Q"}
LIMITS = {
    "u8": (0, 2**8 - 1), "i8": (-(2**7), 2**7 - 1), "u16": (0, 2**16 - 1), "i16": (-(2**15), 2**15 - 1),
    "u32": (0, 2**32 - 1), "i32": (-(2**31), 2**31 - 1), "u64": (0, 2**63 - 1),
}  # fmt: skip


@dataclass
class Item:
    """Numbers that stand side by side: one or several columns of one type."""

    name: str
    type: str
    values: list[Floats]

    def packed(self, big: bool) -> NDArray[np.uint8]:
        """[rows, bytes]"""
        parts = []
        for values in self.values:
            if self.type in LIMITS:
                low, high = LIMITS[self.type]
                numbers: list[float] | list[int] = [int(v) for v in np.clip(np.rint(values), low, high)]
            else:
                numbers = values.tolist()
            data = struct.pack(f"{'>' if big else '<'}{len(numbers)}{CODE[self.type]}", *numbers)
            parts.append(np.frombuffer(data, dtype=np.uint8).reshape(len(numbers), -1))
        return np.concatenate(parts, axis=1)


@dataclass
class Stream:
    """Packets with their receive times, the row that each carries, and what is truly in them (for messages)."""

    packets: list[Datagram]
    rows: list[int]
    places: dict[str, str] = field(default_factory=dict)
    sent: set[str] = field(default_factory=set)


class Maker:
    """Draws one layout and packs a drive by it."""

    def __init__(self, columns: Columns, seed: int, others: list[Columns] | None = None) -> None:
        self.c = columns
        self.n = len(columns["t"])
        self.rng = random.Random(seed)
        self.noise = np.random.default_rng(seed)
        self.others = others or []
        self.sent: set[str] = set()

    def one(self, *choices: str) -> str:
        return self.rng.choice(choices)

    def chance(self, share: float) -> bool:
        return self.rng.random() < share

    # -- the channels, as sources send them

    def item(self, name: str, type_: str, *values: Floats) -> Item:
        return Item(name, type_, list(values))

    def share(self, name: str, values: Floats, invert: float = 0.1) -> Item:
        """A pedal."""
        v = 1.0 - values if self.chance(invert) else values
        style = self.one("f32", "f32", "f32", "f64", "100", "u8", "u8", "p8", "u16", "k16")
        match style:
            case "f32" | "f64":
                return self.item(name, style, v)
            case "100":
                return self.item(name, "f32", v * 100.0)
            case "u8":
                return self.item(name, "u8", v * 255.0)
            case "p8":
                return self.item(name, "u8", v * 100.0)
            case "u16":
                return self.item(name, "u16", v * 65535.0)
            case _:
                return self.item(name, "u16", v * 1000.0)

    def speed(self, name: str, values: Floats) -> Item:
        match self.one("f32", "f32", "f64", "kmh", "kmh", "mph", "u16", "cm"):
            case "f32":
                return self.item(name, "f32", values)
            case "f64":
                return self.item(name, "f64", values)
            case "kmh":
                return self.item(name, "f32", values * 3.6)
            case "mph":
                return self.item(name, "f32", values / 0.44704)
            case "u16":
                return self.item(name, "u16", values * 360.0 if values.max() < 180.0 else values * 36.0)
            case _:
                return self.item(name, "u16", values * 100.0)

    def engine(self) -> Item:
        v = self.c["engine_speed"]
        match self.one("f32", "f32", "f64", "u16", "u16", "rad", "i32"):
            case "rad":
                return self.item("engine_speed", "f32", v * math.pi / 30.0)
            case style:
                return self.item("engine_speed", style, v)

    def gear(self) -> Item:
        v = self.c["gear"]
        bias = 1.0 if self.chance(0.4) else 0.0
        return self.item(
            "gear",
            self.one("i8", "u8", "i8", "i32", "f32", "i16") if not bias else self.one("u8", "i32", "u16"),
            v + bias,
        )

    def steer(self) -> Item:
        v = self.c["steer"]
        sign = self.rng.choice((1.0, -1.0))
        lock = float(np.abs(v).max())
        match self.one("share", "share", "rad", "deg", "i16", "i8", "f64"):
            case "share":
                return self.item("steer", "f32", sign * v / lock)
            case "rad":
                return self.item("steer", "f32", sign * v)
            case "f64":
                return self.item("steer", "f64", sign * v / 13.0)
            case "deg":
                return self.item("steer", "f32", sign * np.degrees(v))
            case "i16":
                return self.item("steer", "i16", sign * v / lock * 32767.0)
            case _:
                return self.item("steer", "i8", sign * v / lock * 127.0)

    def position(self) -> Item:
        x, y, z = self.c["x"], self.c["y"], self.c["z"]
        axes = {
            "z-up right": (x, y, z), "z-up left": (x, -y, z), "y-up right": (x, z, -y), "y-up left": (x, z, y),
            "flat": (x, y), "flat mirrored": (y, x),
        }  # fmt: skip
        values = axes[self.one(*axes)]
        match self.one("f32", "f32", "f32", "f64", "mm", "cm"):
            case "mm":
                return self.item("x+y", "i32", *(v * 1000.0 for v in values))
            case "cm":
                return self.item("x+y", self.one("i32", "f32"), *(v * 100.0 for v in values))
            case style:
                return self.item("x+y", style, *values)

    def distance(self) -> Item:
        v = self.c["lap_distance"]
        match self.one("f32", "f32", "f64", "u16", "u32", "share", "mm"):
            case "share":
                return self.item("lap_distance", "f32", v / self.c["track_length"])
            case "mm":
                return self.item("lap_distance", "u32", v * 1000.0)
            case style:
                return self.item("lap_distance", style, v)

    def clock(self) -> list[Item]:
        t = self.c["t"] - self.c["t"][0]
        start = self.rng.choice((0.0, 12.5, 3600.25))
        match self.one("f32", "f32", "f64", "ms", "us", "frame", "none"):
            case "ms":
                return [self.item("t", "u32", (t + start) * 1000.0)]
            case "us":
                return [self.item("t", "u64", (t + start) * 1e6)]
            case "frame":
                return [self.item("t", "u32", np.arange(self.n) + 1000.0)]
            case "none":
                return []
            case style:
                return [self.item("t", style, t + start)]

    def further(self) -> list[Item]:
        """Channels that a source may send too."""
        c = self.c
        g = self.rng.choice((1.0, 1.0 / 9.80665))
        sx, sy, sr = (self.rng.choice((1.0, -1.0)) for _ in range(3))
        turn = self.rng.choice((1.0, 180.0 / math.pi))
        time = self.rng.choice((1.0, 1.0, 1000.0))
        kind = "f32" if time == 1.0 else "u32"
        every = [
            self.item("lap_time", kind, c["lap_time"] * time),
            self.item("last_lap_time", kind, c["last_lap_time"] * time),
            self.item("yaw", "f32", sr * c["yaw"] * turn),
            self.item("yaw_rate", "f32", sr * c["yaw_rate"] * turn),
            self.item("ax, ay", "f32", sx * c["ax"] * g, sy * c["ay"] * g),
            self.item("vx, vy", "f32", c["vx"], c["vy"]),
            self.item("wheel_speed", "f32", *(c[name] for name in WHEELS)),
            self.item("wheel turns", "f32", *(c[name] / 0.33 for name in WHEELS)),
            self.share("clutch", c["clutch"]),
            self.item("engine_speed_max", "f32", c["engine_speed_max"]),
            self.item("fuel", "f32", c["fuel"]),
            self.item("track_length", "f32", c["track_length"]),
            self.item("edges", "f32", c["edge_left"], c["edge_right"]),
        ]
        return [item for item in every if self.chance(0.5)]

    # -- what looks like a channel and is none, and what is nothing

    def lookalikes(self) -> list[Item]:
        c, noise = self.c, self.noise
        dt = float(np.median(np.diff(c["t"])))
        ticks = np.arange(self.n, dtype=np.float64)

        def late(values: Floats) -> Floats:
            return np.concatenate([values[:1], values[:-1]])

        def lagged(values: Floats, seconds: float) -> Floats:
            kept, out = float(values[0]), np.empty_like(values)
            for i, v in enumerate(values.tolist()):
                kept += (v - kept) * min(dt / seconds, 1.0)
                out[i] = kept
            return out

        distance = np.concatenate([[0.0], np.cumsum(c["speed"][1:] * np.diff(c["t"]))])
        every = [
            self.item("late throttle, brake", "f32", late(c["throttle"]), late(c["brake"])),
            self.item("lagged throttle", "f32", lagged(c["throttle"], 0.12)),
            self.item("lagged brake", "f32", lagged(c["brake"], 0.15)),
            self.item("lagged engine speed", "f32", lagged(c["engine_speed"], 0.2)),
            self.item("brake pressures", "f32", *(lagged(c["brake"], 0.03) * p for p in (83.0, 83.0, 51.0, 51.0))),
            self.item("share of the limit", "f32", c["engine_speed"] / np.maximum(c["engine_speed_max"], 1.0)),
            self.item("limit light", "u8", 100.0 * c["engine_speed"] / np.maximum(c["engine_speed_max"], 1.0)),
            self.item("brake light", "u8", (c["brake"] > 0.02).astype(float)),
            self.item("boost", "f32", lagged(c["throttle"], 0.5) * 1.4),
            self.item(
                "torque", "f32", c["throttle"] * 380.0 * np.sin(np.clip(c["engine_speed"] / 8000.0, 0, 1.5)) - 20.0
            ),
            self.item("total distance", "f32", distance + 12000.0),
            self.item("wheel force", "f32", lagged(c["ay"] * 0.4, 0.05) + noise.normal(0, 0.2, self.n)),
            self.item("road wheel angle", "f32", c["steer"] / 13.0),
            self.item("downforce", "f32", c["speed"] ** 2 * 1.1),
            self.item("display speed", "u8", c["speed"] * 3.6),
            self.item("gear letter", "u8", np.where(c["gear"] == 0, 78.0, 48.0 + c["gear"])),
            self.item("late gear", "u8", late(late(late(late(c["gear"]))))),
            self.item("camera", "f32", lagged(c["x"], 0.4), lagged(c["y"], 0.4), lagged(c["z"], 0.4) + 2.0),
            self.item("head", "f32", *(noise.normal(0, 0.01, self.n) for _ in range(3))),
            self.item("uptime", "u32", (c["t"] - c["t"][0]) * 1000.0 + 86_400_000.0),
            self.item("frame", "u32", ticks + 7.0),
            self.item("time left", "f32", 1800.0 - (c["t"] - c["t"][0])),
            self.item("sector", "u8", np.floor(3.0 * c["lap_distance"] / np.maximum(c["track_length"], 1.0))),
            self.item("laps done", "u8", np.maximum(c["lap"] - 1.0, 0.0)),
            self.item("pressures", "f32", *(160.0 + 0.2 * i + lagged(c["speed"], 30.0) * 0.1 for i in range(4))),
            self.item("temperatures", "f32", *(70.0 + lagged(np.abs(c["ay"]), 8.0) for _ in range(4))),
            self.item("world velocity", "f32", c["speed"] * np.cos(c["yaw"]), c["speed"] * np.sin(c["yaw"])),
            self.item(
                "suspension",
                "f32",
                *(0.04 + 0.001 * s * c["ay"] + noise.normal(0, 3e-4, self.n) for s in (1, -1, 1, -1)),
            ),
        ]
        chosen = [item for item in every if self.chance(0.35)]
        for other in self.others:
            chosen.append(self.other(other))
        return chosen

    def other(self, columns: Columns) -> Item:
        """Another car: it drives all the time, on the same circuit."""
        moving = np.flatnonzero(columns["speed"] > 5.0)
        begin = int(moving[0])
        count = len(columns["t"]) - begin
        place = begin + (np.arange(self.n) + self.rng.randrange(count)) % count
        pick = [columns["x"][place], columns["y"][place], columns["speed"][place]]
        if self.chance(0.3):
            pick += [columns["throttle"][place], columns["brake"][place], columns["lap_distance"][place]]
        return self.item("another car", "f32", *pick)

    def unrelated(self) -> Item:
        """Bytes that are no channel."""
        n, noise = self.n, self.noise
        kind = self.one(
            "constant", "constant", "zeros", "noise", "walk", "sine", "counter", "text", "bits", "flags", "bytes"
        )
        match kind:
            case "constant":
                type_ = self.one("f32", "f64", "u8", "i32", "u16")
                return self.item("constant", type_, np.full(n, float(self.rng.choice((1, 3, 200, 1234, 0.35)))))
            case "zeros":
                return self.item("zeros", "u8", *[np.zeros(n)] * self.rng.randint(1, 24))
            case "noise":
                return self.item("noise", self.one("f32", "f64"), noise.normal(0, self.rng.choice((0.1, 1, 300)), n))
            case "walk":
                return self.item("walk", self.one("f32", "f64"), np.cumsum(noise.normal(0, 0.1, n)))
            case "sine":
                wave = np.sin(self.c["t"] * self.rng.uniform(0.05, 3.0) + self.rng.uniform(0, 6))
                return self.item("sine", self.one("f32", "f64"), wave * self.rng.choice((1.0, 50.0)))
            case "counter":
                step = self.rng.choice((1, 2, 7, 60))
                return self.item("counter", self.one("u8", "u16", "u32"), np.floor(np.arange(n) / step) % 256)
            case "text":
                letters = [np.full(n, float(self.rng.randrange(32, 127))) for _ in range(self.rng.randint(4, 32))]
                return self.item("text", "u8", *letters)
            case "bits":
                return self.item("bits", "u8", noise.integers(0, 4, n) * 16.0 + 3.0)
            case "flags":
                return self.item("flags", "u8", (np.cumsum(noise.random(n) < 0.001) % 2).astype(float) * 4.0 + 1.0)
            case _:
                return self.item("bytes", "u8", *(noise.integers(0, 256, n).astype(float) for _ in range(4)))

    # -- the packet

    def stream(self, size: int | None = None, kinds: int | None = None) -> Stream:
        """The drive in packets of about `size` bytes (100..1500)."""
        rng, c = self.rng, self.c
        size = size or round(math.exp(rng.uniform(math.log(100), math.log(1500))))
        must = [
            self.speed("speed", c["speed"]), self.engine(), self.gear(), self.share("throttle", c["throttle"]),
            self.share("brake", c["brake"]), self.steer(),
            self.item("lap", self.one("u8", "u16", "i32", "u32", "f32") , c["lap"]),
        ]  # fmt: skip
        where = self.one("x+y", "x+y", "both", "both", "lap_distance")
        if where != "lap_distance":
            must.append(self.position())
        if where != "x+y":
            must.append(self.distance())
        must += self.clock()
        room = size - sum(len(item.values) * struct.calcsize(CODE[item.type]) for item in must) - 4
        extra = self.further() + self.lookalikes()
        rng.shuffle(extra)
        items = list(must)
        for item in extra:
            need = len(item.values) * struct.calcsize(CODE[item.type])
            if need <= room * 0.9:
                items.append(item)
                room -= need
        while room > 8:
            item = self.unrelated()
            need = len(item.values) * struct.calcsize(CODE[item.type])
            if need <= room:
                items.append(item)
                room -= need
            else:
                items.append(self.item("pad", "u8", *[np.zeros(self.n)] * room))
                room = 0
        rng.shuffle(items)
        if not self.chance(0.15) or room < 0:
            return self._packets([items])
        clocks = [item for item in items if item.name == "t"]
        rest = [item for item in items if item.name != "t"]
        cut = rng.randrange(len(rest) // 3, 2 * len(rest) // 3 + 1)
        return self._packets([clocks + rest[:cut], rest[cut:] + clocks])

    def _packets(self, groups: list[list[Item]]) -> Stream:
        """Packets of one kind, or of two in turn: of unlike lengths, or told by a byte near the begin."""
        rng = self.rng
        places: dict[str, str] = {}
        matrices = [self._matrix(items, places, kind) for kind, items in enumerate(groups)]
        if len(matrices) > 1 and self.chance(0.5):
            width = max(matrix.shape[1] for matrix in matrices)
            magic = [rng.randrange(1, 255) for _ in range(rng.randrange(8))]
            for kind, matrix in enumerate(matrices):
                header = np.tile(np.array([*magic, kind * 2 + 1], dtype=np.uint8), (self.n, 1))
                pad = np.zeros((self.n, width - matrix.shape[1]), dtype=np.uint8)
                matrices[kind] = np.ascontiguousarray(np.concatenate([header, matrix, pad], axis=1))
            places = {name: f"{place} behind {len(magic) + 1}" for name, place in places.items()}
        t = self.c["t"] - self.c["t"][0]
        self.base, drift = rng.uniform(10.0, 1e5), 1.0 + rng.uniform(-3e-5, 3e-5)
        jitter = self.noise.exponential(rng.choice((2e-4, 1e-3, 3e-3)), self.n)
        received = np.maximum.accumulate(self.base + t * drift + jitter)
        share = rng.choice((0.0, 0.0, 0.003))
        packets, rows = [], []
        lost = self.noise.random((self.n, len(matrices))) < share
        for i in range(self.n):
            for kind, matrix in enumerate(matrices):
                if not lost[i, kind]:
                    packets.append(Datagram(float(received[i]) + 2e-4 * kind, matrix[i].tobytes()))
                    rows.append(i)
        return Stream(packets, rows, places, {item.name for items in groups for item in items})

    def _matrix(self, items: list[Item], places: dict[str, str], kind: int) -> NDArray[np.uint8]:
        """[rows, bytes] of one kind of packet"""
        rng = self.rng
        big, mixed, packed = self.chance(0.3), self.chance(0.15), self.chance(0.6)
        parts, at = [], 0
        for item in items:
            width = struct.calcsize(CODE[item.type])
            if not packed and at % width:
                gap = width - at % width
                parts.append(np.zeros((self.n, gap), dtype=np.uint8))
                at += gap
            order = rng.random() < 0.5 if mixed else big
            block = item.packed(order)
            where = f"{at}:{item.type}{'>' if order else '<'}x{len(item.values)}"
            places.setdefault(item.name, where + (f" of kind {kind}" if kind else ""))
            at += block.shape[1]
            parts.append(block)
        return np.ascontiguousarray(np.concatenate(parts, axis=1))
