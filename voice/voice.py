"""The voice: a sink that says the cues it hears, from a thread of its own. It never holds up who gives them."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterable
from pathlib import Path
from queue import Empty, SimpleQueue
from time import perf_counter, time

from coach.vocabulary.events import Cue, Event
from voice import lengths
from voice.bank import Bank
from voice.diagnostics import Diagnostics
from voice.lengths import LengthTable
from voice.player import Answer, Player
from voice.speaker import Said, Speaker
from voice.supply import Supply

MOST = 8
"""Cues that may wait for the thread; more come only where it stands still, and then the oldest go."""
GRACE = 1.0
"""s beyond what `close` was given, before the device's process is ended from outside."""
ENDING = 3.0
"""s that the thread then has to end; one that does not is left alone."""

Hear = Callable[[Answer], None]
MakePlayer = Callable[[Hear], Player]


class Voice:
    """Says cues aloud. `volume` 0..1; `tell` takes one line for a person, from any thread, and tells nothing twice.

    It opens the sound device at once, and speaks tones until it is given a bank. `unspoken`: the table of lengths
    until then, the shipped default's if none is given. Raises InputError where `diagnostics` is a file that holds
    something else.
    """

    def __init__(
        self,
        volume: float,
        tell: Callable[[str], None],
        diagnostics: Path | None,
        player: MakePlayer = Player,
        unspoken: LengthTable | None = None,
    ) -> None:
        self._diagnostics = Diagnostics(diagnostics, tell)
        self._inbox: SimpleQueue[Callable[[float], None]] = SimpleQueue()
        self._cues: deque[Said] = deque(maxlen=MOST)
        self._tell, self._make = tell, player
        self._table = unspoken or lengths.load()
        self._supply: Supply | None = None
        self._known = threading.Event()
        self._diagnostics.write(what="open", wall=time(), at=perf_counter())
        self._speaker = Speaker(self._start, volume, tell, self._diagnostics.write, self._hurry)
        self._thread = threading.Thread(target=self._run, name="voice", daemon=True)
        self._thread.start()

    @property
    def table(self) -> LengthTable:
        """How long the phrases take to say, for the planner: what came with the bank, or the shipped table without
        one. What the bank gets later does not change it."""
        return self._table

    @property
    def is_silent(self) -> bool:
        """Whether it is known that there is no sound device."""
        return self._known.is_set() and self._speaker.is_silent

    def wait(self, timeout: float) -> bool:
        """Wait up to `timeout` s until it is known whether there is a sound device; returns whether it is."""
        return self._known.wait(timeout)

    def use(self, bank: Bank, supply: Supply | None = None, table: LengthTable | None = None) -> None:
        """Speak from this bank from now on, which `supply` fills; `table` is the bank's own if none is given."""
        self._table, self._supply = table or bank.table, supply
        self._inbox.put(lambda now: self._take_bank(bank, self._table.name))

    def want(self, phrases: Iterable[str]) -> None:
        """Have these ready as soon as may be, in this order; returns at once, from any thread."""
        if self._supply is not None and not self.is_silent:
            self._supply.want(phrases)

    def wake(self) -> None:
        """Look whether a phrase that was waited for has come; from any thread."""
        self._inbox.put(lambda now: None)

    def take(self, event: Event) -> None:
        """Say a cue that is spoken; returns at once, from any thread. Other events are nothing to it."""
        if isinstance(event, Cue) and event.spoken:
            self._cues.append(Said(event.text, event.kind, event.t, perf_counter(), _planned(event)))
            if self._inbox.qsize() < MOST:
                self._inbox.put(self._take_cues)

    def mute(self, on: bool) -> None:
        """Say nothing, and cut off what sounds; or speak again."""
        self._inbox.put(lambda now: self._speaker.mute(on, now))

    def close(self, timeout: float = 2.0) -> None:
        """Let what sounds end within `timeout` s, else cut it off, and give the device back. Never hangs."""
        until = perf_counter() + timeout
        self._inbox.put(lambda now: self._speaker.close(now, until))
        self._thread.join(timeout + GRACE)
        player = self._speaker.player
        if self._thread.is_alive() and player is not None:
            player.kill()
            self._thread.join(ENDING)
        if self._supply is not None:
            self._supply.close()

    def _hurry(self, text: str) -> bool:
        """Have one phrase rendered before all others; returns whether it may come."""
        if self._supply is None or not self._supply.may_come(text):
            return False
        self._supply.want([text], soon=True)
        return True

    def _start(self, generation: int) -> Player:
        def hear(answer: Answer) -> None:
            self._inbox.put(lambda now: self._speaker.answer(generation, answer, now))

        return self._make(hear)

    def _run(self) -> None:
        try:
            self._speaker.open(perf_counter())
            while not self._speaker.over:
                self._turn()
        except Exception as error:
            # whatever goes wrong in here costs the voice, never the session
            what = f"{type(error).__name__}: {error}"
            self._diagnostics.write(what="error", error=what)
            self._tell(f"voice: it failed ({what}): cues are printed only")
            player = self._speaker.player
            if player is not None:
                player.close(0.0)
        finally:
            self._known.set()
            self._diagnostics.close()

    def _turn(self) -> None:
        due = self._speaker.step(perf_counter())
        if self._speaker.is_open or self._speaker.is_silent:
            self._known.set()
        try:
            if not self._speaker.over:
                self._inbox.get(timeout=None if due is None else max(due - perf_counter(), 0.0))(perf_counter())
        except Empty:
            return

    def _take_cues(self, now: float) -> None:
        while self._cues:
            self._speaker.say(self._cues.popleft())

    def _take_bank(self, bank: Bank, table: str) -> None:
        self._speaker.use(bank)
        self._diagnostics.write(
            what="bank",
            table=table,
            voice=bank.facts.voice,
            engine=bank.facts.engine,
            source=bank.facts.source,
            rate=bank.rate,
            phrases=len(bank.seconds),
            missing=len(bank.missing),
            rendered=bank.rendered,
            took=bank.took,
        )


def _planned(cue: Cue) -> float | None:
    return None if cue.starts is None or cue.ends is None else cue.ends - cue.starts
