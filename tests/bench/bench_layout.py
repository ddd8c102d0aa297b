"""What decoding by a layout costs: `python -m tests.bench.bench_layout [packets]`.

In one run over the same invented packets of 300 bytes, of which 25 channels are read, those of bench_decode.py: a
filled loopback socket drained by `recv_into` and unpacked by a bare `struct.unpack_from` of those fields, against the
same drained by `recv_into`, and by the receiver, and decoded to samples. Best of several rounds.
"""

from __future__ import annotations

import math
import socket
import struct
import sys
import time

from coach.vocabulary.sample import Sample
from feeds.layout import LayoutFeed, layout_from_text
from tests.bench.bench_decode import alone, filled, ours

ROUNDS = 21

FILE = b"""
layout = 1
name = "bench"
[[packet]]
name = "all"
length = 300
match = [{ offset = 0, bytes = "43 57" }, { offset = 2, type = "u8", is = 3 }]
[packet.channels]
t = { offset = 4, type = "f64" }
lap = { offset = 12, type = "u16" }
lap_time = { offset = 14, type = "u32", convert = "ms" }
lap_distance = { offset = 18, type = "f32" }
track_length = { offset = 22, type = "f32" }
x = { offset = 26, type = "f32" }
y = { offset = 34, type = "f32" }
yaw = { offset = 38, type = "f32", positive = "right", zero = "north" }
yaw_rate = { offset = 42, type = "f32", positive = "right" }
speed = { offset = 46, type = "f32", convert = "km/h" }
velocity = { offset = 50, type = "f32", axes = "right up forward" }
ax = { offset = 62, type = "f32", convert = "g" }
ay = { offset = 66, type = "f32", convert = "g" }
throttle = { offset = 70, type = "f32" }
brake = { offset = 74, type = "f32" }
steer = { offset = 80, type = "f32", scale = -7.85 }
gear = { offset = 88, type = "u8", bias = -1 }
engine_speed = { offset = 90, type = "f32", convert = "rad/s" }
wheel_speed = { offset = 120, type = "f32", radius = 0.33 }
edge_left = { offset = 140, type = "f32" }
edge_right = { offset = 144, type = "f32" }
session = { offset = 160, type = "text", length = 16 }
driver = { offset = 176, type = "text", length = 24 }
track = { offset = 200, type = "text", length = 32 }
car = { offset = 232, type = "text", length = 32 }
"""
FIELDS = struct.Struct("<2sBxdHI3f4x9f2f2xf4xBxf26x4f4x2f12x16s24s32s32s36x")
"""These fields, those of match included, written by hand: what a program made for this packet would unpack."""
WHOLE = struct.Struct("<2sBBdHI4f9f2fHfIBBf6f2B4ff2f3f16s24s32s32s9f")
"""Every field of the packet, with those between them that the layout does not read."""


def packets(count: int) -> list[bytes]:
    """Packets of a car on an invented circuit."""
    made = []
    for index in range(count):
        t = index / 360.0
        turn = math.sin(t / 3.0)
        speed = 45.0 + 15.0 * math.cos(t / 3.0)
        packed = FIELDS.pack(
            b"CW", 3, t, index // 5400, int(1000 * (t % 90.0)), 45.0 * t % 4050.0, 4050.0, 400.0 * turn, 300.0,
            t / 14.3 % math.tau, turn / 3.0, 3.6 * speed, turn, 0.0, speed, 0.5 * turn, 0.9 * turn,
            max(turn, 0.0), max(-turn, 0.0), turn, 4 + int(2.0 * turn), 628.0 + 90.0 * turn,
            *(speed / 0.33 + wheel for wheel in (-0.2, 0.2, -0.1, 0.1)), 5.0 + turn, 5.0 - turn,
            b"morning", b"driver one", b"Quarry Ring", b"Hare 1200",
        )  # fmt: skip
        made.append(packed)
    assert len(made[0]) == 300
    return made


def drained(batch: list[bytes], by: LayoutFeed | struct.Struct) -> float:
    """s a packet: a filled socket drained by recv_into, each packet decoded; by a struct: unpacked, nothing else."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as listener:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2 * 1024 * 1024)
        listener.bind(("127.0.0.1", 0))
        listener.setblocking(False)
        buffer = bytearray(65_535)
        view = memoryview(buffer)
        with filled(listener.getsockname(), batch):
            count = 0
            start = time.perf_counter()
            try:
                if isinstance(by, struct.Struct):
                    unpack = by.unpack_from
                    while True:
                        listener.recv_into(buffer)
                        unpack(buffer)
                        count += 1
                decode = by.decode
                while True:
                    size = listener.recv_into(buffer)
                    decode(bytes(view[:size]))
                    count += 1
            except BlockingIOError:
                return (time.perf_counter() - start) / count


def main() -> None:
    """Measure and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    batch = packets(count)
    feed = LayoutFeed(layout_from_text(FILE))
    unpack, decode = FIELDS.unpack_from, feed.decode
    sample = decode(batch[-1])
    assert isinstance(sample, Sample)
    rounds = [
        (
            drained(batch, FIELDS),
            drained(batch, WHOLE),
            drained(batch, feed),
            ours(batch, feed),
            alone(batch, unpack),
            alone(batch, decode),
        )
        for _ in range(ROUNDS)
    ]
    floor, every, whole, with_receiver, bare, decoding = (min(column) * 1e6 for column in zip(*rounds, strict=True))
    fields, all_fields = len(unpack(batch[0])), len(WHOLE.unpack(batch[0]))
    print(f"{count} packets of {len(batch[0])} bytes, 25 channels, best of {ROUNDS} rounds, us a packet")
    print(f"recv_into + unpack_from of {all_fields} fields, all that there are  {every:6.2f}   (A)")
    print(f"recv_into + unpack_from of the {fields} fields that are read   {floor:6.2f}   (B)")
    print(f"unpack_from of these fields alone                      {bare:6.2f}")
    for what, spent in (
        ("decode alone", decoding),
        ("recv_into + decode", whole),
        ("receiver + decode", with_receiver),
    ):
        print(f"{what:54} {spent:6.2f}   {spent / every:.2f} x A, {spent / floor:.2f} x B")
    assert feed.left_out.total == 0


if __name__ == "__main__":
    main()
