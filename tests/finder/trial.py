"""One try of the finder: a drive, packed by a random layout, and what was found right, wrong or missed."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from feeds.base import Datagram
from feeds.finder import Proposal, Step, find
from tests.finder.columns import Columns, mirrored, moved
from tests.finder.packets import Maker
from tests.finder.prelude import led_in
from tests.finder.scoring import judged

CAN = {
    "speed": "speed", "engine_speed": "engine_speed", "gear": "gear", "throttle": "throttle", "brake": "brake",
    "steer": "steer", "lap": "lap", "t": "t", "lap_time": "lap_time", "last_lap_time": "last_lap_time", "yaw": "yaw",
    "yaw_rate": "yaw_rate", "ax": "ax, ay", "ay": "ax, ay", "clutch": "clutch",
}  # fmt: skip
"""What the finder looks for, and the item of the packet maker that carries it."""


@dataclass
class Trial:
    """`judged` channel: right?; `missed`: sent and not found; `places`: where each item stands; `seconds` of CPU."""

    proposal: Proposal
    judged: dict[str, bool]
    missed: list[str]
    places: dict[str, str]
    size: int
    seconds: float
    packets: list[Datagram]


def tried(
    drive: Columns,
    seed: int,
    steps: bool = True,
    size: int | None = None,
    change: Callable[[Columns, list[Step]], Columns] | None = None,
) -> Trial:
    """Draws all by `seed`: mirrored or not, the world's frame, the prelude, the layout, its neighbours.

    `change` alters what happened before it is packed.
    """
    chance = np.random.default_rng(seed)
    drive = mirrored(drive) if chance.random() < 0.5 else drive
    drive = moved(drive, chance.uniform(0, 6.3), chance.uniform(-3000, 3000), chance.uniform(-3000, 3000))
    prelude = led_in(drive, seed, clutch=chance.random() < 0.7, gears=chance.random() < 0.7)
    others = [drive] if chance.random() < 0.4 else []
    columns = prelude.columns if steps else drive
    if change is not None:
        columns = change(columns, prelude.steps)
    maker = Maker(columns, seed, others)
    stream = maker.stream(size)
    shift = maker.base - float(columns["t"][0])
    spans = [Step(s.name, s.begins + shift, s.ends + shift) for s in prelude.steps] if steps else []
    begun = time.process_time()
    proposal = find(stream.packets, spans)
    seconds = time.process_time() - begun
    verdict = judged(proposal, stream.packets, stream.rows, columns)
    if "x+y" in verdict or "lap_distance" in verdict:
        verdict["place"] = verdict.get("x+y", True) and verdict.get("lap_distance", True)
    missed = [channel for channel, item in CAN.items() if item in stream.sent and channel not in verdict]
    missed += [c for c in ("x+y", "lap_distance") if c in stream.sent and c not in verdict]
    if "place" not in verdict:
        missed.append("place")
    return Trial(proposal, verdict, missed, stream.places, len(stream.packets[0].data), seconds, stream.packets)
