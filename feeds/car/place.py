"""Where a car is on a circuit: its station and its offset, found by walking on from the last place."""

from __future__ import annotations

import math

from feeds.car.circuit import Circuit


class Place:
    """Follows one car. `station` m along the centre line, `offset` m to its left, `heading` rad of the centre line
    there, `laps` how often the line was crossed forwards (less backwards)."""

    __slots__ = ("_circuit", "_count", "_heading", "_index", "_x", "_y", "heading", "laps", "offset", "station")

    def __init__(self, circuit: Circuit, station: float) -> None:
        self._circuit = circuit
        self._x, self._y, self._heading = circuit.x.tolist(), circuit.y.tolist(), circuit.heading.tolist()
        self._count = len(self._x) - 1
        self._index = int(station % circuit.length / circuit.step)
        self.station, self.offset, self.heading = station % circuit.length, 0.0, self._heading[self._index]
        self.laps = 0

    def find(self, x: float, y: float) -> None:
        """The car is at `x`, `y` now (m); it has moved less than a bend's radius since the last time."""
        step, index, went = self._circuit.step, self._index, 0
        while True:
            turn = self._heading[index]
            dx, dy = x - self._x[index], y - self._y[index]
            along = dx * math.cos(turn) + dy * math.sin(turn)
            if along >= step and went >= 0:
                index, went = index + 1, 1
                if index == self._count:
                    index, self.laps = 0, self.laps + 1
            elif along < 0.0 and went <= 0:
                index, went = index - 1, -1
                if index < 0:
                    index, self.laps = self._count - 1, self.laps - 1
            else:  # outside of a bend two stretches may each say the other: the way that it came decides
                break
        self._index = index
        self.station = index * step + along
        self.offset = -dx * math.sin(turn) + dy * math.cos(turn)
        bend = self._heading[index + 1] - turn
        self.heading = turn + bend * along / step
