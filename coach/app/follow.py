"""`follow`: a drive that another computer shares, coached here as there: overlay, voice, log, recording, summary."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import ExitStack, closing

from coach.app import settings
from coach.app.beside import beside
from coach.app.config import FollowOptions
from coach.app.console import Console, Notices, Staged, plain
from coach.app.eventlog import EventLog
from coach.app.following.followloop import FollowLoop, Link, Place, TheirClock
from coach.app.following.instructor import Typed
from coach.app.intake import Intake
from coach.app.line import Sink
from coach.app.session import Session, ended
from coach.app.stage import staged
from coach.app.start import SessionStart, from_head
from coach.app.stop import Stop
from coach.app.summary import Summary
from coach.playbook.load import load
from coach.vocabulary.errors import FormatError, InputError, WorkError
from feeds.addresses import parts, written
from feeds.discovery import Shared, browse
from feeds.recording import RecordingWriter
from feeds.sharing import SHARE_PORT
from feeds.sharing.lines import HELP

BROWSING = 3.0
"""s of looking for shared drives: one that is there answers in a tenth of a second, one that begins in two."""
SHOWN = 200
"""characters of an error about what the other computer sent that are shown."""
_NONE = (
    "start the drive on the other computer with --share-with and this one's address, or give its address with --at, "
    "as multicast may be blocked"
)


def follow(options: FollowOptions, console: Console, stop: Stop) -> str:
    """Follow a drive until it or this is ended; returns the summary. Without a name or an address: the list of those
    that are shared. WorkError where there is none, or it refuses."""
    if options.at is None and options.name is None:
        return listed(browse(BROWSING, lambda: stop.asked))
    playbook = None if options.playbook is None else load(options.playbook)
    settings.read(options.settings)  # what is wrong in them is said before any work
    summary = Summary()
    notices = Notices(console)
    sinks: list[Sink] = [console, notices]
    with ExitStack() as opened:
        link = opened.enter_context(closing(Link(_places(options, stop), console.say)))
        try:
            start = from_head(link.now.head, options.reference, options.focus, stop, playbook, memory=options.memory)
        except FormatError as error:
            raise FormatError(f"{link.now.where}: {plain(str(error), SHOWN)}") from error
        start = start.alternating(options.alternate).at_stage(options.stage)
        intake = Intake(start.new_feed(), console.say)
        if options.events is not None:
            log = EventLog(options.events, lambda line: console.say(f"{line}; the session goes on without it"))
            sinks.append(opened.enter_context(closing(log)))
        stage = opened.enter_context(staged(options, start.planner.playbook, console, stop))
        sinks += stage.sinks  # not `speaking`: phrases as long as the driver's, or other things would be said here
        recorder = None if options.record is None else RecordingWriter(options.record, start.head())
        clock = TheirClock()
        watchers: list[Sink] = [summary, Staged(console, notices), *stage.watchers]
        session = opened.enter_context(ended(Session(start, sinks, recorder, console, watchers), clock))
        _greet(link, start, console)
        loop = FollowLoop(link, clock, intake, session, console)
        beside(stage.window, lambda: loop.run(stop))
    return summary.text()


def listed(found: Iterable[Shared]) -> str:
    """The drives that were found, one a line. WorkError where there is none."""
    lines = sorted({f"{plain(one.name)}  {written((one.addresses[0], one.port))}" for one in found})
    if not lines:
        raise WorkError(f"no shared drive was found on this network: {_NONE}")
    return "".join(f"{line}\n" for line in lines)


def chosen(wanted: str, found: Iterable[Shared]) -> Shared:
    """The one that is called so, or the only one whose name holds it. InputError where several do, WorkError where
    none does."""
    part = []
    for one in found:
        if one.name.casefold() == wanted.casefold():
            return one
        if wanted.casefold() in one.name.casefold() and one not in part:
            part.append(one)
    if not part:
        raise WorkError(f'no shared drive "{plain(wanted)}" was found on this network: {_NONE}')
    if len(part) > 1:
        names = ", ".join(sorted(plain(one.name) for one in part))
        raise InputError(f'"{plain(wanted)}" is in the names of several drives: choose one of {names}')
    return part[0]


def _places(options: FollowOptions, stop: Stop) -> list[Place]:
    if options.at is not None:
        return [parts(options.at, SHARE_PORT)]
    with closing(browse(BROWSING, lambda: stop.asked)) as found:
        one = chosen(options.name or "", found)
    return [(address, one.port) for address in one.addresses]


def _greet(link: Link, start: SessionStart, console: Console) -> None:
    console.say(f'following "{plain(link.now.name)}" at {link.now.where} (feed "{plain(start.feed)}"); Ctrl-C ends')
    if link.now.has_begun:
        console.say(
            "the drive had begun before: laps, topic and what is said here are from now on, and may not be the driver's"
        )
    if link.now.is_instructor and Typed(link.ask, console.say).start():
        console.say(f'you may instruct: type an action and press Enter, "{HELP}" lists them')
