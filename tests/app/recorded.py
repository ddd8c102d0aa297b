"""Recordings for the tests of the verbs that look into them."""

from __future__ import annotations

import json
import struct
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from coach.app.source import Source
from coach.app.start import fresh
from feeds.recording import RecordingWriter
from tests.feeds.captures import ethernet, ipv4, pcap, udp

BEGAN = 1_750_000_000.0
"""s since 1970: 2025-06-15, when the source's clock stood at 0."""
PORT = 26763
FIELDS = ("t", "lap_distance", "speed", "x", "y", "yaw", "throttle", "brake", "steer", "engine_speed")
"""Channels of the binary packets, after a lap count and a gear."""
PACKET = struct.Struct("<4sHb" + "d" * len(FIELDS))
LAYOUT = "\n".join(
    [
        "layout = 1",
        'name = "Bench packet"',
        "[[packet]]",
        'name = "all"',
        f"length = {PACKET.size}",
        'match = [{ offset = 0, text = "CWB1" }]',
        "[packet.channels]",
        'lap = { offset = 4, type = "u16" }',
        'gear = { offset = 6, type = "i8" }',
        *(f'{name} = {{ offset = {7 + 8 * at}, type = "f64" }}' for at, name in enumerate(FIELDS)),
        "",
    ]
)


def recorded(
    rows: Iterable[dict[str, Any]],
    path: Path,
    reference: Path | None = None,
    actions: dict[int, tuple[str, str]] | None = None,
) -> Path:
    """As a live session would have recorded it; `actions`: behind which row what was pressed, and by whom."""
    start = fresh(Source(), None if reference is None else str(reference), ())
    with RecordingWriter(path, start.head()) as writer:
        for number, row in enumerate(rows):
            writer.datagram(BEGAN + row["t"], json.dumps(row).encode())
            if actions is not None and number in actions:
                writer.action(BEGAN + row["t"], *actions[number])
    return path


def packets(rows: Iterable[dict[str, Any]]) -> list[bytes]:
    """The rows as binary packets of the layout."""
    return [PACKET.pack(b"CWB1", row["lap"], row["gear"], *(row[name] for name in FIELDS)) for row in rows]


def capture(rows: list[dict[str, Any]], path: Path) -> Path:
    """The binary packets as a capture of the simulator's port."""
    times = [BEGAN + row["t"] for row in rows]
    frames = [ethernet(ipv4(udp(data, 40_000, PORT))) for data in packets(rows)]
    path.write_bytes(pcap(list(zip(times, frames, strict=True))))
    return path


def layout_file(folder: Path) -> Path:
    """The layout of those packets."""
    path = folder / "bench.toml"
    path.write_text(LAYOUT)
    return path
