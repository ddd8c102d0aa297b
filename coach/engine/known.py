"""What is known of a driver, a car and a circuit from days before: it comes in once their names are known."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import isfinite
from typing import Any, Self

from coach.engine.circuit import Circuit
from coach.engine.lap import GridLap
from coach.engine.scatter import Scatter
from coach.vocabulary.errors import FormatError

EARLIER = "an earlier day"
"""What the log calls a reference that was remembered, where nothing else is said."""

UNREADABLE = (KeyError, TypeError, ValueError, OverflowError, AttributeError)
"""What plain values raise that are not what was written."""


@dataclass(slots=True)
class Known:
    """`reference`: the lap to begin with where the session has none of its own, from `origin`; `driver` drove it, and
    `warm` (degC) is the mean temperature of its tyres; None where not known.

    `circuit` keeps the corners' numbers, whoever drove there. `scatter` is what the session's driver showed in this car
    here; `usual` what the driver of the reference usually did, as in `EngineStart`. Everything may be absent.
    """

    reference: GridLap | None = None
    origin: str = EARLIER
    circuit: Circuit | None = None
    scatter: Scatter = field(default_factory=Scatter)
    usual: dict[tuple[int, str], float] = field(default_factory=dict)
    driver: str | None = None
    warm: float | None = None

    def to_json(self) -> dict[str, Any]:
        """Plain JSON for a line of a recording, or its head."""
        return {
            "reference": None if self.reference is None else self.reference.to_json(),
            "origin": self.origin,
            "circuit": None if self.circuit is None else self.circuit.to_json(),
            "scatter": self.scatter.to_json(),
            "usual": [[corner, feature, value] for (corner, feature), value in self.usual.items()],
            "driver": self.driver,
            "warm": self.warm,
        }

    @classmethod
    def from_json(cls, data: Any) -> Self:
        """What `to_json` wrote. Raises FormatError naming what is wrong."""
        try:
            return cls.read(data)
        except UNREADABLE as error:
            raise FormatError(f"what is known of driver and circuit cannot be read ({error!r})") from error

    @classmethod
    def read(cls, data: Any) -> Self:
        """As `from_json`, but raises any of `UNREADABLE` as well, for whoever has more to read of `data`."""
        reference, circuit, origin = data["reference"], data["circuit"], text_in(data, "origin")
        return cls(
            reference=None if reference is None else GridLap.from_json(reference),
            origin=EARLIER if origin is None else origin,
            circuit=None if circuit is None else Circuit.from_json(circuit),
            scatter=Scatter.from_json(data["scatter"]),
            usual={(int(corner), str(feature)): _number(value) for corner, feature, value in data["usual"]},
            driver=text_in(data, "driver") if "driver" in data else None,
            warm=None if data.get("warm") is None else _number(data["warm"]),
        )


def text_in(data: Any, key: str) -> str | None:
    """The text or None under a key. TypeError for anything else."""
    value = data[key]
    if value is None or isinstance(value, str):
        return value
    raise TypeError(f"{key} is neither text nor null")


def _number(value: Any) -> float:
    number = float(value)
    if not isfinite(number):
        raise ValueError(f"{value!r:.40} is no number")
    return number
