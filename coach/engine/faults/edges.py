"""Off the track.

The contract's rule: the car's centre is further beyond a track edge than half the car's width, so that the whole car is
beyond it, for 0.1 s; or the source says so (`on_track`), or calls the lap invalid. With one side over, the car uses the
kerb, and that is no fault. `edge_*` is m from the car's centre line to the edge, negative beyond it, so with the usual
1.9 m of width the whole car is beyond at -0.95 m. Where the source turns a lap invalid, its own rules say so, and how
far the car was out is known only where edges are sent. A lap that was called invalid before it began is no news.

Channels: any of `edge_left`, `edge_right`, `on_track`, `lap_valid`; `car_width` where sent. No aid switches it off.
"""

from __future__ import annotations

from typing import ClassVar

from coach.engine.conduct import CAR_WIDTH, OFF_TRACK_TIME, STANDING, half_width
from coach.engine.faults.base import Finding
from coach.engine.faults.lapline import LapLine
from coach.engine.shown import Shown
from coach.vocabulary.sample import Sample

WAIT = 1.0
"""s after the car ran off that the size is still waited for; the report is due within 1.5 s."""
APART = 3.0
"""s on the road between two excursions; nearer ones are one: the car comes back over the edge and slides out again
(choice)."""
HAIR = 1e-9
"""s, so that 0.1 s of samples at 10 or 20 a second are 0.1 s."""
PLAIN = 2.0
"""Strength at least: nothing at all is allowed beyond the edge, so that no lesser fault hides it (choice)."""
PHASES = ("entry", "exit", "straight")
"""What it touches: wherever it was, speed and line are lost from there on."""


class EdgeWatch:
    """`off_track`: m by which the whole car was beyond the edge at most; 0 where only the source's word is known."""

    name: ClassVar[str] = "edges"
    faults: ClassVar[tuple[str, ...]] = ("off_track",)
    needs: ClassVar[tuple[str, ...]] = ("edge",)
    off_with: ClassVar[str | None] = None

    def __init__(self) -> None:
        self._line = LapLine()
        self._t = 0.0
        self._valid: bool | None = None
        self._since: tuple[float, float] | None = None
        """s and m: since when and where the car is beyond, or the lap invalid"""
        self._sure = self._was_out = False
        self._furthest = 0.0
        self._side = ""
        self._by = ""
        self._ended: float | None = None
        """s: when the car was last out in an excursion that was told"""
        self._off_lap = False
        """one was told on this lap: that it does not count, said late, is no news"""

    def reset(self) -> None:
        """What was going on is over; whether the lap counts is asked anew."""
        self._line.forget()
        self._valid = None
        self._ended, self._off_lap = None, False
        self._forget()

    def watch(self, sample: Sample, progress: float, shown: Shown) -> list[Finding]:
        """Takes one sample in. An excursion is told when the car is back, or has been out for a second."""
        t, speed = sample.t, sample.speed
        moved = self._line.crossed(progress, (speed or 0.0) * (t - self._t))
        self._t = t
        if moved:
            self._off_lap = False
            if self._since is not None:
                self._since = (self._since[0], self._since[1] - moved)
        out, beyond, side = _beyond(sample)
        if speed is not None and speed < STANDING:
            out = False
        spoilt = self._spoilt(sample)
        if self._since is None and not out and not spoilt:
            return []
        if out and self._ended is not None and t - self._ended < APART:
            self._ended = t
            return []
        if spoilt and self._since is None and (self._off_lap or (self._ended is not None and t - self._ended < APART)):
            return []
        return self._follow(t, progress, out, beyond, side, spoilt)

    def _follow(
        self, t: float, progress: float, out: bool | None, beyond: float, side: str, spoilt: bool
    ) -> list[Finding]:
        """One sample of an excursion; `out` None: a packet without the channels, so it goes on."""
        if self._since is None:
            self._since = (t, progress)
            self._by = "lap_valid" if spoilt else "edges" if side else "on_track"
        since = self._since[0]
        if out:
            self._was_out = True
            if beyond > self._furthest:
                self._furthest, self._side = beyond, side
        self._sure = self._sure or spoilt or (out is True and t - since >= OFF_TRACK_TIME - HAIR)
        back = out is False
        if not self._sure:
            if back:
                self._forget()
            return []
        return [self._told(t)] if t - since >= WAIT - HAIR or (back and self._was_out) else []

    def _told(self, t: float) -> Finding:
        assert self._since is not None
        begins, distance = self._since
        evidence = {"side": self._side or None, "by": self._by}
        strength = PLAIN + 2.0 * self._furthest / CAR_WIDTH
        finding = Finding("off_track", distance, begins, self._furthest, "m", PHASES, evidence, strength)
        self._ended, self._off_lap = t, True
        self._forget()
        return finding

    def _forget(self) -> None:
        self._since = None
        self._sure = self._was_out = False
        self._furthest, self._side, self._by = 0.0, "", ""

    def _spoilt(self, sample: Sample) -> bool:
        """Whether the source has just turned the running lap invalid."""
        valid = sample.lap_valid
        if valid is None:
            return False
        before, self._valid = self._valid, valid
        return before is True and not valid and not sample.in_pit


def _beyond(sample: Sample) -> tuple[bool | None, float, str]:
    """Whether the whole car is beyond an edge (None: not known now), by how many m, and on which side."""
    left, right = sample.edge_left, sample.edge_right
    if sample.in_pit:
        return False, 0.0, ""
    half = half_width(sample)
    if left is not None and left < -half:
        return True, -left - half, "left"
    if right is not None and right < -half:
        return True, -right - half, "right"
    if sample.on_track is not None:
        return not sample.on_track, 0.0, ""
    return (None if left is None and right is None else False), 0.0, ""
