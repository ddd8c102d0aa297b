"""Phrases rendered by short-lived processes, checked, and rendered again where one came out wrong."""

from __future__ import annotations

import json
import os
import subprocess
import tempfile
import time
from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from coach.vocabulary.errors import FormatError, InputError, WorkError
from voice import child, process, soundfile
from voice.checks import CHECK, Expected
from voice.loudness import even
from voice.trim import SAMPLE_RATE, Samples, resampled, speech_seconds, trimmed

WAYS = ("pyttsx3", "pyttsx3", "pyttsx3", "espeak", "espeak")
"""How a phrase is rendered at its first attempt, its second, and so on; behind the last it stays away."""
PLATFORM_WAYS = WAYS[:3]
"""The same for a system's own voice, which only pyttsx3 knows."""
CHUNK = 200
"""Phrases a process at most: what one that hangs or dies costs."""
SMALLEST = 15
"""Phrases a process at least, where there are as many: a process takes as long to start as these take to render."""
PARALLEL = 4
"""Processes at a time: each sleeps most of its time, in pyttsx3's own polling (measured)."""
STALL = 15.0
"""s without a phrase after which a process hangs. Some systems' speech takes seconds at its first start."""
LOOK = 0.01
"""s between two looks at the processes."""
LARGEST = 8_000_000
"""bytes of a sound file: minutes of sound, so a larger one is no phrase."""

_NOTHING: Samples = np.zeros(0, dtype=np.int16)

Stopped = Callable[[], bool]
Progress = Callable[[int, int], None]


class Interrupted(Exception):
    """Rendering was stopped from outside before its end."""


@dataclass(frozen=True, slots=True)
class Facts:
    """Who speaks: `engine` with its version, `voice` by its own name, `source` as in `library` or the platform's."""

    engine: str
    voice: str
    source: str


@dataclass(frozen=True, slots=True)
class Job:
    """What a child process is to do. `seconds`: it ends itself after that. No phrases: it only gives the facts.

    `gentle`: everything else on this machine goes first.
    """

    phrases: tuple[str, ...]
    voice: str | None
    rate: int
    seconds: float
    way: str = ""
    source: str = ""
    gentle: bool = False


@dataclass(frozen=True, slots=True)
class Rendered:
    """`samples`: 16 bit mono, lowest byte first, `trim.EDGE` of silence around, of one loudness with all others.
    `seconds`: of speech alone."""

    samples: bytes
    seconds: float


@dataclass(slots=True)
class Renderer:
    """Renders at one `rate` (words a minute). `folder`: where work folders are made and removed again.

    `command`: the child process; `stall` (s) as `STALL`, `parallel` as `PARALLEL`, `gentle` as in `Job`.
    """

    rate: int
    folder: Path
    command: Sequence[str] = tuple(process.module("voice.child"))
    stall: float = STALL
    parallel: int = PARALLEL
    gentle: bool = False

    def facts(self, voice: str | None, stopped: Stopped) -> Facts:
        """Who would speak here as `voice` (None: the default). Raises InputError for a voice or rate that there is
        not, WorkError where nothing speaks, Interrupted where `stopped`."""
        with _Run(self, Job((), voice, self.rate, self.stall + 1.0), attempt=0) as run:
            _wait(run, stopped)
            wrong = run.report("error.json")
            if wrong.get("wrong_input"):
                raise InputError(str(wrong["error"]))
            facts = run.report("facts.json")
            try:
                return Facts(str(facts["engine"]), str(facts["voice"]), str(facts["source"]))
            except KeyError:
                raise WorkError(str(wrong.get("error") or run.end or "the synthesiser said nothing")) from None

    def render(
        self,
        phrases: Iterable[str],
        facts: Facts,
        expected: Expected,
        keep: Callable[[Mapping[str, Rendered]], None],
        progress: Progress,
        stopped: Stopped,
    ) -> dict[str, str]:
        """Gives what is right to `keep`, process by process; returns the phrases that stay away, each with why.

        `expected` learns the check's length from the first process that is right, if it did not know it. Raises
        Interrupted where `stopped`, the processes ended and what was kept until then kept.
        """
        work = _Work(self, tuple(dict.fromkeys(phrases)), facts, expected)
        with ExitStack() as running:
            while work.goes_on:
                if stopped():
                    raise Interrupted
                work.start(running)
                time.sleep(LOOK)
                for good in work.finished():
                    keep(good)
                progress(work.done, work.total)
        return work.missing


