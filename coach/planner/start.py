"""All that the planner starts from; a recording's head carries it, so that a replay says what was said."""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass, field
from typing import Any

from coach.planner import rules
from coach.planner.playbook import Playbook
from coach.vocabulary.errors import FormatError, InputError
from coach.vocabulary.faults import FAULTS
from coach.vocabulary.stages import STAGES


@dataclass(slots=True)
class PlannerStart:
    """`playbook`: what an instructor decided. `lengths`: s that each phrase takes to say, from the table named
    `phrases`. `focus`: only these faults are coached; empty = those in the playbook's order.

    `earliest` and `latest`: s after full throttle between which a cue starts; `margin`: s between its end and the
    deadline. `stage`: of practice, None for the playbook's, the one that is remembered, or pace. Raises InputError for
    a focus that names no fault, or a stage that there is not.
    """

    playbook: Playbook
    focus: tuple[str, ...] = ()
    lengths: dict[str, float] = field(default_factory=dict)
    phrases: str = ""
    earliest: float = rules.EARLIEST
    latest: float = rules.LATEST
    margin: float = rules.MARGIN
    stage: str | None = None

    def __post_init__(self) -> None:
        for name in self.focus:
            _check_fault(name)
        if self.stage is not None and self.stage not in STAGES:
            raise InputError(f"stage: none is called {self.stage!r:.40}; choose from {', '.join(STAGES)}")

    def to_json(self) -> dict[str, Any]:
        """Plain values for a recording's head."""
        return {
            "playbook": self.playbook.to_json(),
            "focus": list(self.focus),
            "stage": self.stage,
            "phrases": self.phrases,
            "lengths": dict(self.lengths),
            "earliest": self.earliest,
            "latest": self.latest,
            "margin": self.margin,
        }

    @classmethod
    def from_json(cls, plain: Any, playbook: Playbook) -> PlannerStart:
        """Read what `to_json` gave, but for the playbook, which is read at the edge. Keys of later versions are passed
        over; raises FormatError for wrong values."""
        if not isinstance(plain, dict):
            raise FormatError(f"planner: an object is needed, not {_kind(plain)}; is this the head of a recording?")
        focus = plain.get("focus", [])
        if not isinstance(focus, list) or not all(isinstance(name, str) for name in focus):
            raise FormatError("planner.focus: a list of fault names is needed")
        stage = plain.get("stage")
        if stage is not None and not isinstance(stage, str):
            raise FormatError(f"planner.stage: the name of a stage is needed, not {_kind(stage)}")
        phrases = plain.get("phrases", "")
        if not isinstance(phrases, str):
            raise FormatError(f"planner.phrases: the name of a table is needed, not {_kind(phrases)}")
        lengths = plain.get("lengths", {})
        if not isinstance(lengths, dict):
            raise FormatError(f"planner.lengths: an object of phrase to seconds is needed, not {_kind(lengths)}")
        try:
            return cls(
                playbook,
                focus=tuple(focus),
                stage=stage,
                lengths={str(text): _seconds(f"lengths[{text!r}]", value) for text, value in lengths.items()},
                phrases=phrases,
                earliest=_seconds("earliest", plain.get("earliest", rules.EARLIEST)),
                latest=_seconds("latest", plain.get("latest", rules.LATEST)),
                margin=_seconds("margin", plain.get("margin", rules.MARGIN)),
            )
        except FormatError:
            raise
        except InputError as error:
            raise FormatError(f"planner.{error}") from error


def read_focus(text: str) -> tuple[str, ...]:
    """The faults of a list with commas, as a command line gives it. Raises InputError for a name that is none."""
    names = tuple(dict.fromkeys(name.strip() for name in text.split(",") if name.strip()))
    if not names:
        raise InputError("focus: no fault is named; name one or more with commas between, for example late_throttle")
    for name in names:
        _check_fault(name)
    return names


def _check_fault(name: str) -> None:
    if name in FAULTS:
        return
    near = difflib.get_close_matches(name, FAULTS, n=1)
    mend = f"did you mean {near[0]}?" if near else f"choose from {', '.join(FAULTS)}"
    raise InputError(f"focus: no fault is called {name!r}; {mend}")


def _seconds(key: str, value: Any) -> float:
    try:
        seconds = math.nan if isinstance(value, bool) or not isinstance(value, (int, float)) else float(value)
    except OverflowError:  # a whole number beyond any time
        seconds = math.nan
    if not math.isfinite(seconds) or seconds < 0:
        raise FormatError(f"planner.{key}: seconds, 0 or more, are needed, not {value!r:.40}")
    return seconds


def _kind(value: Any) -> str:
    return "null" if value is None else type(value).__name__
