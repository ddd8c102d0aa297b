"""What a look at a running stream came to, in plain words, and what to do next. Pure: observations in, lines out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from textwrap import wrap

from coach.app.checking.dashboard import readings
from coach.app.checking.oddities import MOVES, clock, oddities
from coach.app.console import plain, words
from coach.app.telling.numbers import counted
from coach.app.watch import UNEVEN
from coach.review.unjudged import WHOLE
from coach.vocabulary.events import Detector, Event
from coach.vocabulary.sample import CHANNELS, Sample
from feeds.arrival import ArrivalReport
from feeds.counts import Counts

WIDTH = 96
"""Characters of a line."""
NAMED = 3
"""causes of what was left out or not read that are named."""
_LABEL = 40
_CAUSE = 80
_REASON = 300


@dataclass(slots=True)
class Seen:
    """One source's stream over some seconds: `samples` with when each came (s), `drops` as lines, `off` as `Off`."""

    sender: str
    where: str
    feed: str
    arrival: ArrivalReport
    left_out: Counts
    unread: Counts
    drops: list[str]
    samples: list[Sample] = field(default_factory=list)
    received: list[float] = field(default_factory=list)
    off: dict[str, str] = field(default_factory=dict)


class Off:
    """A sink that remembers which detectors are off, and why."""

    def __init__(self) -> None:
        self.lacks: dict[str, str] = {}

    def take(self, event: Event) -> None:
        """Look at one event."""
        if isinstance(event, Detector):
            if event.on:
                self.lacks.pop(event.name, None)
            else:
                self.lacks[event.name] = event.lacks or "channels for it"


def stream(seen: Seen) -> Iterator[str]:
    """What arrives, and how evenly."""
    report = seen.arrival
    sizes = f"{report.usual_size} bytes" if report.sizes == 1 else f"{report.smallest} to {report.largest} bytes"
    rate = "" if report.rate is None else f", {report.rate:,.1f} a second"
    yield f"{counted(report.datagrams, 'datagram')} of {sizes}{rate}"
    yield f'from {seen.sender} to {seen.where}, feed "{plain(seen.feed)}"'
    if report.samples != report.datagrams:
        yield f"{report.samples:,} of them gave a sample"
    lost = "loss cannot be told, its pace varies" if report.lost is None else f"{report.lost} lost"
    order = f"{lost}, {report.duplicates} twice, {report.late} late"
    jitter = f"jitter {_ms(report.mean_jitter)}, at worst {_ms(report.worst_jitter)}"
    yield f"{jitter}; longest wait {_ms(report.silence)}; {order}"
    last = seen.samples[-1]
    track, car = last.track or "a track without a name", last.car or "a car without a name"
    yield f"{plain(track, _LABEL)}, {plain(car, _LABEL)}"


def channels(seen: Seen) -> Iterator[str]:
    """Which come, what they say, and which do not."""
    come = [name for name in CHANNELS if any(getattr(sample, name) is not None for sample in seen.samples)]
    missing = [name for name in CHANNELS if name not in come]
    yield from _listed("come", come)
    if missing:
        yield from _listed("do not", missing)
    if said := [" ".join(line.split()) for line in readings(seen.samples)]:
        yield from wrapped("read: " + "; ".join(said))


def odd(seen: Seen) -> list[str]:
    """Each thing that does not fit."""
    report = seen.arrival
    found = [sentence for sentence in (clock(seen.received, [sample.t for sample in seen.samples]),) if sentence]
    if not found and report.stood > 1.0:
        found.append(f"the clock t stood still for {report.stood:.1f} s: was the source paused?")
    found += oddities(seen.samples)
    for cause, number in most(seen.left_out):
        found.append(f"left out {counted(number, 'time')}: {plain(cause, _CAUSE)}")
    for cause, number in most(seen.unread):
        found.append(f"{counted(number, 'datagram')} could not be read: {plain(cause, _CAUSE)}")
    found += [plain(line, _REASON) for line in seen.drops]
    for number, where in ((report.restarts, "back"), (report.jumps, "ahead")):
        if number:
            found.append(f"the clock t jumped {where} {counted(number, 'time')}, by 1 s or more")
    if report.loss is not None and report.lost and report.loss >= 0.005:
        found.append(
            f"{100.0 * report.loss:.1f} % of the samples are lost on the way: a cable helps, or a less busy computer"
        )
    if report.mean_jitter >= UNEVEN and not found:
        found.append("datagrams come unevenly: a cable in place of a wireless network helps, or a less busy computer")
    return found


def detectors(off: dict[str, str]) -> Iterator[str]:
    """What will not be coached, and why."""
    if not off:
        yield "all detectors are on: everything that is coached can be seen in this stream"
        return
    by_reason: dict[str, list[str]] = {}
    for name, lacks in off.items():
        if name in WHOLE:
            yield from wrapped(plain(lacks, _REASON))
        else:
            by_reason.setdefault(lacks, []).append(words(name))
    for lacks, names in by_reason.items():
        aid = lacks.removesuffix(" (assist)")
        why = f"there is no {plain(lacks, _REASON)}" if aid == lacks else f"the {plain(aid, _LABEL)} assist is on"
        yield from wrapped(f"off, as {why}: {', '.join(names)}")


def following(seen: Seen, wrong: Sequence[str], ready: bool, command: str, layout: str | None) -> Iterator[str]:
    """What to do next. `wrong`: what is odd; `ready`: sound and window could be opened, or were not asked for;
    `command`: the drive that listens alike; `layout`: the file's name."""
    if "position" in seen.off:
        yield "nothing can be coached without a position: the stream needs lap_distance, or x and y"
    if max((abs(sample.speed) for sample in seen.samples if sample.speed is not None), default=MOVES) < MOVES:
        yield "the car stood: look again while it drives through some corners, then units and signs are compared too"
    if wrong and layout is not None:
        yield f"mend {layout} where something is odd (each channel has a line there), and look again"
    elif wrong:
        yield "see to what is odd first: in the simulator's own settings, or whatever sends the stream"
    if not ready:
        yield "sound or window: do what its line says, or leave it out with --no-voice or --no-overlay"
    if "position" not in seen.off:
        yield f"{'then' if wrong or not ready else 'all is ready'}: {command}"


def wrapped(text: str) -> list[str]:
    """One thing that is said, in lines of at most `WIDTH`."""
    return wrap(text, WIDTH, subsequent_indent="  ", break_long_words=False)


def _listed(word: str, names: Sequence[str]) -> list[str]:
    return wrapped(f"{word}: {', '.join(names) or 'none'}")


def most(counts: Counts) -> list[tuple[str, int]]:
    """The commonest causes, with how many of each."""
    return sorted(counts.by_cause().items(), key=lambda item: -item[1])[:NAMED]


def _ms(seconds: float) -> str:
    return f"{1000.0 * seconds:.1f} ms" if seconds < 1.0 else f"{seconds:.1f} s"
