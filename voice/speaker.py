"""What becomes of a cue: played, or dropped with a reason. A machine without a clock or thread of its own.

One thing sounds at a time: a phrase that has begun is ended, of those that wait the newest is next, and what has waited
too long is not said, for the place that it is about is then behind. A phrase that is still to be rendered is waited
for as long. A device that stands still is started again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from voice.bank import Bank
from voice.player import Answer, Failed, Player, Ready, Started
from voice.tones import tone
from voice.trim import SAMPLE_RATE

STALE = 0.45
"""s by which a cue may end later than was planned, by waiting or by being longer: the planner keeps half a second free
before the next braking, and the device's buffers take up to 0.05 s of it."""
LONGER = 0.05
"""s by which a phrase may take longer than was planned at all: more is another voice (choice)."""
OPENING = 10.0
"""s for a sound device to open: some radio headsets take seconds to wake (choice)."""
ANSWERS = 1.0
"""s for the device's process to begin a sound; it takes a few ms (choice)."""
GAP = 0.1
"""s between two sounds: the mixer begins and ends one by up to two buffers later, which is half of it."""
STILL = 0.5
"""s after a sound's end at which a device that still plays it takes no sound any more (choice)."""
QUITTING = 0.5
"""s for the device's process to end by itself."""
RESTARTS = 5
"""Times a session that the device's process is started again; then the device is left alone."""

Tell = Callable[[str], None]
Ask = Callable[[str], bool]
Log = Callable[..., None]


@dataclass(frozen=True, slots=True)
class Said:
    """A cue to be spoken: `t` (s) on the source's clock, `decided` (s, perf_counter) when it came here.

    `planned`: s that there are for it, None where nobody said.
    """

    text: str
    kind: str
    t: float
    decided: float
    planned: float | None = None


@dataclass(slots=True)
class _Sent:
    said: Said
    number: int
    at: float
    length: float
    source: str


