"""How datagrams arrive: rate, jitter, loss, order. Pure: times and sizes in, a report out."""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass
from math import isfinite

REWIND = 1.0
"""s: `t` back by this or more is a restart, by less a late datagram (the contract's "Order and jumps"). As far ahead
at once it is a jump: the source paused or was set on, and nobody can tell whether anything was lost."""
HAIR = 1e-6
"""s: clocks are written with few digits, so 12.3 back to 11.3 is a whole second although the floats differ by less."""
BATCH = 256
"""steps of `t` that are judged together: some seconds, in which a source has one pace."""
FEW = 16
"""steps under which a batch has no pace of its own, and that of the one before holds."""
ONE = 1.6
"""A step up to this many of the batch's short ones is a single step: at 360 Hz a clock in whole ms steps by 2 or 3."""
OFF_BEAT = 0.3
"""share of a step by which a step may miss a whole number of steps and still be on the beat."""
REGULAR = 0.95
"""share of a batch's steps that have to be on the beat before a hole in it is called loss."""
REMEMBERED = 64
"""times kept to tell a late datagram that is new from one that came before."""


class Jitter:
    """The interarrival jitter of RFC 3550, section 6.4.1 and appendix A.8, in the unit of what it is given."""

    __slots__ = ("_transit", "value")

    def __init__(self) -> None:
        self.value = 0.0
        self._transit: float | None = None

    def take(self, transit: float) -> None:
        """`transit` is arrival less time stamp, from any two clocks of one pace: their offset cancels."""
        before, self._transit = self._transit, transit
        if before is not None:
            self.value += (abs(transit - before) - self.value) / 16.0

    def restart(self, transit: float | None = None) -> None:
        """The clocks were set against each other: the next difference is from `transit`, or the next but one."""
        self._transit = transit


@dataclass(frozen=True, slots=True)
class ArrivalReport:
    """What `Arrival` has seen so far. Times in s of the receive clock, where not said otherwise.

    A time in which the source's own clock stands while datagrams come (`stood`) is a pause of the source, mostly.
    """

    datagrams: int
    """all that came"""
    samples: int
    """those of them that gave a sample, whatever its `t`"""
    span: float
    """s from the first to the last"""
    rate: float | None
    """datagrams a second over the span; None before there are two, and where they came at once"""
    step: float | None
    """s of the source's clock between two samples, usually; None where too few came"""
    pace: float | None
    """s of the source's clock for each second in which it ran: 1 live, else slow motion or a file sent fast; jitter
    says nothing then. None where too few came"""
    jitter: float
    """s, RFC 3550's, at the end"""
    mean_jitter: float
    """s, the mean of RFC 3550's over all samples"""
    worst_jitter: float
    """s, the greatest that RFC 3550's was"""
    lost: int | None
    """samples that are missing between those that came; None where the source has no steady pace to tell it by"""
    loss: float | None
    """0..1, `lost` as a share of what was sent; None as above"""
    duplicates: int
    """with the `t` of the one before"""
    late: int
    """with a `t` that is back by less than 1 s"""
    reordered: int
    """late ones with a `t` that was not seen before: overtaken on the way, not repeated"""
    restarts: int
    """with a `t` that is back by 1 s or more"""
    jumps: int
    """with a `t` that is ahead by 1 s or more"""
    silence: float
    """s, the longest time without a datagram"""
    stood: float
    """s, the longest time in which samples came and `t` did not move"""
    smallest: int
    """bytes"""
    largest: int
    """bytes"""
    usual_size: int
    """bytes, the most frequent"""
    sizes: int
    """how many different sizes came"""


