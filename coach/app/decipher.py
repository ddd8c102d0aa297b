"""`decipher`: leads a driver through a few steps, finds out from the bytes what unknown packets hold, and writes a
layout file for them.

The packets are kept in a recording beside it, with the steps, so that the finding can be done again.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from queue import Empty, SimpleQueue

from coach.app.aloud import Speak, aloud
from coach.app.checking.senders import Senders
from coach.app.checking.unheard import SILENT_START, in_one_line
from coach.app.config import DecipherOptions
from coach.app.console import Console
from coach.app.deciphering import stepmarks
from coach.app.deciphering.finding import found
from coach.app.deciphering.guide import ASKS, DRIVE, Ask, Done, Guide
from coach.app.deciphering.kept import Kept
from coach.app.deciphering.proof import checked, proof
from coach.app.deciphering.proposed import proposed
from coach.app.listening import flags, listening
from coach.app.live import Clock
from coach.app.newfile import check_free, write_new
from coach.app.source import Source
from coach.app.start import fresh
from coach.app.stop import Stop
from coach.app.typed import typed
from coach.vocabulary.errors import FormatError, InputError, WorkError
from feeds.base import Datagram
from feeds.finder import Proposal, Step
from feeds.generic import GenericFeed
from feeds.layout import read_layout
from feeds.paths import on_one_line
from feeds.recording import RecordingWriter, open_recording
from feeds.udp import UdpReceiver

SUFFIX = ".cwrec"
"""Of the recording beside the layout file."""
UNKNOWN = "unknown"
"""What the recording's head says that the stream is made of: no feed has this name, so a replay asks for a layout."""
WAIT = 0.05
"""s of waiting for a packet at a time, and how late the end is noticed."""
LISTEN = 3.0
"""s of packets after which it is said what comes, and who is the source (choice)."""
CHECK = 6.0
"""s of the running stream that are decoded as a check of the new layout (choice)."""
SILENT = 3.0
"""s without a packet after which a step waits: the driver is in a menu, or paused (choice)."""
DRIVING = 60.0
"""s between two lines that say that a drive goes on."""

Typed = SimpleQueue[str]


def decipher(options: DecipherOptions, console: Console, stop: Stop) -> str:
    """Find a layout and write it; returns what was found, and how it fits. InputError for a file that is there
    already; WorkError where nothing could be found."""
    check_free(options.file)
    if options.recorded is not None:
        packets, steps = _recorded(options.recorded, options, console)
        proposal = found(packets, steps, console, stop, lambda: stop.sleep(WAIT))
        write_new(options.file, proposal.text())
        return _report(options.file, proposal, packets, [], flags(options))
    keeping = _beside(options.file)
    check_free(keeping)
    with ExitStack() as opened:
        receiver, clock = opened.enter_context(listening(options))
        speak = opened.enter_context(aloud([ask.spoken for ask in ASKS], options.voice, console, stop))
        return Deciphering(
            options.file, keeping, receiver, clock, console, stop, speak, typed(), way=flags(options)
        ).run()


