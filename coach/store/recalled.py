"""What the memory knows when a driver, a car and a circuit have been named: an input like a sample or a press."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from coach.engine.known import Known, text_in
from coach.planner.state import State
from coach.vocabulary.errors import FormatError
from coach.vocabulary.stages import STAGES


@dataclass(slots=True)
class Recalled:
    """`known` for the engine, `planner` the state of `planner.state.Practised`, `stage` the one last practised."""

    known: Known | None = None
    planner: dict[str, Any] | None = None
    stage: str | None = None

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
        }

    @classmethod
    def from_json(cls, data: Any) -> Recalled:
        """What `to_json` wrote. Raises FormatError naming what is wrong."""
        try:
            known = data["known"]
            return cls(
                None if known is None else Known.from_json(known), data["planner"], text_in(data, "stage")
            ).checked()
        except (KeyError, TypeError) as error:
            raise FormatError(f"what was recalled cannot be read ({error!r})") from error
