"""`inspect`: whether a recording is whole, what it starts from, what came in it, and which laps were driven."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from textwrap import wrap

from coach.app.config import InspectOptions
from coach.app.console import LABEL, Console, plain, words
from coach.app.source import chosen
from coach.app.start import SessionStart, fresh
from coach.app.stop import Stop
from coach.app.tables.reading import Laps, Reader, say_before, start_for, state_of
from coach.app.telling.lines import WIDTH
from coach.app.telling.numbers import counted, date_of, size_of, span_of
from coach.vocabulary.actions import DRIVER
from coach.vocabulary.errors import FormatError, InputError
from coach.vocabulary.events import Event, Stream
from coach.vocabulary.laptime import lap_time
from coach.vocabulary.sample import CHANNELS, Sample
from feeds.arrival import Arrival
from feeds.base import Datagram
from feeds.paths import on_one_line
from feeds.recording import ActionLine, CapturedRecording, Damage, Recording, open_recording

GAP = 0.5
"""s between two datagrams that are named as a silence: thirty of a usual stream (choice)."""
LIVE = 0.05
"""by which the source's clock may run faster or slower than ours in a drive that was live (choice)."""
NAMED = 10
"""silences, damaged places, tracks and actions that are named one by one."""


@dataclass(slots=True)
class Arrivals:
    """What came, and when. Times are s received."""

    count: int = 0
    size: int = 0
    first: float | None = None
    last: float = 0.0
    shortest: int = 0
    longest: int = 0
    back: int = 0
    """times that lie before the one before"""
    silences: list[tuple[float, float]] = field(default_factory=list)
    silent: int = 0
    senders: Counter[str] = field(default_factory=Counter)

    def add(self, datagram: Datagram) -> None:
        """Count one more."""
        size = len(datagram.data)
        if self.first is None:
            self.first = datagram.received
            self.shortest = size
        elif datagram.received < self.last:
            self.back += 1
        elif datagram.received - self.last > GAP:
            self.silent += 1
            if len(self.silences) < NAMED:
                self.silences.append((self.last, datagram.received))
        self.last = datagram.received
        self.count += 1
        self.size += size
        self.shortest, self.longest = min(self.shortest, size), max(self.longest, size)
        if datagram.sender and (datagram.sender in self.senders or len(self.senders) < NAMED):
            self.senders[datagram.sender] += 1

    @property
    def span(self) -> float:
        """s from the first to the last."""
        return 0.0 if self.first is None else self.last - self.first


@dataclass(slots=True)
class Channels:
    """Which channels the samples had, and how many of them."""

    samples: int = 0
    counts: Counter[str] = field(default_factory=Counter)

    def add(self, sample: Sample) -> None:
        """Count one more sample."""
        self.samples += 1
        for name in CHANNELS:
            if getattr(sample, name) is not None:
                self.counts[name] += 1


@dataclass(slots=True)
class Told:
    """A watcher that adds up what the engine says of the stream."""

    counts: Counter[str] = field(default_factory=Counter)

    def take(self, event: Event) -> None:
        """Take in one event."""
        if isinstance(event, Stream):
            self.counts[event.what] += event.count


def inspect(options: InspectOptions, console: Console, stop: Stop) -> str:
    """Read a recording through; returns what is to be said of it. InputError where nothing can be read."""
    recording = open_recording(options.file, options.port)
    say_before(recording, console)
    arrivals, channels, laps, told = Arrivals(), Channels(), Laps(), Told()
    way = Arrival()
    start, head = _start(recording, options, stop)
    reader = Reader(start, [laps, told])
    actions: list[ActionLine] = []
    for item in recording:
        if stop.asked:
            raise KeyboardInterrupt
        if isinstance(item, Datagram):
            arrivals.add(item)
        elif isinstance(item, ActionLine):
            actions.append(item)
        reader.take(item)
        if isinstance(item, Datagram):
            way.take(item.received, None if reader.sample is None else reader.sample.t, len(item.data))
        if reader.sample is not None:
            channels.add(reader.sample)
    reader.finish()
    if arrivals.first is None:
        raise InputError(f"{on_one_line(options.file)} holds no datagram that can be read{_why_none(recording)}")
    blocks = [
        [on_one_line(options.file), *_whole(recording, arrivals)],
        head,
        _came(arrivals, reader, told) + _way(way, recording),
        _channels(channels),
        _laps(laps, reader),
        _actions(actions, arrivals.first),
    ]
    return "\n\n".join("\n".join(line.rstrip() for line in block) for block in blocks if block) + "\n"


