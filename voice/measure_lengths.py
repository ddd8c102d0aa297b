"""Measure how long phrases take to say, for a shipped table: `python -m voice.measure_lengths OUT < PHRASES`.

Only the speech counts: silence before and after it is left out. What was said before changes a phrase by some
hundredths of a second, so each is said twice, in two orders, and the longer counts, rounded up to 10 ms.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from coach.vocabulary.errors import CornerwordError, InputError, WorkError
from voice.child import WARM_UP
from voice.espeak import Espeak
from voice.trim import speech_seconds


def measure(phrases: Iterable[str], say: Callable[[str], Sequence[int]], sample_rate: float) -> dict[str, float]:
    """Length of each phrase (s, rounded up to 10 ms), said by `say`. Raises WorkError for one that is silent."""
    order = list(dict.fromkeys(phrases))
    for phrase in WARM_UP:
        say(phrase)
    longest = dict.fromkeys(order, 0.0)
    for phrase in (*order, *reversed(order)):
        longest[phrase] = max(longest[phrase], speech_seconds(say(phrase), sample_rate))
    for phrase, seconds in longest.items():
        if seconds <= 0:
            raise WorkError(f"voice: {phrase!r} came out silent; take it out or choose another voice")
    return {phrase: math.ceil(round(seconds * 100, 6)) / 100 for phrase, seconds in longest.items()}


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the table to OUT; the table's name is OUT's own."""
    parser = argparse.ArgumentParser(prog="python -m voice.measure_lengths", description=(__doc__ or "").split("\n")[0])
    parser.add_argument("out", metavar="OUT", type=Path, help="the table to write, NAME.json")
    parser.add_argument("--phrases", metavar="FILE", type=Path, help="one phrase a line; else standard input")
    parser.add_argument("--voice", default="en-us")
    parser.add_argument("--rate", type=int, default=175, help="words a minute")
    options = parser.parse_args(arguments)
    try:
        _write(options.out, _read(options.phrases), options.voice, options.rate)
    except CornerwordError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    return 0


def _write(out: Path, phrases: list[str], voice: str, rate: int) -> None:
    espeak = Espeak(voice, rate)
    table = {
        "table": out.stem,
        "voice": f"espeak-ng {espeak.version} {voice}",
        "rate": rate,
        "lengths": measure(phrases, espeak.say, espeak.sample_rate),
    }
    try:
        out.write_text(json.dumps(table, indent=0, ensure_ascii=False) + "\n", encoding="utf-8")
    except OSError as error:
        raise WorkError(f"{out}: cannot be written ({error.strerror}); choose another place") from error


def _read(path: Path | None) -> list[str]:
    name = "standard input" if path is None else str(path)
    try:
        text = sys.stdin.read() if path is None else path.read_text(encoding="utf-8")
    except OSError as error:
        raise InputError(f"{name}: cannot be read ({error.strerror})") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{name}: not UTF-8 text; save it as UTF-8") from error
    phrases = [line.strip() for line in text.splitlines() if line.strip()]
    if not phrases:
        raise InputError(f"{name}: no phrase in it; give one a line")
    return phrases


if __name__ == "__main__":
    sys.exit(main())
