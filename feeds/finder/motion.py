"""Speed, position and distance along the lap: one is the derivative of the other, and that ties their units."""

from __future__ import annotations

from feeds.finder.choice import at
from feeds.finder.distance import distances_in, settled_distance
from feeds.finder.evidence import Evidence
from feeds.finder.position import pairs_in, settled_position, turn_right
from feeds.finder.speed import is_wheel, speeds_in

WHEELS_MEND = ": take it as the speed if nothing better is sent; it is off while that wheel slips"


def find_motion(evidence: Evidence) -> list[int]:
    """Finds speed, x, y and lap_distance; returns the rows at which the distance begins anew."""
    speeds = speeds_in(evidence)
    if not speeds:
        for channel in ("speed", "x", "y", "lap_distance"):
            evidence.left_out[channel] = (
                "nothing in the packet is 0 while the car stands, more while it drives, and goes with the pedals"
            )
        return []
    position = settled_position(evidence, pairs_in(evidence, speeds))
    if position is not None:
        if is_wheel(speeds, position.speed.column):
            evidence.left_out["speed"] = f"bytes {at(position.speed)} are one of four wheels' speeds{WHEELS_MEND}"
        else:
            evidence.keep("speed", position.speed, 0.99 - position.score)
        evidence.pace = position.speed.values
        evidence.path = position.x.values, position.y.values
        turn_right(evidence, position)
    distance = settled_distance(evidence, distances_in(evidence, speeds, position), speeds)
    if distance is None:
        if evidence.pace is None:
            evidence.left_out.setdefault("speed", "neither a position nor a distance confirms it or its unit")
        return []
    if evidence.pace is None:
        evidence.pace = distance.speed.values
        if distance.per is None:
            evidence.left_out["speed"] = f"bytes {at(distance.speed)} are it, but nothing tells the unit"
        elif is_wheel(speeds, distance.speed.column):
            evidence.left_out["speed"] = f"bytes {at(distance.speed)} are one of four wheels' speeds{WHEELS_MEND}"
        elif distance.speed_sure:
            evidence.keep("speed", distance.speed, 0.95 - distance.score)
    if distance.per is None:
        evidence.left_out["lap_distance"] = (
            f"bytes {at(distance.distance)} hold it as a share of the lap: give the lap's length in m as its scale"
        )
    else:
        evidence.keep("lap_distance", distance.distance, 0.97 - distance.score)
    return distance.wraps