class Deciphering:
    """One guided finding on a live stream. `clock` is the receiver's own; `way`: the options by which another command
    listens here."""

    def __init__(
        self,
        file: Path,
        keeping: Path,
        receiver: UdpReceiver,
        clock: Clock,
        console: Console,
        stop: Stop,
        speak: Speak,
        lines: Typed | None = None,
        asks: tuple[Ask, ...] = ASKS,
        way: Sequence[str] = (),
    ) -> None:
        self._file, self._keeping = file, keeping
        self._receiver, self._clock = receiver, clock
        self._console, self._stop = console, stop
        self._speak, self._lines, self._asks, self._way = speak, lines, asks, way

    def run(self) -> str:
        """From the first packet to the checked file."""
        first = self._source()
        _check_unknown(first[0].data)
        with self._kept() as kept:
            for packet in first:
                kept.take(packet)
            steps = self._guided(kept)
            kept.close(self._clock())
            try:
                proposal = found(kept.packets, steps, self._console, self._stop, self._drained)
                write_new(self._file, proposal.text())
            except (WorkError, InputError) as error:
                raise type(error)(f"{error}; {self._again(kept)}") from error
            except Exception:  # a bug, told as any other; but nobody shall drive all of it again
                self._console.say(self._again(kept))
                raise
            return _report(self._file, proposal, kept.packets, self._checked(), self._way)

    @contextmanager
    def _kept(self) -> Iterator[Kept]:
        head = {**fresh(Source(), None, ()).head(), "source": UNKNOWN}
        kept = Kept(self._keeping, RecordingWriter(self._keeping, head), self._console)
        self._console.say(f"all that comes is kept in {on_one_line(self._keeping)}")
        try:
            yield kept
        finally:
            kept.close(self._clock())

    def _source(self) -> list[Datagram]:
        """Wait until packets come, say what they are like, and settle on one sender; returns its packets."""
        self._console.say(_greeting(self._receiver))
        began, told, senders = self._clock(), False, Senders()
        while not senders.packets or self._clock() - senders.began < LISTEN:
            for packet in self._receiver.receive(WAIT):
                if not senders.packets:
                    self._console.say(f"packets come; looking at them for {LISTEN:.0f} s")
                senders.take(packet)
            self._end_if_asked()
            self._tell_drops()
            if not told and not senders.packets and self._clock() - began >= SILENT_START:
                told = True
                self._console.say(in_one_line(self._receiver))
        for line in senders.lines():
            self._console.say(line)
        self._receiver.confirm(senders.busiest)
        return senders.of(senders.busiest)

    def _guided(self, kept: Kept) -> list[Step]:
        """Lead through the steps; returns those that were seen."""
        enter = "; Enter ends a step, r and Enter begins it anew" if self._lines is not None else ""
        self._console.say(f"do what is asked, in the car; each step ends by itself{enter}")
        guide = Guide(self._clock(), self._asks)
        self._ask(guide, kept)
        driving = heard = self._clock()
        silent = False
        while (ask := guide.asking) is not None:
            packets = self._receiver.receive(WAIT)
            now = self._clock()
            if packets and silent:
                silent = False
                self._console.say("packets come again")
                guide.again(now)
                self._ask(guide, kept)
            for packet in packets:
                if self._receiver.confirm(packet.sender):
                    kept.take(packet)
                    self._next(guide.take(packet), guide, kept)
            if packets:
                heard = now
            elif ask.name == DRIVE or now - heard < SILENT:
                self._next(guide.tick(now), guide, kept)
            elif not silent:
                silent = True
                self._console.say("nothing comes any more: be on track and not in a menu; this step waits for it")
            if guide.asking is ask:
                self._heed(guide, kept)
            kept.tick(now)
            self._tell_drops()
            if self._stop.asked:
                raise WorkError(f"stopped before the end; {self._again(kept)}")
            if kept.is_full:
                self._console.say("that is as much as can be looked at: the steps end here")
                if (done := guide.skip(now)) is not None:
                    kept.mark(done.ends, stepmarks.ended(done))
                break
            if ask.name != DRIVE:
                driving = now
            elif now - driving >= DRIVING:
                driving = now
                self._console.say(
                    f"  {now - guide.done[-1].ends:.0f} s; go on until past the line, then stop and stand"
                )
        return [Step(done.ask.name, done.begins, done.ends) for done in guide.done if done.seen]

    def _heed(self, guide: Guide, kept: Kept) -> None:
        """What was typed: Enter ends the step, r begins it anew."""
        if self._lines is None:
            return
        with suppress(Empty):
            line = self._lines.get_nowait()
            if line.lower().startswith("r"):
                guide.again(self._clock())
                self._ask(guide, kept)
            else:
                self._next(guide.skip(self._clock()), guide, kept)

    def _next(self, done: Done | None, guide: Guide, kept: Kept) -> None:
        if done is None:
            return
        kept.mark(done.ends, stepmarks.ended(done))
        self._console.say("  seen" if done.seen else "  not seen, going on")
        self._ask(guide, kept)

    def _ask(self, guide: Guide, kept: Kept) -> None:
        ask: Ask | None = guide.asking
        if ask is None:
            return
        kept.mark(self._clock(), stepmarks.begun(ask.name))
        self._console.say(f"step {guide.number} of {len(self._asks)}: {ask.words}")
        self._speak(ask.spoken)

    def _drained(self) -> None:
        self._receiver.receive(WAIT)

    def _checked(self) -> list[str]:
        """Decode the running stream by the file that was written; returns what it reads."""
        self._console.say(f"{on_one_line(self._file)} is written; checking it against what comes now, {CHECK:.0f} s")
        self._receiver.receive(0.0)
        until, came = self._clock() + CHECK, list[Datagram]()
        while self._clock() < until and not self._stop.asked:
            came += [packet for packet in self._receiver.receive(WAIT) if self._receiver.confirm(packet.sender)]
        return checked(read_layout(self._file), came)

    def _again(self, kept: Kept) -> str:
        if not kept.recording:
            return "the recording is not whole either: make room, and begin anew"
        command = shlex.join(["cornerword", "decipher", on_one_line(self._file)])
        name = shlex.quote(on_one_line(self._keeping))
        return f"{len(kept.packets)} packets are kept in {name}: to find again, {command} --recorded {name}"

    def _end_if_asked(self) -> None:
        if self._stop.asked:
            raise KeyboardInterrupt

    def _tell_drops(self) -> None:
        for line in self._receiver.drops.lines(self._clock()):
            self._console.say(line)