class _Run:
    """One child process and its work folder."""

    def __init__(self, renderer: Renderer, job: Job, attempt: int) -> None:
        self.job, self.attempt = job, attempt
        self.end = ""
        self.no_room = False
        self.done = 0
        self._stall = renderer.stall
        self._since = time.monotonic()
        with ExitStack() as undo:
            try:
                self._temporary = tempfile.TemporaryDirectory(dir=renderer.folder, ignore_cleanup_errors=True)
                undo.callback(self._temporary.cleanup)
                self.folder = Path(self._temporary.name)
                (self.folder / "job.json").write_text(json.dumps(asdict(job)), encoding="utf-8")
                command = [*renderer.command, str(self.folder)]
                self._process = process.start(command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
            except OSError as error:
                raise WorkError(f"no process to render in ({error.strerror or error})") from error
            undo.pop_all()

    def __enter__(self) -> _Run:
        return self

    def __exit__(self, *_: object) -> None:
        process.kill(self._process)
        self._temporary.cleanup()

    def is_over(self) -> bool:
        """Whether it has ended, and `end` says how where that was no good end; one that hangs is ended here."""
        code = self._process.poll()
        if code is not None:
            self.end = _exit(code) if code else ""
            self.no_room = code == child.NO_ROOM
            return True
        done, now = self._count(), time.monotonic()
        if done != self.done:
            self.done, self._since = done, now
        if now - self._since <= self._stall:
            return False
        process.kill(self._process)
        self.end = f"the synthesiser did nothing for {self._stall:.0f} s"
        return True

    def report(self, name: str) -> dict[str, Any]:
        """The JSON object in one of its files; empty where there is none."""
        try:
            found = json.loads((self.folder / name).read_text(encoding="utf-8"))
        except (OSError, ValueError, RecursionError):
            return {}
        return found if isinstance(found, dict) else {}

    def sounds(self) -> list[Samples]:
        """What it wrote for each phrase, trimmed; empty where that is no sound."""
        return [_sound(self.folder / f"{number:05}.wav") for number in range(len(self.job.phrases))]

    def _count(self) -> int:
        """Phrases that it has rendered, the checks left out."""
        try:
            written = (self.folder / "progress").stat().st_size
        except OSError:
            return 0
        return max(0, min(written - 1, len(self.job.phrases) - 2))


class _Work:
    """What is to be rendered, what is being rendered, and what stays away."""

    def __init__(self, renderer: Renderer, phrases: tuple[str, ...], facts: Facts, expected: Expected) -> None:
        self.total = len(phrases)
        self.missing: dict[str, str] = {}
        self._renderer, self._facts, self._expected = renderer, facts, expected
        self._ways = PLATFORM_WAYS if facts.source == child.PLATFORM else WAYS
        self._waiting = deque((chunk, 0) for chunk in _chunks(phrases, renderer.parallel))
        self._running: list[_Run] = []
        self._settled = 0
        self._most = 0

    @property
    def goes_on(self) -> bool:
        return bool(self._waiting or self._running)

    @property
    def done(self) -> int:
        """Phrases done so far; it does not fall where some are done again."""
        under_way = sum(run.done for run in self._running)
        self._most = max(self._most, min(self._settled + under_way, self.total))
        return self._most

    def start(self, running: ExitStack) -> None:
        """Start processes, as many as there may be; `running` ends those that are left."""
        while self._waiting and len(self._running) < self._renderer.parallel:
            chunk, attempt = self._waiting.popleft()
            job = Job(
                phrases=(CHECK, *chunk, CHECK),
                voice=self._facts.voice,
                rate=self._renderer.rate,
                seconds=self._renderer.stall * 2 + len(chunk),
                way=self._ways[attempt],
                source=self._facts.source,
                gentle=self._renderer.gentle,
            )
            self._running.append(running.enter_context(_Run(self._renderer, job, attempt)))

    def finished(self) -> list[dict[str, Rendered]]:
        """What came out right of the processes that have ended; the rest waits again, or stays away."""
        over = [run for run in self._running if run.is_over()]
        self._running = [run for run in self._running if run not in over]
        return [self._settle(run) for run in over]

    def _settle(self, run: _Run) -> dict[str, Rendered]:
        with run:
            chunk = run.job.phrases[1:-1]
            first, *sounds, last = run.sounds()
            lengths = {text: _seconds(sound) for text, sound in zip(chunk, sounds, strict=True)}
            why = self._expected.fault(_seconds(first), _seconds(last), lengths)
            wrong = set(chunk) if why is not None else self._expected.wrong(lengths)
            error = run.report("error.json").get("error")
        if why is None:
            self._expected.known.setdefault(CHECK, _seconds(last))
        good = {
            text: Rendered(even(sound).astype("<i2").tobytes(), lengths[text])
            for text, sound in zip(chunk, sounds, strict=True)
            if text not in wrong
        }
        self._settled += len(good)
        again = tuple(text for text in chunk if text in wrong)
        if again:
            self._again(again, run, str(error or run.end or why or "it came out cut"), gave_up=error is not None)
        return good

    def _again(self, phrases: tuple[str, ...], run: _Run, why: str, gave_up: bool) -> None:
        """What says by itself that it cannot is not asked again in the same way, nor in any where there is no room."""
        way, ways = self._ways[run.attempt], range(run.attempt + 1, len(self._ways))
        later = [n for n in ways if not run.no_room and (not gave_up or self._ways[n] != way)]
        if later:
            self._waiting.append((phrases, later[0]))
        else:
            self.missing |= dict.fromkeys(phrases, why)
            self._settled += len(phrases)


def _wait(run: _Run, stopped: Stopped) -> None:
    while not run.is_over():
        if stopped():
            raise Interrupted
        time.sleep(LOOK)


def _chunks(phrases: tuple[str, ...], parallel: int) -> list[tuple[str, ...]]:
    """As many parts as processes at a time, or more where they would be too long, fewer where they would be short."""
    parts = max(min(parallel, len(phrases) // SMALLEST), -(-len(phrases) // CHUNK), 1)
    return [phrases[part::parts] for part in range(parts) if phrases[part::parts]]


def _sound(path: Path) -> Samples:
    """What a file holds, trimmed; one that is missing or no sound is as good as silence."""
    try:
        if path.stat().st_size > LARGEST:
            return _NOTHING
        return trimmed(resampled(*soundfile.read(path.read_bytes())))
    except (OSError, FormatError):
        return _NOTHING


def _seconds(sound: Samples) -> float:
    return speech_seconds(sound, SAMPLE_RATE)


def _exit(code: int) -> str:
    if code == child.NO_ROOM:
        return "there is no room for the sounds: make room on the disk"
    how = f"was ended by signal {-code}" if code < 0 and os.name == "posix" else f"ended with exit code {code}"
    return f"the synthesiser {how}"
