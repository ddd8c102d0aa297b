"""The command line: every verb with what may be asked of it.

Nothing heavy is imported here, so that `--help` answers at once.
"""

from __future__ import annotations

import argparse
from typing import Any, NoReturn

from coach import __version__

_DESCRIPTION = "A coach for sim-racing practice: it listens to telemetry and says one short thing at the corner exit."
_EPILOG = "For simulators. On a real road or circuit the driver, the venue's rules and licensed instructors decide."


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one line, as every error of ours is said."""

    def error(self, message: str) -> NoReturn:
        self.exit(2, f"{self.prog}: {message}; see {self.prog} --help\n")


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = _Parser(prog="cornerword", description=_DESCRIPTION, epilog=_EPILOG, allow_abbrev=False)
    top.add_argument("--version", action="version", version=f"cornerword {__version__}")
    verbs = top.add_subparsers(dest="verb", metavar="VERB", required=True)

    drive = _verb(verbs, "drive", "coach a live stream: laps, delta and cues until Ctrl-C, then a summary")
    _add_listening(drive)
    _add_coaching(drive)
    _add_presenting(drive)
    _add_pressing(drive)
    drive.add_argument(
        "--pass-on",
        metavar="ADDRESS",
        action="append",
        help="send the stream on as it comes, for a second computer that runs a drive with --host; as often as wanted",
    )
    drive.add_argument(
        "--share-with",
        metavar="ADDRESS",
        action="append",
        help="let this computer follow the drive; as often as wanted, nobody if it is not given",
    )
    drive.add_argument(
        "--instructor",
        metavar="ADDRESS",
        action="append",
        help="let this computer follow, choose what is worked on, mute the coach and set marks",
    )
    drive.add_argument("--record", metavar="FILE", help="record the stream too, to a new file (.cwrec)")
    _add_keeping(drive)

    record = _verb(verbs, "record", "write a live stream to a recording until Ctrl-C")
    record.add_argument("file", metavar="FILE", help="a new file (.cwrec)")
    _add_listening(record)

    replay = _verb(verbs, "replay", "run a recording through the same coach")
    _add_reading(replay)
    _add_coaching(replay)
    _add_presenting(replay)
    replay.add_argument("--fast", action="store_true", help="as fast as it goes, without voice and overlay")
    _add_beginning(replay)

    demo = _verb(verbs, "demo", "coach a built-in car on a built-in circuit: needs no simulator")
    _add_coaching(demo)
    _add_presenting(demo)
    _add_pressing(demo)
    demo.add_argument("--fast", action="store_true", help="as fast as it goes, without voice and overlay")
    _add_keeping(demo)
    demo.add_argument("--driver", metavar="NAME", help="who drives: steady (that is the default) or beginner")
    demo.add_argument("--car", metavar="NAME", help='"Pellow R", rear driven (the default), or "Pellow S"')
    demo.add_argument("--laps", metavar="N", help="whole laps, from a rolling start (3)")
    demo.add_argument("--rate", metavar="HZ", help="datagrams a second, 20 to 360 (60)")
    demo.add_argument("--seed", metavar="N", help="another number drives otherwise (1)")
    demo.add_argument(
        "--mistake",
        metavar="KIND:LAP:CORNER:SIZE",
        action="append",
        help="a mistake to make in place of the usual ones, as often as wanted, for example late_throttle:2:4:0.5",
    )

    compare = _verb(verbs, "compare", "run a recording under two playbooks and show side by side what each would say")
    _add_reading(compare)
    compare.add_argument(
        "--playbook",
        metavar="FILE",
        action="append",
        help='an instructor\'s playbook (TOML), twice; "default" or one left out is the built-in one, "recorded" the '
        "recording's own",
    )
    _add_judging(compare)
    compare.add_argument(
        "--picture", metavar="OUT.svg", help="draw the lap too, with the speech of both laid on the road"
    )
    compare.add_argument("--lap", metavar="N", help="what is said on this lap alone in the picture (all laps)")

    buttons = _verb(verbs, "buttons", "say which button of a controller does what, by pressing each when asked")
    buttons.add_argument("--list", dest="listed", action="store_true", help="only show what is bound")
    buttons.add_argument("--add", action="store_true", help="more buttons, beside those that are bound")
    buttons.add_argument("--clear", action="store_true", help="no button does anything any more")

    place = _verb(verbs, "place", "place and size the overlay before driving, by mouse, keyboard or game controller")
    place.add_argument("--placing", metavar="FILE", help="where to write it (overlay.toml beside your settings)")
    place.add_argument("--settings", metavar="FILE", help="settings (TOML) to use in place of your own settings.toml")
    place.add_argument("--playbook", metavar="FILE", help="the playbook (TOML) whose words show where nothing sounds")
    place.add_argument(
        "--no-voice", dest="voice", action="store_false", default=None, help="as in a drive without a voice: with words"
    )

    playbook = _verb(verbs, "playbook", "check an instructor's playbook and say what is in it")
    playbook.add_argument("file", metavar="FILE", nargs="?", help="a playbook (TOML); without one, the built-in one")
    playbook.add_argument("--lengths", action="store_true", help="list each phrase with the seconds that it takes")
    playbook.add_argument("--speak", action="store_true", help="speak the phrases through once, one corner for all")

    layout = _verb(verbs, "layout", "check a layout file and say which channels it gives")
    layout.add_argument("file", metavar="FILE", help="a layout file (TOML)")

    decipher = _verb(verbs, "decipher", "find out what an unknown simulator's packets hold, and write a layout file")
    decipher.add_argument("file", metavar="FILE", help="a new layout file (TOML)")
    _add_receiving(decipher)
    decipher.add_argument(
        "--recorded", metavar="FILE", help="from a recording or capture in which all was done, not from a live stream"
    )
    decipher.add_argument("--no-voice", dest="voice", action="store_false", default=None, help="say no step aloud")

    checkup = _verb(verbs, "checkup", "look at the running stream and say what arrives, and whether all is ready")
    _add_listening(checkup)
    checkup.add_argument("--seconds", metavar="N", help="how long to look (10)")
    checkup.add_argument("--no-voice", dest="voice", action="store_false", default=None, help="do not try the sound")
    checkup.add_argument("--no-overlay", dest="overlay", action="store_false", default=None, help="open no window")
    checkup.add_argument("--settings", metavar="FILE", help="settings (TOML) to use in place of your own settings.toml")

    follow = _verb(verbs, "follow", "follow a drive that another computer shares; without a name, list those there are")
    follow.add_argument("name", metavar="NAME", nargs="?", help="of the drive, or a part of it")
    follow.add_argument("--at", metavar="ADDRESS:PORT", help="where it is shared, if it cannot be found by its name")
    _add_coaching(follow)
    _add_presenting(follow)
    follow.add_argument("--record", metavar="FILE", help="record the stream too, to a new file (.cwrec)")

    recordings = _verb(verbs, "recordings", "list the recordings in a folder")
    recordings.add_argument("folder", metavar="FOLDER", nargs="?", help="where to look (the current folder)")

    inspect = _verb(verbs, "inspect", "say what is in a recording, and whether it is whole")
    _add_reading(inspect)

    cut = _verb(verbs, "cut", "write some laps of a recording to a new recording")
    _add_reading(cut)
    cut.add_argument("to", metavar="TO", help="a new file (.cwrec)")
    cut.add_argument("--laps", metavar="N[-M]", required=True, help="which, for example 3 or 2-4")

    export = _verb(verbs, "export", "write the channels of a recording to a table for other programs")
    _add_reading(export)
    export.add_argument("to", metavar="TO", help="a new file: .csv, .npz, .mf4 or .parquet")
    export.add_argument("--laps", metavar="N[-M]", help="only these, for example 3 or 2-4")

    _add_memory(_verb(verbs, "memory", "look at what was driven, name it, hand laps on, choose a reference"))

    debrief = _verb(verbs, "debrief", "say where the seconds of a session are, and write it as a page (HTML)")
    debrief.add_argument(
        "what", metavar="SESSION", nargs="?", help="a kept session's number, or a recording (the session kept last)"
    )
    debrief.add_argument("--to", metavar="FILE.html", help="a new page; without it, the words alone")
    debrief.add_argument("--pictures", metavar="FOLDER", help="the pictures besides, as SVG and PNG, in a new folder")
    debrief.add_argument("--reference", metavar="FILE_OR_NAME", help="of a recording: the lap that it is held against")
    debrief.add_argument("--port", metavar="PORT", help="of a capture: the UDP port that they went to (the busiest)")
    _add_made(debrief)
    _add_memory_file(debrief)

    progress = _verb(verbs, "progress", "say what became of the last sessions of one driver, car and circuit")
    progress.add_argument("--to", metavar="FILE.html", help="a new page; without it, the words alone")
    progress.add_argument("--sessions", metavar="N", help="the last so many, 2 to 50 (7)")
    _add_whose(progress)
    _add_memory_file(progress)

    pupils = _verb(verbs, "pupils", "for an instructor: several pupils' memories side by side")
    pupils.add_argument("files", metavar="FILE", nargs="+", help="pupils' memories, as `cornerword memory copy` writes")
    pupils.add_argument("--to", metavar="FILE.html", help="a new page; without it, the words alone")
    pupils.add_argument("--track", metavar="NAME", help="the circuit (the one that most of them drive)")
    return top


def _add_memory(to: argparse.ArgumentParser) -> None:
    _add_memory_file(to)
    whats = to.add_subparsers(dest="work", metavar="WHAT", required=True)

    sessions = _verb(whats, "sessions", "list the kept sessions, the newest first")
    for label in ("driver", "car", "track"):
        sessions.add_argument(f"--{label}", metavar="NAME", help=f"only those of this {label}")

    laps = _verb(whats, "laps", "list the laps of a session, with their numbers in the memory")
    laps.add_argument("session", metavar="SESSION", nargs="?", help="its number (the session kept last)")

    note = _verb(whats, "note", "write a note to a session")
    note.add_argument("session", metavar="SESSION", help="its number")
    note.add_argument("text", metavar="TEXT", help="the note; an empty one takes the old one away")

    setup = _verb(whats, "setup", "say with which setup a session was driven")
    setup.add_argument("session", metavar="SESSION", help="its number")
    setup.add_argument("label", metavar="LABEL", help="the setup's name; an empty one takes the old one away")

    name = _verb(whats, "name", "give a lap a name, by which --reference finds it")
    name.add_argument("lap", metavar="LAP", help="its number in the memory, or its name")
    name.add_argument("label", metavar="NAME", help="the new name; an empty one takes the old one away")

    forget = _verb(whats, "forget", "delete a session with all its laps, or one lap's channels")
    which = forget.add_mutually_exclusive_group(required=True)
    which.add_argument("--session", metavar="SESSION", help="its number")
    which.add_argument("--lap", metavar="LAP", help="its number in the memory, or its name")

    choose = _verb(whats, "choose", "make a lap the reference of its circuit and car from now on")
    choose.add_argument("lap", metavar="LAP", help='its number in the memory, its name, or "best": the best clean one')
    _add_whose(choose)

    give = _verb(whats, "give", "write a lap to a file, to hand it on")
    give.add_argument("lap", metavar="LAP", help="its number in the memory, or its name")
    give.add_argument("file", metavar="FILE", help="a new file (.cwlap)")

    take = _verb(whats, "take", "take a lap that was handed on, or a whole recording, into the memory")
    take.add_argument("file", metavar="FILE", help="a lap (.cwlap), or a recording as `replay` reads it")
    take.add_argument("--name", metavar="NAME", help="the lap's name here (the one in the file)")
    take.add_argument("--port", metavar="PORT", help="of a capture: the UDP port that they went to (the busiest)")
    _add_made(take)

    copy = _verb(whats, "copy", "write the whole memory to one file, for an instructor or to keep")
    copy.add_argument("file", metavar="FILE", help="a new file (.sqlite)")

    for work in whats.choices.values():  # behind the work too, where a person would write it
        _add_memory_file(work, default=argparse.SUPPRESS)


def _add_memory_file(to: argparse.ArgumentParser, default: Any = None) -> None:
    to.add_argument("--memory", metavar="FILE", default=default, help="the memory to use in place of your own")


def _add_keeping(to: argparse.ArgumentParser) -> None:
    to.add_argument(
        "--no-memory", dest="keep", action="store_false", default=None, help="keep nothing, and begin from nothing kept"
    )


def _add_whose(to: argparse.ArgumentParser) -> None:
    for label in ("driver", "car", "track"):
        to.add_argument(f"--{label}", metavar="NAME", help=f"of this {label} (the one driven last)")


def _verb(verbs: Any, name: str, what: str) -> argparse.ArgumentParser:
    added: argparse.ArgumentParser = verbs.add_parser(
        name, help=what, description=what[0].upper() + what[1:] + ".", allow_abbrev=False
    )
    return added


def _add_listening(to: argparse.ArgumentParser) -> None:
    _add_receiving(to)
    _add_made(to)


def _add_receiving(to: argparse.ArgumentParser) -> None:
    to.add_argument("--host", metavar="ADDRESS", help="address to listen on (127.0.0.1; 0.0.0.0 is every network)")
    to.add_argument("--port", metavar="PORT", help="UDP port to listen on (26763)")
    to.add_argument(
        "--allow",
        metavar="ADDRESS",
        action="append",
        help="who may send besides this computer; as often as wanted, what others send is dropped and counted",
    )


def _add_made(to: argparse.ArgumentParser) -> None:
    to.add_argument("--feed", metavar="NAME", help="what the stream is made of (generic)")
    to.add_argument("--layout", metavar="FILE", help="a layout file (TOML) that says what its packets are made of")


def _add_reading(to: argparse.ArgumentParser) -> None:
    to.add_argument(
        "file",
        metavar="FILE",
        help="a recording (.cwrec), datagrams line by line (.jsonl, .jsonl.gz), or a capture (.pcap, .pcapng)",
    )
    to.add_argument("--port", metavar="PORT", help="of a capture: the UDP port that they went to (the busiest)")
    _add_made(to)


def _add_coaching(to: argparse.ArgumentParser) -> None:
    to.add_argument("--events", metavar="FILE", help="write the event log, JSON lines, to a file; - is standard output")
    to.add_argument("--playbook", metavar="FILE", help="an instructor's playbook (TOML) over the built-in one")
    to.add_argument(
        "--alternate", action="store_true", default=None, help="every other lap without a word; both are reported"
    )
    to.add_argument(
        "--stage",
        metavar="STAGE",
        help="what is practised: learn, clean, pace or rehearse; it holds until another is named (pace)",
    )
    _add_judging(to)


def _add_judging(to: argparse.ArgumentParser) -> None:
    to.add_argument(
        "--reference",
        metavar="FILE_OR_NAME",
        help="measure against the best clean lap of this recording or .jsonl(.gz), or against this lap file (.cwlap), "
        'not against the session itself; "grip" is what your own line allows with the grip you show elsewhere, '
        '"patchwork" your best corners joined; else a kept lap, by its name or number in the memory',
    )
    _add_memory_file(to)
    to.add_argument("--focus", metavar="FAULT[,FAULT]", help="coach only these faults, for example late_throttle")


def _add_presenting(to: argparse.ArgumentParser) -> None:
    to.add_argument("--no-voice", dest="voice", action="store_false", default=None, help="say nothing aloud")
    to.add_argument("--no-overlay", dest="overlay", action="store_false", default=None, help="open no window")
    to.add_argument("--no-text", dest="text", action="store_false", default=None, help="an overlay without text")
    to.add_argument(
        "--no-times", dest="times", action="store_false", default=None, help="an overlay that hides gain and loss"
    )
    to.add_argument(
        "--window", action="store_true", default=None, help="the overlay as an ordinary window, for a second screen"
    )
    to.add_argument("--full-screen", action="store_true", default=None, help="the overlay over a whole monitor")
    to.add_argument("--monitor", metavar="NAME", help="the monitor that the overlay is on (the main one)")
    to.add_argument("--sound-log", metavar="FILE", help="write what the sound device did with each cue, JSON lines")
    to.add_argument("--volume", metavar="SHARE", help="of the voice, 0 to 1 (1)")
    to.add_argument("--words-a-minute", metavar="N", help="how quickly it speaks (175)")
    to.add_argument("--speaker", metavar="NAME", help="the synthesiser's voice that speaks (the language's own)")
    to.add_argument("--sound-device", metavar="NAME", help="where it sounds: a device's name, or a part of it")
    to.add_argument("--settings", metavar="FILE", help="settings (TOML) to use in place of your own settings.toml")


def _add_pressing(to: argparse.ArgumentParser) -> None:
    to.add_argument(
        "--no-buttons",
        dest="buttons",
        action="store_false",
        default=None,
        help="do not hear the buttons that `cornerword buttons` has bound",
    )


def _add_beginning(to: argparse.ArgumentParser) -> None:
    group = to.add_argument_group(
        "where to begin",
        "The coach takes in all that lies before as well, at once and in silence, so it says what it says in the whole "
        "replay. The event log then holds the events from there on, with the run, reference, map and detectors before "
        "them; the summary is of the whole recording. A number that occurs twice, after a reset, is its first time.",
    )
    group.add_argument("--from-lap", metavar="N", help="begin with this lap")
    group.add_argument(
        "--from-corner", metavar="N", help="begin before this corner, in that lap or where it first comes"
    )
    group.add_argument(
        "--before-cue", metavar="N", help="begin before the Nth cue that is spoken, from 1; compare shows the numbers"
    )
    group.add_argument("--before-mark", metavar="N", help="begin before the Nth mark that was set, from 1")
    group.add_argument(
        "--lead", metavar="SECONDS", help="how long before the corner's brake point, the cue or the mark to begin (10)"
    )
