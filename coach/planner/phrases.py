"""Texts from a playbook: what can be said of a fault, a topic, a lap or the stores, the fullest wording first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from coach.planner.playbook import Language, Playbook, Sentences, Step
from coach.vocabulary.faults import FAULTS
from coach.vocabulary.marks import APEX, BRAKE, EXIT, MARKS

TABLED_CORNERS = range(1, 41)
"""Corner numbers whose phrases are in the shipped tables of lengths; a circuit with more still works, by estimate."""
TABLED_COUNTS = range(1, 41)
"""Laps and minutes whose phrases are in them."""


class Phrases:
    """The texts of a playbook, with the names that corners have on `track`."""

    def __init__(self, playbook: Playbook, track: str | None = None) -> None:
        self._language = playbook.language
        self._coached = [fault for fault in playbook.language.wordings if playbook.coaches(fault)]
        self._corners = playbook.corners.get(track or "", {})

    def corner(self, corner: int) -> str:
        """A corner's name, or its number where it has none."""
        return self._corners.get(corner) or self._language.turn.format(number=number(self._language, corner))

    def correction(self, fault: str, size: float | None, corner: int | None, attempt: int = 0) -> tuple[str, ...]:
        """What may be said of a fault of this size: the wording of this attempt, then the short one.

        Where a `corner` is given it is named, and the size is left out: that would be more than one listens to.
        Empty: no such fault.
        """
        wording = self._language.wordings.get(fault)
        if wording is None:
            return ()
        said = wording.say[attempt % len(wording.say)]
        if corner is None:
            sized = _sized(said, None if size is None else self._size(fault, size))
            return tuple(dict.fromkeys((sized, _sized(said, None), wording.short)))
        named = self._language.sentences.named
        whole = (_sized(said, None), wording.short)
        return tuple(dict.fromkeys(named.format(phrase=text, corner=self.corner(corner)) for text in whole))

    def everywhere(self, fault: str, attempt: int = 0) -> tuple[str, ...]:
        """What may be said of a fault that came up at several corners."""
        wording = self._language.wordings.get(fault)
        if wording is None:
            return ()
        texts = (_sized(wording.say[attempt % len(wording.say)], None), wording.short)
        return tuple(dict.fromkeys(self._language.sentences.everywhere.format(phrase=text) for text in texts))

    def reminder(self, fault: str, corner: int, attempt: int = 0) -> tuple[str, ...]:
        """Said before the corner: the first wording at the first `attempt`, from then on the short one alone."""
        wording = self._language.wordings[fault]
        texts = (wording.short,) if attempt else (_sized(wording.say[0], None), wording.short)
        sentence = self._language.sentences.reminder
        return tuple(dict.fromkeys(sentence.format(phrase=lower(text), corner=self._begin(corner)) for text in texts))

    def focus(self, fault: str) -> str:
        """The next topic."""
        return self._language.sentences.focus.format(phrase=lower(self._language.wordings[fault].short))

    def mended(self, fault: str, gain: float | None) -> tuple[str, ...]:
        """A topic is mended; with the seconds a lap that this gained, where they are known and worth a word."""
        topic = self._language.wordings[fault].topic
        plain = self._language.sentences.mended.format(topic=topic)
        words = None if gain is None else self._gain(gain)
        if words is None:
            return (plain,)
        return (self._language.sentences.mended_gain.format(topic=topic, gain=words), plain)

    def costs(self, corner: int, seconds: float) -> str | None:
        """Where the seconds are; None for so few that there is no word for them."""
        words = self._gain(seconds)
        return None if words is None else self._language.sentences.costs.format(corner=self._begin(corner), gain=words)

    def best(self, seconds: float) -> str | None:
        """A best lap, by how much."""
        words = self._gain(seconds)
        return None if words is None else self._language.sentences.best.format(gain=words)

    def within(self) -> str:
        """All lies within the driver's own band."""
        return self._language.sentences.within

    def answers(self) -> list[str]:
        """What a pressed button is answered with, where that has words."""
        said = self._language.sentences
        return [text for text in (said.marked, said.lap_used, said.lap_unfit, said.silent, said.speaking) if text]

    def clean_row(self, laps: int) -> str:
        """So many clean laps in a row; empty where there are no words for it."""
        return _upper(self._language.sentences.clean_row.format(number=number(self._language, laps)))

    def steadier(self, mark: str, corner: int) -> str:
        """The mark that scatters most; empty where there are no words for it."""
        said = self._language.sentences
        sentence = {BRAKE: said.steadier_brake, APEX: said.steadier_apex, EXIT: said.steadier_exit}[mark]
        return sentence.format(corner=self._begin(corner))

    def of_stages(self) -> list[str]:
        """What is said of the stages of practice without a corner or a count in it, where that has words."""
        said = self._language.sentences
        return [text for text in (said.earned, said.rehearsed, said.steady, said.uneven, said.falls_off) if text]

    @property
    def sentences(self) -> Sentences:
        """Whole sentences, as the playbook has them."""
        return self._language.sentences

    def fuel(self, laps: int) -> str:
        """Laps that the fuel lasts."""
        return self._counted("fuel", laps)

    def laps(self, laps: int) -> str:
        """Laps that are left."""
        return self._counted("laps", laps)

    def minutes(self, minutes: int) -> str:
        """Minutes that are left."""
        return self._counted("minutes", minutes)

    def anywhere(self) -> list[str]:
        """Every phrase without a corner or a count in it: what a voice has ready before the start."""
        out: list[str] = []
        for fault in self._coached:
            wording = self._language.wordings[fault]
            for attempt, said in enumerate(wording.say):
                if "{size}" in said:
                    out += [_sized(said, step.words) for step in self._scale(fault)]
                out += self.correction(fault, None, None, attempt=attempt)
                out += self.everywhere(fault, attempt)
            out.append(self.focus(fault))
            out += self.mended(fault, None)
        return list(dict.fromkeys([*out, self.within(), *self.answers(), *self.of_stages()]))

    def at(self, corners: Iterable[int]) -> list[str]:
        """Every phrase that names one of these corners."""
        gains = [step.words for step in self._language.gains if step.words]
        out: list[str] = []
        for corner in corners:
            for fault in self._coached:
                for attempt in range(len(self._language.wordings[fault].say)):
                    out += self.correction(fault, None, corner, attempt=attempt)
                out += self.reminder(fault, corner)
            out += [self._language.sentences.costs.format(corner=self._begin(corner), gain=words) for words in gains]
            out += [text for text in (self.steadier(mark, corner) for mark in MARKS) if text]
        return list(dict.fromkeys(out))

    def counted(self, counts: Iterable[int]) -> list[str]:
        """Every phrase with one of these counts in it, or with seconds."""
        sentences = self._language.sentences
        gains = [step.words for step in self._language.gains if step.words]
        counts = list(counts)
        out = [text for n in counts for text in (self.fuel(n), self.laps(n), self.minutes(n))]
        out += [text for text in (self.clean_row(n) for n in counts if n > 1) if text]
        for fault in self._coached:
            topic = self._language.wordings[fault].topic
            out += [sentences.mended_gain.format(topic=topic, gain=words) for words in gains]
        return list(dict.fromkeys(out + [sentences.best.format(gain=words) for words in gains]))

    def all(self) -> list[str]:
        """All that can be said on a circuit of up to 40 corners: what a table of lengths holds."""
        parts = [*self.anywhere(), *self.at(TABLED_CORNERS), *self.counted(TABLED_COUNTS)]
        return list(dict.fromkeys(parts))

    def _begin(self, corner: int) -> str:
        return _upper(self.corner(corner))

    def _size(self, fault: str, size: float) -> str | None:
        return _step(self._scale(fault), abs(size))

    def _scale(self, fault: str) -> Sequence[Step]:
        return self._language.sizes.get(FAULTS[fault].unit, ()) if fault in FAULTS else ()

    def _gain(self, seconds: float) -> str | None:
        return _step(self._language.gains, seconds) or None

    def _counted(self, what: str, n: int) -> str:
        sentences = self._language.sentences
        if n == 1:
            one: str = getattr(sentences, f"{what}_one")
            return one
        many: str = getattr(sentences, what)
        return _upper(many.format(number=number(self._language, n)))


def everything(playbook: Playbook) -> list[str]:
    """All that can be said on a circuit whose corners have numbers, and at the corners that have names."""
    found = Phrases(playbook).all()
    for track, names in playbook.corners.items():
        found += Phrases(playbook, track).at(sorted(names))
    return list(dict.fromkeys(found))


def number(language: Language, n: int) -> str:
    """A number as it is spoken: in words where the language has them, in digits beyond."""
    return language.numbers[n] if 0 <= n < len(language.numbers) else str(n)


def lower(text: str) -> str:
    """The phrase as it stands inside a sentence."""
    return text[:1].lower() + text[1:]


def _sized(text: str, words: str | None) -> str:
    """The wording with the size in words, or without any."""
    out = " ".join(text.replace("{size}", words or "").split())
    return _upper(out)


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _step(scale: Sequence[Step], value: float) -> str | None:
    return next((step.words for step in scale if step.below is None or value < step.below), None)
