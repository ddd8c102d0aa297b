"""All that the engine starts from; a recording's head carries it, so that a replay says what was said."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from coach.engine.circuit import SAME_LENGTH, Circuit
from coach.engine.known import UNREADABLE, Known, text_in
from coach.engine.lap import GridLap
from coach.engine.scatter import Scatter
from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import Sample

CHOICES = {"grip": "grip lap", "patchwork": "patchwork lap"}
"""The references that are made of the driver's own laps, with what the log calls them."""
PATH_LENGTH = 0.06
"""of the length: a lap measured along the path driven, where no `lap_distance` is sent, differs by less from the
length of the centre line that a source names (choice: a driver cuts 1 to 3 % of it)."""


@dataclass(slots=True)
class EngineStart:
    """`source`: what the samples come from. `phrases`: name of the table of phrase lengths in use.

    `reference`: the lap to compare with, fixed for the session; None: the best clean lap so far, or, by `choice`, one
    that is made of the driver's own, "grip" or "patchwork". `origin` says where it is from. `circuit`, `scatter` and
    `usual` belong to it: `usual` holds what the reference's driver usually did, by corner and feature, since the
    quickest lap alone may have been lucky in a corner. So do `driver`, who drove it, and `warm`, the mean temperature
    (degC) that its tyres had; None where not known.
    """

    version: str
    source: str
    phrases: str
    reference: GridLap | None = None
    origin: str | None = None
    circuit: Circuit | None = None
    scatter: Scatter = field(default_factory=Scatter)
    usual: dict[tuple[int, str], float] = field(default_factory=dict)
    choice: str | None = None
    driver: str | None = None
    warm: float | None = None

    @property
    def known(self) -> Known:
        """What belongs to the reference."""
        return Known(self.reference, self.origin or "", self.circuit, self.scatter, self.usual, self.driver, self.warm)

    def to_json(self) -> dict[str, Any]:
        """Plain JSON for a recording's head."""
        own = {"version": self.version, "source": self.source, "phrases": self.phrases, "choice": self.choice}
        return {**own, **self.known.to_json(), "origin": self.origin}

    @classmethod
    def from_json(cls, data: Any) -> EngineStart:
        """The start that `to_json` wrote. Raises FormatError naming what is wrong."""
        try:
            known = Known.read(data)
            return cls(
                version=str(data["version"]),
                source=str(data["source"]),
                phrases=str(data["phrases"]),
                reference=known.reference,
                origin=text_in(data, "origin"),
                circuit=known.circuit,
                scatter=known.scatter,
                usual=known.usual,
                choice=_choice(data),
                driver=known.driver,
                warm=known.warm,
            )
        except UNREADABLE as error:
            raise FormatError(f"the recording's start cannot be read ({error!r}): it was not written whole") from error


def _choice(data: Any) -> str | None:
    """Recordings from before there was a choice do not have it."""
    choice = text_in(data, "choice") if "choice" in data else None
    if choice is not None and choice not in CHOICES:
        raise ValueError(f"choice is none of {', '.join(CHOICES)}")
    return choice


def mismatch(start: EngineStart, sample: Sample) -> str | None:
    """One line that says why the start's reference does not fit the circuit of `sample`; None where it fits."""
    return None if start.reference is None else mismatch_lap(start.reference, sample)


def mismatch_lap(lap: GridLap, sample: Sample) -> str | None:
    """One line that says why a lap does not fit the circuit of `sample`; None where it fits."""
    if lap.track and sample.track and lap.track != sample.track:
        return f"the reference is a lap of {lap.track}, this is {sample.track}: choose a lap of this circuit"
    if sample.track_length is None:
        return None
    return mismatch_length(lap, sample.track_length, PATH_LENGTH if sample.lap_distance is None else SAME_LENGTH)


def mismatch_length(lap: GridLap, length: float, within: float = SAME_LENGTH) -> str | None:
    """One line that says that `lap` is of another circuit than one of `length` m; None where it may be the same."""
    if abs(length - lap.length) > within * lap.length:
        return (
            f"the reference lap is {_metres(lap.length)} m long, this circuit {_metres(length)} m: "
            "choose a lap of this circuit and layout"
        )
    return None


def _metres(length: float) -> str:
    """Whole metres, and in short what is no circuit's length."""
    return f"{length:.0f}" if abs(length) < 1e6 else f"{length:.3g}"