def _why_none(recording: Recording) -> str:
    """Why nothing of a file could be read, and the mend."""
    if recording.left_out:
        causes = ", ".join(f"{number:,} {cause}" for cause, number in recording.left_out.items())
        return f" ({causes}): capture the simulator's port again, with whole packets"
    return f"{' (it is damaged)' if recording.damage else ''}: give another one"


def _start(recording: Recording, options: InspectOptions, stop: Stop) -> tuple[SessionStart, list[str]]:
    """What it starts from, and what is said of the head; a head that does not serve is said, and gone without."""
    lines = ["HEAD"]
    try:
        start = start_for(recording, options, stop)
    except FormatError as error:
        if recording.head is None:
            raise
        start = fresh(chosen(options.feed, options.layout), None, ())
        return start, [*lines, *_wrapped(f"It cannot be used: {plain(str(error), 400)}; read without it.")]
    if recording.head is None:
        return start, []
    layout = start.layout or {}
    named = layout.get("name")
    feed = start.feed + (f" ({plain(named)})" if isinstance(named, str) else "")
    lines.append(f"  {'version':<11}{recording.head.get('version')}, written by {start_version(recording)}")
    lines.append(f"  {'feed':<11}{plain(feed)}")
    reference = start.engine.reference
    if reference is not None:
        origin = plain(start.engine.origin or "a file")
        lines.append(f"  {'reference':<11}{lap_time(reference.total)}, lap {reference.number} of {origin}")
    else:
        choice = start.engine.choice
        lines.append(f"  {'reference':<11}{'the best clean lap up to then' if choice is None else plain(choice)}")
    lines.append(f"  {'playbook':<11}{plain(start.planner.playbook.name)}")
    if start.planner.focus:
        lines.append(f"  {'focus':<11}{', '.join(map(words, start.planner.focus))}")
    return start, lines


def start_version(recording: Recording) -> str:
    """The version of the program that wrote it, as far as the head says."""
    engine = (recording.head or {}).get("engine")
    version = engine.get("version") if isinstance(engine, dict) else None
    return f"cornerword {plain(version, 20)}" if isinstance(version, str) else "an unknown version"


def _whole(recording: Recording, arrivals: Arrivals) -> list[str]:
    """Whether it is whole; where not, what is missing and what becomes of it."""
    size = recording.path.stat().st_size
    when = None if arrivals.first is None else date_of(arrivals.first)
    lines = [f"{'' if when is None else when + ', '}{span_of(arrivals.span)}, {size_of(size)}"]
    wrong = [_place(damage, arrivals.first) for damage in recording.damage[:NAMED]]
    if len(recording.damage) > NAMED:
        wrong.append(f"and more places, {len(recording.damage)} or more in all")
    if recording.head is None and recording.is_recording:
        wrong.insert(0, "its head is lost, with the reference, focus and feed in it")
    if not recording.is_closed and not any(damage.cut for damage in recording.damage):
        wrong.append("it was not closed in good order: up to a second may be missing at its end")
    for cause, number in recording.left_out.items():
        wrong.append(f"{counted(number, 'datagram')} left out: {cause}")
    if not wrong:
        return [*lines, "It is whole."]
    is_damaged = (recording.head is None and recording.is_recording) or bool(recording.damage)
    lines.append("It is damaged, but can be read:" if is_damaged else "It can be read, but not all is there:")
    for text in wrong:
        lines += wrap(text, WIDTH, initial_indent="  - ", subsequent_indent="    ")
    if is_damaged:
        lines += _wrapped(
            "Replays leave the damaged places out; a lap with one in it is not clean. `cut` writes laps that are whole "
            "to a new recording."
        )
    return lines


def _place(damage: Damage, first: float | None) -> str:
    """One place, by s from the first datagram."""
    zero = first or 0.0
    after = "the beginning" if damage.after is None else span_of(max(damage.after - zero, 0.0))
    if damage.cut:
        return f"it is cut short behind {after}"
    if damage.before is None:
        return f"what follows behind {after} is damaged and left out"
    missing = damage.before - (damage.before if damage.after is None else damage.after)
    return f"damaged between {after} and {span_of(max(damage.before - zero, 0.0))}: {missing:.1f} s left out"


