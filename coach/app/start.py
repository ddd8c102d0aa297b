"""What a session starts from: built from options, or taken from a recording's head."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from coach import __version__
from coach.app.reference import with_reference
from coach.app.stop import Stop
from coach.engine.start import EngineStart
from coach.planner.start import PlannerStart
from coach.vocabulary.errors import FormatError
from voice import lengths
from voice.lengths import LengthTable


@dataclass(frozen=True, slots=True)
class SessionStart:
    """`feed`: the name of the feed that decodes; the rest is what engine and planner are made from."""

    feed: str
    engine: EngineStart
    planner: PlannerStart

    def head(self) -> dict[str, Any]:
        """The head of a recording: plain values from which `from_head` makes the same start again."""
        return {
            "source": self.feed,
            "layout": None,
            "engine": self.engine.to_json(),
            "planner": self.planner.to_json(),
        }

    def speaking(self, table: LengthTable | None) -> SessionStart:
        """The same start for a voice that takes as long for its phrases as `table` says; None: as it is."""
        if table is None:
            return self
        return SessionStart(
            self.feed,
            replace(self.engine, phrases=table.name),
            replace(self.planner, phrases=table.name, lengths=dict(table.lengths)),
        )


def fresh(feed: str, reference: str | None, focus: tuple[str, ...], stop: Stop | None = None) -> SessionStart:
    """A start from the command line alone. InputError for a reference that cannot be used."""
    table = lengths.load()
    engine = EngineStart(version=__version__, source=feed, phrases=table.name)
    if reference is not None:
        engine = with_reference(engine, reference, stop)
    return SessionStart(feed, engine, PlannerStart(focus=focus, lengths=dict(table.lengths), phrases=table.name))


def from_head(
    head: dict[str, Any], reference: str | None, focus: tuple[str, ...], stop: Stop | None = None
) -> SessionStart:
    """The start that a recording's head holds; what the command line names replaces it. Raises FormatError."""
    feed = head.get("source")
    if not isinstance(feed, str):
        raise FormatError("the recording's head has no `source`: it was written by something else, record it again")
    engine = replace(EngineStart.from_json(head.get("engine")), version=__version__)
    planner = PlannerStart.from_json(head.get("planner"))
    if reference is not None:
        engine = with_reference(engine, reference, stop)
    if focus:
        planner = replace(planner, focus=focus)
    return SessionStart(feed, engine, planner)
