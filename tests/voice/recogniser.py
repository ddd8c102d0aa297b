"""A speech recogniser that works offline, told all that the coach may say, asked what it heard.

A closed grammar, so it shows whether the phrases can be told from each other through noise; it is no evidence of what
people understand. The recogniser is pocketsphinx (BSD licence), its American English model comes with it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pocketsphinx
from numpy.typing import NDArray
from scipy.signal import resample_poly

from voice.trim import SAMPLE_RATE

MODEL_RATE = 16_000
"""Hz that the model was trained at."""
AROUND = 0.2
"""s of noise before and after a phrase."""
SEED = 5
SPELT = {
    "coasting": "K OW S T IH NG",
    "downshift": "D AW N SH IH F T",
    "downshifts": "D AW N SH IH F T S",
    "upshift": "AH P SH IH F T",
    "slowing": "S L OW IH NG",
    "unwind": "AH N W AY N D",
    "wheelspin": "W IY L S P IH N",
}
"""How words that the model's dictionary lacks are said, in its own phones (CMU dictionary)."""

Signal = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Heard:
    """How many phrases there were, and which were taken for another: what was said -> what was heard."""

    said: int
    confused: dict[str, str]

    @property
    def share(self) -> float:
        """Of phrases that were recognised."""
        return 1 - len(self.confused) / self.said


def words(phrase: str) -> str:
    """The phrase as the grammar has it: small letters and blanks."""
    return " ".join(re.findall(r"[a-z']+", phrase.lower()))


class Recogniser:
    """Knows these phrases and no other. Raises LookupError for words that neither dictionary nor `SPELT` has."""

    def __init__(self, phrases: Iterable[str]) -> None:
        self._texts = {words(phrase): phrase for phrase in phrases}
        self._decoder = pocketsphinx.Decoder(lm=None, samprate=float(MODEL_RATE), loglevel="FATAL")
        unknown = {word for text in self._texts for word in text.split() if self._decoder.lookup_word(word) is None}
        if unknown - set(SPELT):
            raise LookupError(f"how are these said? {', '.join(sorted(unknown - set(SPELT)))}")
        for word in sorted(unknown):
            self._decoder.add_word(word, SPELT[word], True)
        grammar = "#JSGF V1.0; grammar coach; public <said> = " + " | ".join(self._texts) + ";"
        self._decoder.add_jsgf_string("coach", grammar)
        self._decoder.activate_search("coach")

    def heard(self, sound: Signal) -> str:
        """Which phrase it takes a sound (full scale 1, at `MODEL_RATE`) for; empty for none."""
        samples = np.clip(np.rint(sound * 32767), -32768, 32767).astype("<i2")
        self._decoder.start_utt()
        self._decoder.process_raw(samples.tobytes(), no_search=False, full_utt=True)
        self._decoder.end_utt()
        hypothesis = self._decoder.hyp()
        return "" if hypothesis is None else self._texts.get(hypothesis.hypstr, hypothesis.hypstr)

    def listen(self, sounds: Mapping[str, bytes], noise: Signal | None = None, below: float = 20.0) -> Heard:
        """Each phrase's samples (at `trim.SAMPLE_RATE`) over noise that is `below` dB softer: white, or `noise`."""
        chance = np.random.default_rng(SEED)
        confused = {}
        for text, samples in sounds.items():
            speech = at_model_rate(samples)
            around = np.zeros(round(AROUND * MODEL_RATE))
            whole = np.concatenate([around, speech, around])
            if noise is None:
                beside = chance.standard_normal(len(whole)) * np.sqrt(np.mean(speech**2)) * 10 ** (-below / 20)
            else:
                beside = noise[: len(whole)]
            heard = self.heard(0.5 * (whole + beside))
            if heard != text:
                confused[text] = heard
        return Heard(len(sounds), confused)


def at_model_rate(samples: bytes) -> Signal:
    """Samples of ours, full scale 1, at the rate of the model."""
    sound = np.frombuffer(samples, dtype="<i2") / 32768
    return np.asarray(resample_poly(sound, 320, 441))


assert MODEL_RATE * 441 == SAMPLE_RATE * 320
