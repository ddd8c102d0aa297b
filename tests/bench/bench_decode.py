"""What decoding costs: `python tests/bench/bench_decode.py [datagrams]`.

In one run over the same invented datagrams of 25 channels: a filled loopback socket drained by `recv_into` and parsed
by a bare `json.loads`, against the same drained by the receiver and decoded to samples. Best of several rounds.
"""

from __future__ import annotations

import json
import math
import socket
import sys
import time
from collections.abc import Callable

from feeds.base import Feed
from feeds.generic import GenericFeed
from feeds.udp import UdpReceiver

ROUNDS = 7


def datagrams(count: int) -> list[bytes]:
    """Datagrams of a car on an invented circuit, rounded as a source would."""
    made = []
    for index in range(count):
        t = index / 60.0
        turn = math.sin(t / 3.0)
        speed = 45.0 + 15.0 * math.cos(t / 3.0)
        made.append(
            json.dumps(
                {
                    "t": round(t, 3), "session": "morning", "track": "Quarry Ring", "car": "Hare 1200",
                    "driver": "driver one", "lap": index // 5400, "lap_time": round(t % 90.0, 3),
                    "lap_distance": round(45.0 * t % 4050.0, 3), "track_length": 4050.0,
                    "x": round(400.0 * math.cos(t / 14.3), 3), "y": round(400.0 * math.sin(t / 14.3), 3),
                    "yaw": round(t / 14.3 % math.tau, 4), "yaw_rate": round(turn / 3.0, 4), "speed": round(speed, 3),
                    "vx": round(speed, 3), "vy": round(turn, 3), "ax": round(5.0 * turn, 2), "ay": round(9.0 * turn, 2),
                    "throttle": round(max(turn, 0.0), 3), "brake": round(max(-turn, 0.0), 3), "steer": round(turn, 4),
                    "gear": 3 + int(2.0 * turn), "engine_speed": round(6000.0 + 900.0 * turn, 1),
                    "wheel_speed": [round(speed + corner, 2) for corner in (-0.2, 0.2, -0.1, 0.1)],
                    "edge_left": round(5.0 + turn, 2), "edge_right": round(5.0 - turn, 2),
                },
                separators=(",", ":"),
            ).encode()
        )  # fmt: skip
    return made


def filled(receiver_address: tuple[str, int], batch: list[bytes]) -> socket.socket:
    """A sender that has sent the whole batch."""
    sender = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    for data in batch:
        sender.sendto(data, receiver_address)
    return sender


def bare(batch: list[bytes]) -> float:
    """s a datagram: recv_into and json.loads, nothing else."""
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
                while True:
                    size = listener.recv_into(buffer)
                    json.loads(bytes(view[:size]))
                    count += 1
            except BlockingIOError:
                return (time.perf_counter() - start) / count


def ours(batch: list[bytes], feed: Feed) -> float:
    """s a datagram: received with time and sender, and decoded to a sample."""
    with UdpReceiver(port=0) as receiver, filled(("127.0.0.1", receiver.port), batch):
        count = 0
        start = time.perf_counter()
        while waiting := receiver.receive(0.0):
            for datagram in waiting:
                feed.decode(datagram.data, datagram.received)
                receiver.confirm(datagram.sender)
            count += len(waiting)
        spent = time.perf_counter() - start
    return spent / count


def alone(batch: list[bytes], decode: Callable[[bytes], object]) -> float:
    """s a datagram, without a socket."""
    start = time.perf_counter()
    for data in batch:
        decode(data)
    return (time.perf_counter() - start) / len(batch)


def main() -> None:
    """Measure and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    batch = datagrams(count)
    feed = GenericFeed()
    rounds = [
        (bare(batch), ours(batch, feed), alone(batch, json.loads), alone(batch, feed.decode)) for _ in range(ROUNDS)
    ]
    floor, whole, loads, decode = (min(column) * 1e6 for column in zip(*rounds, strict=True))
    keys = len(json.loads(batch[0]))
    print(f"{count} datagrams of {len(batch[0])} bytes, {keys} keys, best of {ROUNDS} rounds, us a datagram")
    print(f"recv_into + json.loads        {floor:6.2f}")
    print(f"receive + decode to a sample  {whole:6.2f}   ratio {whole / floor:.2f}")
    print(f"json.loads alone              {loads:6.2f}")
    print(f"decode alone                  {decode:6.2f}   ratio {decode / loads:.2f}")


if __name__ == "__main__":
    main()
