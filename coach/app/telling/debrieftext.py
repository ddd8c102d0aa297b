"""The debrief of one session, as text."""

from __future__ import annotations

from coach.app.console import plain
from coach.app.telling.lines import LABEL, Block, driven, text_of, told, wrapped
from coach.app.telling.nexttime import closing_blocks
from coach.app.telling.notes import notes
from coach.app.telling.numbers import date_of
from coach.app.telling.reviewtables import cued_table, marks_table, said_and_helped, steady_line
from coach.app.telling.tables import LapRow, fault_table, lap_table, seconds_table
from coach.review.model import KeptSession
from coach.review.results import Review
from coach.review.words import is_judged
from coach.vocabulary.laptime import lap_time
from coach.vocabulary.stages import shows_times

HIDDEN = "Practised at the stage clean: lap times and seconds are left out here; a page (--to) has them folded away."
"""In place of lap times."""


def debrief_text(session: KeptSession, review: Review) -> str:
    """All that a session came to; where the seconds are first, what to do about them last."""
    timed = shows_times(session.stage)
    faults = [fault for lap in session.laps for fault in lap.faults] + session.loose_faults
    whole = sum(bool(lap.parts) for lap in session.laps)
    blocks = [_heading(session, review, timed), lap_table(_laps(session), timed)]
    if timed:
        blocks.append(seconds_table(review.losses, whole))
    blocks += [fault_table(faults, timed), marks_table(review.marks), said_and_helped(review.said)]
    if timed:
        blocks.append(cued_table(review.cued))
    blocks.append(notes(session.off, session.stream))
    return text_of(blocks + closing_blocks(review, is_judged(session)))


def _heading(session: KeptSession, review: Review, timed: bool) -> Block:
    lines = [driven(session.track, session.car)]
    if session.driver:
        lines[0] += f", {plain(session.driver, LABEL)}"
    lines = wrapped(lines[0])
    when = None if session.begun is None else date_of(session.begun)
    number = None if session.id is None else f"session {session.id}"
    setup = None if not session.setup else f"setup {plain(session.setup, LABEL)}"
    lines += wrapped(", ".join(part for part in (number, when, setup, f"stage {session.stage}") if part))
    if session.note:
        lines += told(f"note: {' '.join(session.note.split())}")
    lines += wrapped(steady_line(review.steadiness, timed))
    if not timed:
        return lines + wrapped(HIDDEN)
    if session.reference_time is None:
        return [*lines, "reference: none"]
    origin = plain(session.reference_origin or "this session", LABEL)
    return [*lines, f"reference: {lap_time(session.reference_time)}, of {origin}"]


def _laps(session: KeptSession) -> list[LapRow]:
    return [LapRow(lap.number, lap.time, lap.delta, lap.clean, lap.why_not) for lap in session.laps]