class Speaker:
    """`start(generation)` makes a player whose answers come back to `answer` with that generation.

    `ask` has a phrase rendered that is not in the bank, and says whether it may come; without it none does. Every
    `now` is s of perf_counter. `log` takes what happened, for the diagnostics; `tell` what a person should know.
    """

    def __init__(
        self, start: Callable[[int], Player], volume: float, tell: Tell, log: Log, ask: Ask | None = None
    ) -> None:
        self.player: Player | None = None
        self.over = False
        self._given_up = False
        self._start, self._volume, self._tell, self._log, self._ask = start, volume, tell, log, ask
        self._told_longer = False
        self._bank: Bank | None = None
        self._generation = 0
        self._opening_since: float | None = None
        self._restarts = 0
        self._waiting: Said | None = None
        self._sent: _Sent | None = None
        self._number = 0
        self._free = 0.0
        self._muted = False
        self._until: float | None = None

    @property
    def is_open(self) -> bool:
        """Whether there is a device that opened."""
        return self.player is not None and self._opening_since is None

    @property
    def is_silent(self) -> bool:
        """Whether there is no device, and none is waited for."""
        return self._given_up

    def open(self, now: float) -> None:
        """Start the device's process."""
        self._generation += 1
        self._sent, self._free = None, now
        try:
            self.player = self._start(self._generation)
            self._opening_since = now
        except OSError as error:
            self._go_silent(f"voice: no process for the sound device ({error.strerror or error})")

    def use(self, bank: Bank) -> None:
        """Speak from this bank; without one, tones stand in."""
        self._bank = bank

    def say(self, said: Said) -> None:
        """Take in a cue; what waited until now gives way to it."""
        if self._waiting is not None:
            self._drop(self._waiting, "replaced", said.decided)
        self._waiting = said
        self._awaits(said.text)

    def mute(self, on: bool, now: float) -> None:
        """Say nothing from now on, and cut off what sounds; or speak again."""
        self._muted = on
        if on and self.player is not None and (self._sent is not None or now < self._free):
            self.player.stop()
            self._free = now
            if self._sent is not None:
                self._sent.length = 0.0  # it ends as it begins

    def close(self, now: float, until: float) -> None:
        """Let what sounds end, but not beyond `until`, then end the device's process and be `over`."""
        self._until = until
        if self._waiting is not None and (not self._may_speak(now) or self._awaits(self._waiting.text)):
            self._drop(self._waiting, "closed", now)
            self._waiting = None

    def answer(self, generation: int, answer: Answer, now: float) -> None:
        """Take in what the device's process answers; one that was given up is not listened to."""
        if generation != self._generation or self.player is None:
            return
        if isinstance(answer, Ready):
            self._opening_since = None
            self._log(what="device", at=answer.at, **answer.facts)
        elif isinstance(answer, Failed):
            self._go_silent(f"voice: no sound device ({answer.why})")
        elif isinstance(answer, Started):
            self._started(answer, now)
        elif not self.over:
            self._restart("its process ended", now)

    def step(self, now: float) -> float | None:
        """Do what is due; returns when (s, perf_counter) to come again at the latest, or None for when something is."""
        if self._opening_since is not None and now - self._opening_since >= OPENING:
            self._go_silent(f"voice: the sound device does not open within {OPENING:.0f} s")
        if self._sent is not None and now - self._sent.at >= ANSWERS:
            self._restart("it stands still", now)
        if self._waiting is not None:
            self._attend(self._waiting, now)
        if self._until is not None:
            self._end(self._until, now)
        return self._next(now)

    def _attend(self, said: Said, now: float) -> None:
        awaited = self._awaits(said.text)
        why_not = self._why_not(said, awaited, now)
        if why_not is not None:
            self._drop(said, why_not, now)
        elif awaited or not self._may_speak(now) or not self._play(said, now):
            return
        self._waiting = None

    def _awaits(self, text: str) -> bool:
        """Whether the phrase is still to be rendered, and is; a tone in its place would say less than nothing."""
        lacking = self._bank is not None and text not in self._bank.seconds and not self.is_silent
        return lacking and self._ask is not None and self._ask(text)

    def _why_not(self, said: Said, awaited: bool, now: float) -> str | None:
        if self.is_silent:
            return "silent"
        if self._muted:
            return "muted"
        longer = self._longer(said)
        if longer > LONGER:
            return "longer than planned"
        if now + longer >= said.decided + STALE:
            return "not rendered yet" if awaited else "stale"
        return None

    def _longer(self, said: Said) -> float:
        """s by which it takes longer than was planned, 0 where that is not known; told once where it is too much."""
        seconds = None if self._bank is None else self._bank.seconds.get(said.text)
        if seconds is None or said.planned is None:
            return 0.0
        longer = max(0.0, seconds - said.planned)
        if longer > LONGER and not self._told_longer:
            self._told_longer = True
            self._tell(
                f'voice: "{said.text}" takes {seconds:.2f} s and {said.planned:.2f} s were planned, so it is not said:'
                " this voice is slower than the one that the drive was planned for"
            )
        return longer

    def _may_speak(self, now: float) -> bool:
        return self.is_open and self._sent is None and now >= self._free

    def _play(self, said: Said, now: float) -> bool:
        """Whether it is played; not where the phrase was there, but its file has gone since."""
        phrase = None if self._bank is None else self._bank.sound(said.text)
        if phrase is None and self._awaits(said.text):
            return False
        samples = tone(said.kind) if phrase is None else phrase
        self._number += 1
        length = len(samples) / 2 / SAMPLE_RATE
        self._sent = _Sent(said, self._number, now, length, "tone" if phrase is None else "bank")
        if self.player is not None:
            self.player.play(self._number, samples, self._volume)
        return True

    def _started(self, answer: Started, now: float) -> None:
        sent = self._sent
        if sent is None or sent.number != answer.number:
            return
        self._sent, free = None, self._free
        self._free = answer.at + sent.length + GAP
        self._log(
            **_cue(sent.said, sent.source),
            started=answer.at,
            latency_ms=(answer.at - sent.said.decided) * 1000,
            length=sent.length,
            late=answer.late,
        )
        if answer.late and answer.at - free >= STILL:
            if self._waiting is None:
                self._waiting = sent.said  # nobody heard it, and the device may be open again before it is stale
            self._restart("it takes no sound", now)

    def _drop(self, said: Said, why: str, now: float) -> None:
        self._log(**_cue(said, why), waited_ms=(now - said.decided) * 1000)

    def _restart(self, why: str, now: float) -> None:
        """A device that failed while it opened will not do better the next time."""
        opened = self._opening_since is None
        self._log(what="error", error=why, at=now)
        if self._sent is not None:
            self._drop(self._sent.said, "unanswered", now)
        self._leave()
        self._restarts += 1
        if self._until is not None or not opened or self._restarts > RESTARTS:
            self._go_silent(f"voice: the sound device failed ({why})")
            return
        if self._restarts == 1:
            self._tell(f"voice: the sound device failed ({why}); it is opened again")
        self.open(now)

    def _go_silent(self, why: str) -> None:
        self._given_up = True
        self._leave()
        self._log(what="error", error=why)
        self._tell(f"{why}: cues are printed only; connect or choose one, and start again")

    def _leave(self) -> None:
        """Give the process up: nothing more is expected of it, so it is not waited for."""
        player, self.player = self.player, None
        self._generation += 1
        self._opening_since = self._sent = None
        if player is not None:
            player.close(0.0)

    def _end(self, until: float, now: float) -> None:
        sounding = self.is_open and (self._sent is not None or now < self._free)
        if sounding and now < until:
            return
        self.over = True
        player, self.player = self.player, None
        if player is not None:
            player.close(QUITTING if self._opening_since is None else 0.0)

    def _next(self, now: float) -> float | None:
        if self.over:
            return None
        times = []
        if self._opening_since is not None:
            times.append(self._opening_since + OPENING)
        if self._sent is not None:
            times.append(self._sent.at + ANSWERS)
        if self._waiting is not None:
            times += [self._waiting.decided + STALE, *([self._free] if self._free > now else [])]
        if self._until is not None:
            times += [self._until, *([self._free] if self._free > now else [])]
        return min(times, default=None)


def _cue(said: Said, source: str) -> dict[str, Any]:
    return {"what": "cue", "t": said.t, "text": said.text, "kind": said.kind, "source": source, "decided": said.decided}
