"""`checkup`: looks at the running stream and says what arrives, what of it can be coached, and whether all is ready."""

from __future__ import annotations

import shlex
from collections.abc import Iterable
from dataclasses import dataclass

from coach.app import settings
from coach.app.checking import diagnosis, tryout
from coach.app.checking.diagnosis import Off, Seen
from coach.app.checking.senders import Senders
from coach.app.checking.unheard import point_by_point
from coach.app.config import CheckupOptions, Presenting
from coach.app.console import Console
from coach.app.intake import Intake
from coach.app.line import Line
from coach.app.listening import flags, listening
from coach.app.live import Clock
from coach.app.source import chosen
from coach.app.start import SessionStart, fresh
from coach.app.stop import Stop
from coach.playbook.load import load
from coach.vocabulary.errors import WorkError
from coach.vocabulary.sample import Sample
from feeds.arrival import Arrival
from feeds.paths import on_one_line
from feeds.udp import UdpReceiver

WAIT = 0.1
"""s of waiting for a datagram at a time, and how late the end is noticed."""
MOST = 60_000
"""samples that are kept to compare their channels: some minutes of a fast stream."""


def checkup(options: CheckupOptions, console: Console, stop: Stop) -> str:
    """Look, and try sound and window; returns what was seen. WorkError where nothing came, or nothing of use;
    KeyboardInterrupt where `stop` asks for the end before anything came."""
    mine = settings.read(options.settings)
    start = fresh(chosen(options.feed, options.layout), None, (), stop)
    playbook = load()
    with listening(options) as (receiver, clock):
        looker = Looker(start, receiver, clock, console)
        seen = looker.look(options.seconds, stop)
        wrong = [] if seen is None else diagnosis.odd(seen)
        blocks = looker.blocks(seen, wrong)
    presenting = Presenting(voice=options.voice, overlay=options.overlay, settings=options.settings)
    tried = []
    if options.voice and not stop.asked:
        tried.append(("sound", *tryout.sound(presenting, mine, playbook, stop)))
    if options.overlay and not stop.asked:
        tried.append(("window", *tryout.window(presenting, mine, playbook, stop)))
    if tried:
        said = [part for what, _, line in tried for part in diagnosis.wrapped(f"{what}: {line}")]
        blocks.append(Block("SOUND AND WINDOW", said))
    if seen is None:
        console.say(_text(blocks))
        raise WorkError(looker.failure())
    ready = all(well for _, well, _ in tried)
    layout = None if options.layout is None else on_one_line(options.layout)
    blocks.append(Block("NEXT", diagnosis.following(seen, wrong, ready, _command(options), layout)))
    return _text(blocks) + "\n"


@dataclass(frozen=True, slots=True)
class Block:
    """Some lines under a heading."""

    heading: str
    lines: Iterable[str]


class Looker:
    """Looks at what one receiver takes in, through the same decoding and the same engine as a drive."""

    def __init__(self, start: SessionStart, receiver: UdpReceiver, clock: Clock, console: Console) -> None:
        self._start, self._receiver, self._clock, self._console = start, receiver, clock, console
        self._senders = Senders()
        self._intake = Intake(start.new_feed(), console.say)

    def look(self, seconds: float, stop: Stop) -> Seen | None:
        """What came in so many seconds, from the first datagram on; None where none of it gave a sample."""
        where = f"{self._receiver.address}{self._receiver.open_to}"
        self._console.say(f"looking for {seconds:g} s at what comes to {where}; Ctrl-C ends it sooner")
        arrival, off = Arrival(), Off()
        samples: list[Sample] = []
        received: list[float] = []
        line = Line(self._start.engine, self._start.planner, [off])
        until = self._clock() + seconds
        while self._clock() < until and not stop.asked:
            for datagram in self._receiver.receive(WAIT):
                if not self._senders.packets:
                    until = max(until, datagram.received + seconds)
                self._senders.take(datagram)
                sample = self._intake.read(datagram)
                if sample is not None and not self._receiver.confirm(datagram.sender):
                    continue
                if datagram.sender == self._receiver.source:
                    arrival.take(datagram.received, None if sample is None else sample.t, len(datagram.data))
                if sample is not None:
                    line.push(sample, datagram.received)
                    if len(samples) < MOST:
                        samples.append(sample)
                        received.append(datagram.received)
        line.finish()
        if not samples:
            if stop.asked and not self._senders.packets:
                raise KeyboardInterrupt
            return None
        return Seen(
            sender=self._receiver.source or self._senders.busiest,
            where=self._receiver.address,
            feed=self._start.feed,
            arrival=arrival.report(),
            left_out=self._intake.feed.left_out,
            unread=self._intake.dropped,
            drops=self._receiver.drops.lines(self._clock()),
            samples=samples,
            received=received,
            off=off.lacks,
        )

    def blocks(self, seen: Seen | None, wrong: list[str]) -> list[Block]:
        """What it came to, with what is odd in it; without a sample, what came at all or what to check."""
        buffer = self._buffer()
        if seen is not None:
            return [
                Block("THE STREAM", [*diagnosis.stream(seen), buffer]),
                Block("ITS CHANNELS", diagnosis.channels(seen)),
                *([Block("WHAT IS ODD", wrong)] if wrong else []),
                Block("WHAT IS COACHED", diagnosis.detectors(seen.off)),
            ]
        if not self._senders.packets:
            refused = self._receiver.drops.lines(self._clock())
            return [Block("WHAT TO CHECK", [*refused, *point_by_point(self._receiver)])]
        unread = [f"{number} could not be read: {cause}" for cause, number in diagnosis.most(self._intake.dropped)]
        if self._intake.unfinished:
            unread.append(f"{self._intake.unfinished} wait for another kind of packet: set the simulator to send all")
        said = [part for line in self._senders.lines() for part in diagnosis.wrapped(line)]
        return [Block("THE STREAM", [*said, *unread, *self._receiver.drops.lines(self._clock()), buffer])]

    def failure(self) -> str:
        """The line for a look that saw no sample."""
        if not self._senders.packets:
            return f"nothing came to {self._receiver.address}: go through what to check above, and look again"
        if self._start.layout is not None:
            return "packets come, but the layout makes no sample of them: compare their lengths with the file's"
        feed = f'packets come, but the feed "{self._start.feed}" cannot read them'
        return f"{feed}: name their --layout, or find it out with cornerword decipher"

    def _buffer(self) -> str:
        dropped = self._receiver.kernel_drops()
        lost = "" if not dropped else f", in which {dropped} datagrams found no room"
        return self._receiver.buffer_notice or f"receive buffer {self._receiver.receive_buffer // 1024} KiB{lost}"


def _command(options: CheckupOptions) -> str:
    """The drive that listens as this look did."""
    parts = ["cornerword", "drive", *flags(options)]
    if options.feed is not None:
        parts += ["--feed", options.feed]
    if options.layout is not None:
        parts += ["--layout", on_one_line(options.layout)]
    return shlex.join(parts)


def _text(blocks: Iterable[Block]) -> str:
    return "\n".join("\n".join([block.heading, *(f"  {line}" for line in block.lines)]) for block in blocks)