class Arrival:
    """Follows what comes of one source, in bounded memory. Order is judged as the engine judges it."""

    __slots__ = (
        "_batch",
        "_duplicates",
        "_first",
        "_heard",
        "_jitter",
        "_jumps",
        "_late",
        "_missing",
        "_moved",
        "_off_beat",
        "_on_beat",
        "_ran",
        "_recent",
        "_reordered",
        "_restarts",
        "_samples",
        "_silence",
        "_sizes",
        "_step",
        "_stood",
        "_sum",
        "_t",
        "_took",
        "_worst",
    )

    def __init__(self) -> None:
        self._sizes: Counter[int] = Counter()
        self._first: float | None = None
        self._heard = 0.0
        self._silence = 0.0
        self._samples = self._duplicates = self._late = self._reordered = self._restarts = self._jumps = 0
        self._t: float | None = None  # of the last sample in order
        self._moved = 0.0  # when `t` last moved on
        self._stood = 0.0
        self._recent: deque[float] = deque(maxlen=REMEMBERED)
        self._jitter = Jitter()
        self._sum = self._worst = 0.0
        self._ran = self._took = 0.0  # in step: s of the source's clock, and of the receive clock
        self._batch: list[float] = []
        self._step: float | None = None
        self._missing = self._on_beat = self._off_beat = 0

    def take(self, received: float, t: float | None, size: int) -> None:
        """A datagram of `size` bytes came at `received`, s of a clock that does not go back.

        `t` is its sample's, s of the source's clock; None where it gave no sample.
        """
        self._sizes[size] += 1
        if self._first is None:
            self._first = received
        elif received - self._heard > self._silence:
            self._silence = received - self._heard
        self._heard = received
        if t is not None and isfinite(t):
            self._sample(received, t)

    def _sample(self, received: float, t: float) -> None:
        self._samples += 1
        last, transit = self._t, received - t
        step = 0.0 if last is None else t - last
        if last is None:
            self._jitter.restart(transit)
        elif step == 0.0:
            self._duplicates += 1
            self._jitter.restart(transit)  # its time says nothing of the way: the source stands, or sends twice
            self._stood = max(self._stood, received - self._moved)
            return
        elif 0.0 < step < REWIND - HAIR:
            took = received - self._moved
            if took - step >= REWIND:  # the source's clock stood, with datagrams or without: a pause, and no way
                self._jitter.restart(transit)
            else:
                self._jitter.take(transit)
                self._ran += step
                self._took += took
            self._batch.append(step)
            if len(self._batch) >= BATCH:
                self._judge()
        elif -REWIND + HAIR < step < 0.0:
            self._late += 1
            self._reordered += t not in self._recent
            self._recent.append(t)
            self._jitter.take(transit)
            self._note_jitter()
            return
        else:
            self._restarts += step < 0.0
            self._jumps += step > 0.0
            self._recent.clear()
            self._jitter.restart(transit)
        self._note_jitter()
        self._recent.append(t)
        self._t, self._moved = t, received

    def _note_jitter(self) -> None:
        value = self._jitter.value
        self._sum += value
        if value > self._worst:
            self._worst = value

    def _judge(self) -> None:
        """Counts what is missing in the batch."""
        self._step, missing, is_regular = _judged(self._batch, self._step)
        if is_regular:
            self._missing += missing
            self._on_beat += len(self._batch)
        else:
            self._off_beat += len(self._batch)
        self._batch.clear()

    def report(self) -> ArrivalReport:
        """What came so far."""
        if self._batch:
            self._judge()
        first = self._heard if self._first is None else self._first
        datagrams, span = self._sizes.total(), self._heard - first
        lost: int | None = None
        loss: float | None = None
        if self._on_beat > self._off_beat:
            lost = max(0, self._missing - self._reordered)
            loss = lost / (lost + self._on_beat)
        followed = self._samples - self._duplicates
        return ArrivalReport(
            datagrams=datagrams,
            samples=self._samples,
            span=span,
            rate=(datagrams - 1) / span if span > 0.0 else None,
            step=self._step,
            pace=self._ran / self._took if self._took > 0.0 else None,
            jitter=self._jitter.value,
            mean_jitter=self._sum / followed if followed else 0.0,
            worst_jitter=self._worst,
            lost=lost,
            loss=loss,
            duplicates=self._duplicates,
            late=self._late,
            reordered=self._reordered,
            restarts=self._restarts,
            jumps=self._jumps,
            silence=self._silence,
            stood=self._stood,
            smallest=min(self._sizes, default=0),
            largest=max(self._sizes, default=0),
            usual_size=max(self._sizes, key=self._sizes.__getitem__, default=0),
            sizes=len(self._sizes),
        )


def _judged(steps: list[float], before: float | None) -> tuple[float | None, int, bool]:
    """The usual step of some steps (`before` where they are few), how many are missing, and whether that can be told.

    Loss makes steps that are a whole number of usual ones; a source whose own pace varies makes others.
    """
    usual = before
    if len(steps) >= FEW:
        short = sorted(steps)[len(steps) // 10]
        single = [step for step in steps if step <= ONE * short]
        usual = sum(single) / len(single)
    if usual is None:
        return None, 0, False
    beats = [step / usual for step in steps]
    on_beat = sum(abs(beat - max(1, round(beat))) <= OFF_BEAT for beat in beats)
    missing = sum(max(1, round(beat)) - 1 for beat in beats)
    return usual, missing, on_beat >= REGULAR * len(steps)