def _came(arrivals: Arrivals, reader: Reader, told: Told) -> list[str]:
    rate = (arrivals.count - 1) / arrivals.span if arrivals.span > 0.0 else None
    sizes = " to ".join(str(size) for size in sorted({arrivals.shortest, arrivals.longest}))
    each = "" if rate is None else f", {rate:.1f} a second"
    lines = ["WHAT CAME", f"  {counted(arrivals.count, 'datagram')} of {sizes} bytes{each}"]
    if arrivals.senders:
        lines += _indented(f"from {', '.join(arrivals.senders)}")
    dropped = reader.intake.dropped
    if dropped.total:
        causes = ", ".join(f"{number} {cause}" for cause, number in dropped.by_cause().items())
        lines += _indented(f"{counted(dropped.total, 'datagram')} could not be read: {causes}")
    for cause, number in reader.intake.feed.left_out.by_cause().items():
        lines += _indented(f"left out {counted(number, 'time')}: {plain(cause, 400)}")
    if arrivals.back:
        lines += _indented(f"{counted(arrivals.back, 'receive time')} before the one before")
    for begins, ends in arrivals.silences:
        where = span_of(max(begins - (arrivals.first or 0.0), 0.0))
        lines.append(f"  silence of {ends - begins:.1f} s at {where}")
    if arrivals.silent > len(arrivals.silences):
        lines.append(f"  and {counted(arrivals.silent - len(arrivals.silences), 'silence')} more")
    if told.counts:
        named = ", ".join(f"{words(what)} {number}" for what, number in sorted(told.counts.items()))
        lines += _indented(f"the stream: {named}")
    return lines


def _way(way: Arrival, recording: Recording) -> list[str]:
    """What became of the datagrams on their way; nothing where the receive times are the source's own."""
    report = way.report()
    if not (recording.is_recording or isinstance(recording, CapturedRecording)) or report.pace is None:
        return []
    if abs(report.pace - 1.0) > LIVE:
        return [f"  not as it was driven, but {report.pace:.1f} times as fast"]
    lost = "" if report.lost is None else f", {report.lost:,} missing between them"
    return [f"  jitter {report.mean_jitter * 1000:.1f} ms, at worst {report.worst_jitter * 1000:.1f} ms{lost}"]


def _channels(channels: Channels) -> list[str]:
    if not channels.samples:
        return ["CHANNELS", "  none: no datagram could be read"]
    shares = []
    for name in CHANNELS:
        count = channels.counts[name]
        if count == channels.samples:
            shares.append(name)
        elif count:
            shares.append(f"{name} ({_share(count / channels.samples)})")
    return [f"CHANNELS of {counted(channels.samples, 'sample')}", *_indented(", ".join(shares))]


def _share(part: float) -> str:
    percent = 100.0 * part
    return "under 1 %" if percent < 1.0 else f"{min(percent, 99.0):.0f} %"


def _laps(laps: Laps, reader: Reader) -> list[str]:
    if not reader.intake.samples:
        return []
    lines = ["LAPS"]
    driven = reader.driven()
    lines += [f"  on {plain(labels)}" for labels in driven[:NAMED]]
    if len(driven) > NAMED:
        lines.append(f"  and {len(driven) - NAMED} more")
    if reader.driver:
        lines.append(f"  driver {plain(reader.driver)}")
    if not laps.ended:
        return [*lines, "  none ended"]
    best = laps.best
    lines.append("  lap        time")
    for lap in laps.ended:
        note = ", best" if lap is best else ""
        lines.append(f"{lap.lap:5d}  {lap_time(lap.time):>10}   {state_of(lap)}{note}")
    return lines


def _actions(actions: list[ActionLine], first: float) -> list[str]:
    if not actions:
        return []
    lines = ["ACTIONS"]
    for action in actions[:NAMED]:
        whose = "" if action.by == DRIVER else f", by the {plain(action.by)}"
        lines.append(f"  {span_of(max(action.received - first, 0.0)):>9}   {plain(words(action.action), LABEL)}{whose}")
    if len(actions) > NAMED:
        lines.append(f"  and {len(actions) - NAMED} more")
    return lines


def _indented(text: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ")


def _wrapped(text: str) -> list[str]:
    return wrap(text, WIDTH)