def _next_for(proposal: Proposal, name: str, way: Sequence[str]) -> str:
    """What the driver does with the file."""
    channels = {one.channel for one in proposal.found}
    if not ("lap_distance" in channels or {"x", "y"} <= channels):
        return "Nothing can be coached without a position: do it again with a whole lap, or write it into the file."
    how = shlex.join(["--layout", name, *way])
    return f"Next: cornerword checkup {how}, then cornerword drive {how}"


def _recorded(path: Path, options: DecipherOptions, console: Console) -> tuple[list[Datagram], list[Step]]:
    """The packets of a file, and the steps that are marked in it. InputError where there is none."""
    recording = open_recording(path, options.port if "port" in options.model_fields_set else None)
    packets, steps = stepmarks.read(recording)
    if recording.truncated is not None:
        console.say(recording.truncated)
    if not packets:
        raise InputError(f"{on_one_line(path)}: it holds no packet: record while the simulator sends")
    _check_unknown(packets[0].data)
    if not steps:
        console.say("no steps are marked in it, so pedals and steering can be told less well")
    return packets, steps


def _report(file: Path, proposal: Proposal, packets: list[Datagram], now: list[str], way: Sequence[str]) -> str:
    name = on_one_line(file)
    blocks = [proposed(proposal), ["BY THE NEW FILE, OVER ALL THAT CAME", *proof(read_layout(file), packets)]]
    if now:
        blocks.append(["NOW", *now])
    written = f"{name} is written: a text file with a reason beside each channel, to be corrected where it is wrong."
    blocks.append([written, _next_for(proposal, name, way)])
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def _beside(file: Path) -> Path:
    """The recording's name."""
    if file.suffix == SUFFIX:
        raise InputError(f"{on_one_line(file)}: {SUFFIX} is a recording's name: name the layout file as in my-sim.toml")
    return file.with_name(f"{file.stem}{SUFFIX}")


def _check_unknown(data: bytes) -> None:
    """Raises InputError for a stream that needs no layout."""
    try:
        GenericFeed().decode(data)
    except FormatError:
        return
    raise InputError("these packets are the generic stream already, no layout is needed: use cornerword drive")


def _greeting(receiver: UdpReceiver) -> str:
    return f"listening on {receiver.address} (UDP{receiver.open_to}) for the simulator's packets; Ctrl-C ends"
