"""What a session starts from: built from options, or taken from a recording's head."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from coach import __version__
from coach.app.reference import with_reference
from coach.app.source import Source
from coach.app.stop import Stop
from coach.engine.start import EngineStart
from coach.planner.playbook import Playbook
from coach.planner.start import PlannerStart
from coach.playbook import load as playbooks
from coach.vocabulary.errors import FormatError
from feeds import registry
from feeds.base import Feed
from voice import lengths
from voice.lengths import LengthTable


@dataclass(frozen=True, slots=True)
class SessionStart:
    """`feed`: the name of the feed that decodes, and its `layout` where it has one, as plain values; the rest is what
    engine and planner are made from."""

    feed: str
    engine: EngineStart
    planner: PlannerStart
    layout: dict[str, Any] | None = None

    def new_feed(self) -> Feed:
        """A feed that decodes what the session is fed."""
        return registry.create(self.feed, self.layout)

    def reading(self, source: Source) -> SessionStart:
        """The same start for a stream that is made of something else."""
        return replace(self, feed=source.feed, layout=source.layout, engine=replace(self.engine, source=source.feed))

    def head(self) -> dict[str, Any]:
        """The head of a recording: plain values from which `from_head` makes the same start again."""
        return {
            "source": self.feed,
            "layout": self.layout,
            "engine": self.engine.to_json(),
            "planner": self.planner.to_json(),
        }

    def alternating(self, on: bool) -> SessionStart:
        """The same start, with every other lap without a word where that is asked for."""
        if not on:
            return self
        playbook = self.planner.playbook
        book = replace(playbook, talk=replace(playbook.talk, alternate=True))
        return replace(self, planner=replace(self.planner, playbook=book))

    def at_stage(self, stage: str | None) -> SessionStart:
        """The same start at this stage of practice; None: as it is."""
        return self if stage is None else replace(self, planner=replace(self.planner, stage=stage))

    def speaking(self, table: LengthTable | None) -> SessionStart:
        """The same start for a voice that takes as long for its phrases as `table` says; None: as it is."""
        if table is None:
            return self
        return replace(
            self,
            engine=replace(self.engine, phrases=table.name),
            planner=replace(self.planner, phrases=table.name, lengths=dict(table.lengths)),
        )


def fresh(
    source: Source,
    reference: str | None,
    focus: tuple[str, ...],
    stop: Stop | None = None,
    playbook: Playbook | None = None,
    memory: Path | None = None,
) -> SessionStart:
    """A start from the command line alone; no `playbook` is the default one. `memory`: where a `reference` is looked
    for that is no file, None is the user's own. InputError for a reference that cannot be used."""
    playbook = playbooks.load() if playbook is None else playbook
    table = lengths.for_voice(playbook.language.voice)
    engine = EngineStart(version=__version__, source=source.feed, phrases=table.name)
    if reference is not None:
        engine = with_reference(engine, reference, stop, source, memory)
    planner = PlannerStart(playbook, focus=focus, lengths=dict(table.lengths), phrases=table.name)
    return SessionStart(source.feed, engine, planner, source.layout)


def from_head(
    head: dict[str, Any],
    reference: str | None,
    focus: tuple[str, ...],
    stop: Stop | None = None,
    playbook: Playbook | None = None,
    memory: Path | None = None,
) -> SessionStart:
    """The start that a recording's head holds; what the command line names replaces it. Raises FormatError."""
    feed = head.get("source")
    if not isinstance(feed, str):
        raise FormatError("the recording's head has no `source`: it was written by something else, record it again")
    layout = head.get("layout")
    if layout is not None and not isinstance(layout, dict):
        raise FormatError("the `layout` in the recording's head is none: record it again")
    engine = replace(EngineStart.from_json(head.get("engine")), version=__version__)
    plain = head.get("planner")
    if playbook is None:
        kept = plain.get("playbook") if isinstance(plain, dict) else None
        playbook = playbooks.load() if kept is None else playbooks.read(kept)
    planner = PlannerStart.from_json(plain, playbook)
    if reference is not None:
        engine = with_reference(engine, reference, stop, Source(feed, layout), memory)
    if focus:
        planner = replace(planner, focus=focus)
    return SessionStart(feed, engine, planner, layout)
