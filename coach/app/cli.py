"""The command `cornerword`: reads the command line, runs one verb, and turns errors into one line and an exit code.

Nothing heavy is imported until a verb needs it, so that `--help` answers at once.
"""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Sequence
from importlib import import_module
from io import TextIOWrapper
from typing import Any, TextIO

from coach.app.arguments import parser
from coach.app.stop import Stop, stop_on_signals
from coach.vocabulary.errors import CornerwordError, WorkError

TRACEBACK = "CORNERWORD_TRACEBACK"
"""Environment variable: set to anything, an unexpected error shows its traceback."""

_WORK = {
    "drive": ("drive", "DriveOptions"),
    "record": ("drive", "RecordOptions"),
    "replay": ("replay", "ReplayOptions"),
    "demo": ("demo", "DemoOptions"),
    "compare": ("compare", "CompareOptions"),
    "buttons": ("buttons", "ButtonsOptions"),
    "place": ("place", "PlaceOptions"),
    "playbook": ("playbook", "PlaybookOptions"),
    "layout": ("layout", "LayoutOptions"),
    "decipher": ("decipher", "DecipherOptions"),
    "checkup": ("checkup", "CheckupOptions"),
    "follow": ("follow", "FollowOptions"),
    "recordings": ("recordings", "RecordingsOptions"),
    "inspect": ("inspect", "InspectOptions"),
    "cut": ("cut", "CutOptions"),
    "export": ("export", "ExportOptions"),
    "debrief": ("debrief", "DebriefOptions"),
    "progress": ("progress", "ProgressOptions"),
    "pupils": ("pupils", "PupilsOptions"),
    "memory sessions": ("remembering.look", "SessionsOptions"),
    "memory laps": ("remembering.look", "LapsOptions"),
    "memory note": ("remembering.edit", "NoteOptions"),
    "memory setup": ("remembering.edit", "SetupOptions"),
    "memory name": ("remembering.edit", "NameOptions"),
    "memory forget": ("remembering.edit", "ForgetOptions"),
    "memory choose": ("remembering.edit", "ChooseOptions"),
    "memory give": ("remembering.hand", "GiveOptions"),
    "memory take": ("remembering.hand", "TakeOptions"),
    "memory copy": ("remembering.hand", "CopyOptions"),
}
"""Of each verb the module of `coach.app` with the function of its (last) name, which returns what is printed, and the
options in `config` that it takes."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns the exit code: 0 done, 1 the work failed, 2 the command line or a file was wrong."""
    try:
        with stop_on_signals() as stop:  # before anything else: what an import does at Ctrl-C is not for a person
            try:
                given = vars(parser().parse_args(arguments))
            except SystemExit as end:  # argparse has said what there was to say
                return end.code if isinstance(end.code, int) else 2
            verb, work = given.pop("verb"), given.pop("work", None)
            _run(verb if work is None else f"{verb} {work}", given, stop)
    except CornerwordError as error:
        return _fail(str(error), error.exit_code)
    except KeyboardInterrupt:
        return _fail("stopped before the end", 1)
    except Exception as error:
        return _fail(_bug(error), 1)
    return 0


def _run(verb: str, given: dict[str, Any], stop: Stop) -> None:
    from coach.app import config
    from coach.app.console import Console

    module, options = _WORK[verb]
    work = getattr(import_module(f"coach.app.{module}"), verb.split()[-1])
    _print(work(config.checked(getattr(config, options), given), Console(), stop), to_errors=given.get("events") == "-")


def _print(text: str, to_errors: bool) -> None:
    stream: TextIO | None = sys.stderr if to_errors else sys.stdout
    if stream is None:
        raise WorkError("the summary has nowhere to go, the output is closed: leave it open, or name a file")
    if isinstance(stream, TextIOWrapper):
        stream.reconfigure(errors="backslashreplace")  # a label that the terminal's encoding does not know
    try:
        stream.write(text)
        stream.flush()
    except BrokenPipeError:
        from coach.app.eventlog import silence_stdout

        silence_stdout()
    except OSError as error:
        from coach.app.eventlog import silence_stdout

        silence_stdout()
        raise WorkError(f"the summary could not be written ({error.strerror}): make room, or name a file") from error


def _fail(message: str, code: int) -> int:
    if sys.stderr is not None:
        print(f"cornerword: {message}", file=sys.stderr)
    return code


def _bug(error: Exception) -> str:
    """One line for what should not happen; the traceback only where it is asked for."""
    if os.environ.get(TRACEBACK):
        traceback.print_exception(error)
    frame = traceback.extract_tb(error.__traceback__)[-1]
    what = " ".join(f"{type(error).__name__}: {error}".split())[:200]
    place = f"{os.path.basename(frame.filename)}:{frame.lineno}"
    return f"a bug, {what} at {place}: please report it with what {TRACEBACK}=1 shows"
