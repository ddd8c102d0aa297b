"""The racing line: the way round a circuit that bends least between the edges.

The offset from the centre line that makes the sum of squared curvature least, with a price on the change of curvature
(a hand turns a wheel smoothly), is a least-squares problem with bounds, solved by alternating directions (ADMM: Boyd
and others 2011, `from memory`): since the circuit is closed and evenly sampled, the unbounded part is a circulant
system, which the Fourier transform solves. The path is a periodic cubic spline through the offsets.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from feeds.car.circuit import Circuit

Floats = NDArray[np.float64]

SPACING = 5.0
"""m between the offsets that are solved for, about."""
SMOOTH = 10.0
"""m: weight of the change of curvature against curvature."""
CENTRE = 1e-10
"""1/m^4: weight of the offset itself; where nothing bends, the middle of the road."""
FIRM, RELAXED = 1e-5, 1.6
"""1/m^4 and 1: how firmly the two directions are held together, and how far each step overshoots."""
ROUNDS = 3000
SETTLED = 1e-5
"""m: smaller steps end the rounds."""


class Path:
    """A way round, by the circuit's stations (the last entry is the line again).

    `offset` m to the left of the centre line, `slope` and `second` its derivatives by station, `curvature` of the path
    (1/m), `stretch` m of path for each m of centre line, `course` rad that it heads to the left of the centre line.
    """

    def __init__(self, circuit: Circuit, offset: Floats, slope: Floats, second: Floats) -> None:
        self.offset, self.slope, self.second = offset, slope, second
        centre = circuit.curvature
        along = 1.0 - centre * offset
        self.stretch: Floats = np.hypot(along, slope)
        change = np.gradient(centre, circuit.step)
        turn = along * (centre * along + second) + slope * (change * offset + 2 * centre * slope)
        self.curvature: Floats = turn / self.stretch**3
        self.course: Floats = np.arctan2(slope, along)


def racing_line(circuit: Circuit, room: float) -> Path:
    """The least-curvature path that keeps the car's centre line `room` m from each edge."""
    count = max(int(circuit.length / SPACING), 50)
    step = circuit.length / count
    bend = np.interp(np.arange(count) * step, circuit.station, circuit.curvature)
    knots = _least_bent(bend, step, circuit.width / 2 - room)
    return Path(circuit, *_periodic_spline(knots, step, circuit.station))


def shifted(circuit: Circuit, path: Path, shift: Floats) -> Path:
    """The path moved to the left by `shift` m at each station (smooth, periodic)."""
    step, inner = circuit.step, shift[:-1]
    first = (np.roll(inner, -1) - np.roll(inner, 1)) / (2 * step)
    second = (np.roll(inner, -1) - 2 * inner + np.roll(inner, 1)) / step**2
    return Path(
        circuit,
        path.offset + shift,
        path.slope + np.append(first, first[0]),
        path.second + np.append(second, second[0]),
    )


def _least_bent(bend: Floats, step: float, bound: float) -> Floats:
    """Offsets within +-`bound` m that make curvature and its change least; the centre line bends by `bend` (1/m)."""
    count = len(bend)
    wave = np.exp(2j * math.pi * np.arange(count // 2 + 1) / count)
    second = (wave - 2 + 1 / wave) / step**2
    ahead = SMOOTH * (wave - 1) / step
    price = abs(second) ** 2 * (1 + abs(ahead) ** 2)
    wanted = -np.conj(second) * (1 + abs(ahead) ** 2) * np.fft.rfft(bend)
    solve = 1.0 / (price + CENTRE + FIRM)
    held, apart = np.zeros(count), np.zeros(count)
    for _ in range(ROUNDS):
        free = np.fft.irfft((wanted + FIRM * np.fft.rfft(held - apart)) * solve, count)
        free = RELAXED * free + (1 - RELAXED) * held
        before, held = held, np.clip(free + apart, -bound, bound)
        apart += free - held
        if float(np.max(np.abs(held - before))) < SETTLED:
            break
    return held


def _periodic_spline(knots: Floats, step: float, at: Floats) -> tuple[Floats, Floats, Floats]:
    """The periodic cubic spline through evenly spaced `knots`, and its first two derivatives, at each place."""
    count = len(knots)
    waves = np.cos(2 * math.pi * np.arange(count // 2 + 1) / count)
    bends = np.fft.rfft(np.roll(knots, -1) - 2 * knots + np.roll(knots, 1)) / step**2
    moments = np.fft.irfft(bends / ((4 + 2 * waves) / 6), count)
    index = np.floor(at / step).astype(int)
    b = at / step - index
    a = 1.0 - b
    low, high = index % count, (index + 1) % count
    y0, y1, m0, m1 = knots[low], knots[high], moments[low], moments[high]
    value = a * y0 + b * y1 + ((a**3 - a) * m0 + (b**3 - b) * m1) * step**2 / 6
    first = (y1 - y0) / step + ((1 - 3 * a**2) * m0 + (3 * b**2 - 1) * m1) * step / 6
    return value, first, a * m0 + b * m1


def smooth_bump(station: Floats, begins: float, peak: float, ends: float, length: float) -> Floats:
    """1 at `peak`, 0 before `begins` and after `ends` (m, may go over the line), a cosine between."""
    out = np.zeros_like(station)
    for side, reach in ((-1, peak - begins), (1, ends - peak)):
        away = (station - peak + length / 2) % length - length / 2
        here = (away * side >= 0) & (np.abs(away) <= reach)
        out[here] = (1 + np.cos(math.pi * np.abs(away[here]) / max(reach, 1e-6))) / 2
    return out
