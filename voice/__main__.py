"""Hear a phrase: `python -m voice "Throttle sooner"` renders it, plays it, and prints what the device did."""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from coach.vocabulary.errors import CornerwordError
from coach.vocabulary.events import Cue
from voice.open import RATE, open_voice


def main(arguments: Sequence[str] | None = None) -> int:
    """Say each phrase, one after the other."""
    parser = argparse.ArgumentParser(prog="python -m voice", description="Say phrases with the coach's voice.")
    parser.add_argument("phrases", metavar="PHRASE", nargs="+")
    parser.add_argument("--voice", help="one of the synthesiser's; its default if none is named")
    parser.add_argument("--rate", type=int, default=RATE, help="words a minute (%(default)s)")
    parser.add_argument("--device", metavar="NAME", help="the sound device; the system's own if none is named")
    parser.add_argument("--volume", type=float, default=1.0, help="0 to 1 (%(default)s)")
    options = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "diagnostics.jsonl"
        try:
            for phrase in options.phrases:
                _say(phrase, options, log)
        except CornerwordError as error:
            print(error, file=sys.stderr)
            return error.exit_code
        except KeyboardInterrupt:
            return 1
        print(log.read_text(encoding="utf-8"), end="")
    return 0


def _say(phrase: str, options: argparse.Namespace, log: Path) -> None:
    voice = open_voice(
        [phrase],
        tell=lambda line: print(line, file=sys.stderr),
        voice=options.voice,
        rate=options.rate,
        volume=options.volume,
        device=options.device,
        diagnostics=log,
    )
    voice.take(Cue(0.0, 0, "correction", None, (), None, phrase, True, None, None, None, None))
    voice.close(10.0)


if __name__ == "__main__":
    sys.exit(main())
