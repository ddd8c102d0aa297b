"""`demo`: the built-in car laps its circuit with planted mistakes, and is coached as any stream is."""

from __future__ import annotations

import tempfile
import threading
from collections.abc import Iterator
from contextlib import AbstractContextManager, ExitStack, closing, contextmanager, nullcontext
from pathlib import Path

from coach.app import buttonfile, settings
from coach.app.beside import beside
from coach.app.car import CarProcess
from coach.app.config import DemoOptions
from coach.app.console import Console, Notices, Staged
from coach.app.eventlog import EventLog
from coach.app.keeping import keeping
from coach.app.line import Sink
from coach.app.live import RECEIVE_BUFFER, Clock, listen
from coach.app.presses import Presses, pressed
from coach.app.session import Session, ended
from coach.app.source import Source
from coach.app.stage import Stage, staged
from coach.app.start import fresh
from coach.app.stop import Stop
from coach.app.summary import Summary
from coach.controls.bindings import Bindings
from coach.planner.playbook import Playbook
from coach.playbook.load import load
from coach.vocabulary.errors import WorkError
from feeds import registry
from feeds.car.circuit import CIRCUITS
from feeds.car.drive import Drive, DriveSpec
from feeds.car.mistakes import read_mistake
from feeds.car.person import PERSONS
from feeds.car.spec import CARS
from feeds.clock import steady_wall_clock
from feeds.udp import UdpReceiver

PLANTED = (
    "early_braking:1:1:18",
    "early_downshift:1:4:600",
    "late_throttle:1:6:0.8",
    "throttle_lift:2:4:0.5",
    "late_throttle:2:6:0.8",
    "early_downshift:2:8:500",
    "lock_up:3:4:0.7",
    "late_throttle:3:6:0.8",
    "narrow_exit:3:1:2.8",
)
"""What goes wrong if nothing else is asked for; what lies beyond the laps asked for is left out. Late throttle out of
turn six is a habit: it becomes what is worked on, and is mended from lap 4 on."""
REFERENCE_LAPS, REFERENCE_SEED = 1, 100
"""The lap that it is held against: the steady driver's, without mistakes."""
REFERENCE = "steady-driver.jsonl.gz"
LAST = 0.3
"""s in which the last datagrams come in after the car has ended."""


def demo(options: DemoOptions, console: Console, stop: Stop) -> str:
    """Coach the built-in car; returns the summary. InputError for a driver, car or mistake that there is not."""
    mistakes = _mistakes(options)
    playbook = load(options.playbook)
    settings.read(options.settings)  # what is wrong in them is said before any work
    bindings = buttonfile.read() if options.buttons and not options.fast else Bindings()
    summary = Summary()
    notices = Notices(console)
    sinks: list[Sink] = [notices]
    if not options.fast:
        sinks.append(console)
    with ExitStack() as opened:
        if options.events is not None:
            log = EventLog(options.events, lambda line: console.say(f"{line}; the demo goes on without it"))
            sinks.append(opened.enter_context(closing(log)))
        if options.reference is None:
            file = str(opened.enter_context(_folder()) / REFERENCE)
            console.say("the steady driver sets a reference, some seconds")
            quicker = opened.enter_context(CarProcess(_quicker(options, file)))
            stage = opened.enter_context(_staged(options, playbook, console, stop))
            quicker.wait(stop)
            start = fresh(Source(), file, options.focus, stop, playbook)
        else:
            start = fresh(Source(), options.reference, options.focus, stop, playbook, memory=options.memory)
            stage = opened.enter_context(_staged(options, playbook, console, stop))
        start = start.alternating(options.alternate).at_stage(options.stage).speaking(stage.table)
        sinks += stage.sinks
        clock = steady_wall_clock()
        receiver = opened.enter_context(UdpReceiver("127.0.0.1", 0, RECEIVE_BUFFER, clock))
        watchers: list[Sink] = [summary, Staged(console, notices), *stage.watchers]
        kept = opened.enter_context(keeping(options.memory, options.keep, console))  # but recalls nothing
        session = opened.enter_context(ended(Session(start, sinks, None, console, watchers, keeping=kept), clock))
        car = opened.enter_context(CarProcess(_driving(options, mistakes, receiver.port)))
        threading.Thread(target=_end_with, args=(car, stop), name="demo", daemon=True).start()
        presses = opened.enter_context(pressed(bindings, console))
        beside(stage.window, lambda: _drive(car, receiver, clock, session, console, stop, presses))
    return summary.text()  # not how things fared: a demo is the same each time


@contextmanager
def _folder() -> Iterator[Path]:
    try:
        folder = tempfile.TemporaryDirectory(prefix="cornerword-", ignore_cleanup_errors=True)
    except OSError as error:
        raise WorkError(
            f"no folder for the reference lap ({error.strerror or error}): make room, or name one with TMPDIR"
        ) from error
    with folder as name:
        yield Path(name)


def _staged(options: DemoOptions, playbook: Playbook, console: Console, stop: Stop) -> AbstractContextManager[Stage]:
    return nullcontext(Stage()) if options.fast else staged(options, playbook, console, stop)


def _mistakes(options: DemoOptions) -> list[str]:
    if options.mistake is None:
        return [text for text in PLANTED if read_mistake(text).lap <= options.laps]
    mistakes = [read_mistake(text) for text in options.mistake]
    if mistakes:  # the car would refuse them as well, but after the lap that sets the reference
        circuit, car, person = next(iter(CIRCUITS.values()))(), CARS[options.car], PERSONS[options.driver]
        Drive(DriveSpec(circuit, car, person, options.laps, options.rate, options.seed, mistakes=mistakes))
    return list(options.mistake)


def _quicker(options: DemoOptions, file: str) -> list[str]:
    return [
        *("--out", file, "--car", options.car, "--driver", "steady", "--rate", str(options.rate)),
        *("--laps", str(REFERENCE_LAPS), "--seed", str(REFERENCE_SEED), "--run-out", "1"),
    ]


def _driving(options: DemoOptions, mistakes: list[str], port: int) -> list[str]:
    return [
        *("--to", f"127.0.0.1:{port}", "--pace", "0" if options.fast else "1"),
        *("--car", options.car, "--driver", options.driver, "--rate", str(options.rate)),
        *("--laps", str(options.laps), "--seed", str(options.seed)),
        *(part for text in mistakes for part in ("--mistake", text)),
    ]


def _end_with(car: CarProcess, stop: Stop) -> None:
    """Ask for the end once the car has ended and its last datagrams are in."""
    while not car.ended and not stop.asked:
        stop.sleep(LAST)
    stop.sleep(LAST)
    stop.asked = True


def _drive(
    car: CarProcess,
    receiver: UdpReceiver,
    clock: Clock,
    session: Session,
    console: Console,
    stop: Stop,
    presses: Presses,
) -> None:
    came = listen("generic", registry.create("generic"), receiver, clock, session, console, stop, presses)
    if not car.ended:
        return  # stopped before the end
    sent = int(car.said())
    if sent > came:
        console.say(f"{sent - came} of {sent} datagrams were lost on the way: this machine is too busy for --fast")
