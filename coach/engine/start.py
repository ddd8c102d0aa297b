"""All that the engine starts from; a recording's head carries it, so that a replay says what was said."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from coach.engine.circuit import Circuit
from coach.engine.lap import GridLap
from coach.engine.scatter import Scatter
from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import Sample

SAME_LENGTH = 0.005
"""of the length: two measurements of one circuit differ by less."""


@dataclass(slots=True)
class EngineStart:
    """`source`: what the samples come from. `phrases`: name of the table of phrase lengths in use.

    `reference`: the lap to compare with, fixed for the session; None: the best clean lap so far. `origin` says where
    it is from. `circuit`, `scatter` and `usual` belong to it: `usual` holds what the reference's driver usually did,
    by corner and feature, since the quickest lap alone may have been lucky in a corner.
    """

    version: str
    source: str
    phrases: str
    reference: GridLap | None = None
    origin: str | None = None
    circuit: Circuit | None = None
    scatter: Scatter = field(default_factory=Scatter)
    usual: dict[tuple[int, str], float] = field(default_factory=dict)

    def to_json(self) -> dict[str, Any]:
        """Plain JSON for a recording's head."""
        return {
            "version": self.version,
            "source": self.source,
            "phrases": self.phrases,
            "reference": None if self.reference is None else self.reference.to_json(),
            "origin": self.origin,
            "circuit": None if self.circuit is None else self.circuit.to_json(),
            "scatter": self.scatter.to_json(),
            "usual": [[corner, feature, value] for (corner, feature), value in self.usual.items()],
        }

    @classmethod
    def from_json(cls, data: Any) -> EngineStart:
        """The start that `to_json` wrote. Raises FormatError naming what is wrong."""
        try:
            reference, circuit = data["reference"], data["circuit"]
            return cls(
                version=str(data["version"]),
                source=str(data["source"]),
                phrases=str(data["phrases"]),
                reference=None if reference is None else GridLap.from_json(reference),
                origin=_origin(data["origin"]),
                circuit=None if circuit is None else Circuit.from_json(circuit),
                scatter=Scatter.from_json(data["scatter"]),
                usual={(int(corner), str(feature)): float(value) for corner, feature, value in data["usual"]},
            )
        except (KeyError, TypeError, ValueError, OverflowError) as error:
            raise FormatError(f"the recording's start cannot be read ({error!r}): it was not written whole") from error


def _origin(value: Any) -> str | None:
    if value is None or isinstance(value, str):
        return value
    raise TypeError("origin is neither text nor null")


def mismatch(start: EngineStart, sample: Sample) -> str | None:
    """One line that says why the start's reference does not fit the circuit of `sample`; None where it fits."""
    lap = start.reference
    if lap is None:
        return None
    if lap.track and sample.track and lap.track != sample.track:
        return f"the reference is a lap of {lap.track}, this is {sample.track}: choose a lap of this circuit"
    return None if sample.track_length is None else mismatch_length(lap, sample.track_length)


def mismatch_length(lap: GridLap, length: float) -> str | None:
    """One line that says that `lap` is of another circuit than one of `length` m; None where it may be the same."""
    if abs(length - lap.length) > SAME_LENGTH * lap.length:
        return (
            f"the reference lap is {_metres(lap.length)} m long, this circuit {_metres(length)} m: "
            "choose a lap of this circuit and layout"
        )
    return None


def _metres(length: float) -> str:
    """Whole metres, and in short what is no circuit's length."""
    return f"{length:.0f}" if abs(length) < 1e6 else f"{length:.3g}"
