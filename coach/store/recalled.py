"""What the memory knows when a driver, a car and a circuit have been named: an input like a sample or a press."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from coach.engine.known import Known, text_in
from coach.planner.state import State
from coach.vocabulary.errors import FormatError
from coach.vocabulary.stages import STAGES

Labels = tuple[str | None, str | None, str | None]
"""Driver, car and circuit."""
NOBODY: Labels = (None, None, None)


@dataclass(slots=True)
class Recalled:
    """`known` for the engine, `planner` the state of `planner.state.Practised`, `stage` the one last practised.

    `of`: the driver, car and circuit that were asked for, None each where it was not named: another may drive by the
    time that the answer is there.
    """

    known: Known | None = None
    planner: dict[str, Any] | None = None
    stage: str | None = None
    of: Labels = NOBODY

    @property
    def is_empty(self) -> bool:
        """Whether nothing is known."""
        return self.known is None and self.planner is None and self.stage is None

    def checked(self) -> Recalled:
        """The same, once it is sure that a planner can read it. Raises FormatError naming what is wrong."""
        if self.planner is not None:
            State.from_json(self.planner)
        if self.stage is not None and self.stage not in STAGES:
            raise FormatError(f"there is no stage {self.stage!r:.40}: choose from {', '.join(STAGES)}")
        return self

    def to_json(self) -> dict[str, Any]:
        """Plain JSON for a line of a recording."""
        return {
            "known": None if self.known is None else self.known.to_json(),
            "planner": self.planner,
            "stage": self.stage,
            "of": list(self.of),
        }

    @classmethod
    def from_json(cls, data: Any) -> Recalled:
        """What `to_json` wrote. Raises FormatError naming what is wrong."""
        try:
            known = data["known"]
            return cls(
                known=None if known is None else Known.from_json(known),
                planner=data["planner"],
                stage=text_in(data, "stage"),
                of=_labels(data["of"]) if "of" in data else NOBODY,
            ).checked()
        except (KeyError, TypeError, ValueError) as error:
            raise FormatError(f"what was recalled cannot be read ({error!r})") from error


def _labels(plain: Any) -> Labels:
    driver, car, track = (text_in({"of": label}, "of") for label in plain)
    return driver, car, track
