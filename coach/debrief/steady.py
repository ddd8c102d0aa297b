"""Consistency, marks, and what was said: the tables of one session."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from coach.debrief.lapstrip import draw_laps
from coach.debrief.markup import Cell, Column, Html, bullets, cut, fold, join, picture, table, tag
from coach.debrief.nexttime import verdict
from coach.debrief.numerals import count, luck, plain, runs, share, signed
from coach.review.model import KeptLap, KeptSession
from coach.review.results import CuedAgainstUncued, MarkRow, Review, Said, StageVerdict, Steadiness
from coach.review.words import SPREAD
from coach.vocabulary.actions import MARK
from coach.vocabulary.laptime import lap_time
from coach.vocabulary.stages import STAGES

NAMES = ("brake", "apex", "exit")
"""The marks of a corner in the order driven."""
MARKED = 20
"""marked moments that are listed; of more, how many more."""
CUE = 200
"""characters of a cue's words that are shown."""


def steadiness_words(steady: Steadiness, timed: bool = True) -> str:
    """How alike the laps were, in a sentence or two."""
    text = f"{count(steady.laps, 'lap')}, {steady.clean} clean"
    text += f" ({share(steady.share)} of the whole ones)" if steady.share is not None else ""
    text += f"; {steady.row} clean in a row at most."
    if timed and steady.best is not None:
        text += f" Best {lap_time(steady.best)}, median {lap_time(steady.median)}"
        if steady.spread is not None:
            text += f", spread {plain(steady.spread, 3)} s (the range of the middle half of the clean laps)"
        text += "."
    return text


def cued_words(cued: CuedAgainstUncued) -> str:
    """Cued laps beside uncued ones, in a sentence."""
    if cued.cued_median is None or cued.uncued_median is None:
        return (
            f"{count(cued.cued, 'clean lap')} with a cue that told what to do, {cued.uncued} without: too few of a "
            "kind to hold one against the other."
        )
    text = (
        f"The median of {count(cued.cued, 'clean lap')} with a cue is {lap_time(cued.cued_median)}, that of "
        f"{cued.uncued} without {lap_time(cued.uncued_median)}"
    )
    if cued.chance is not None:
        text += f". Such a difference comes by luck alone {luck(cued.chance)} of the time"
    return f"{text}. A cue follows a mistake: what it brings, only drives with --alternate tell."


def laps_part(session: KeptSession, review: Review) -> Html:
    """The strip of lap times, and a table of all laps folded away."""
    if not session.laps:
        return tag("p", "No lap ended.")
    parts = []
    if review.steadiness is not None:
        parts.append(tag("p", steadiness_words(review.steadiness)))
    if any(lap.time is not None for lap in session.laps):
        parts.append(picture(draw_laps(session.laps), "The lap times, one beside the other"))
    if review.cued is not None:
        parts.append(tag("p", cued_words(review.cued)))
    parts.append(fold("All laps", _lap_table(session.laps)))
    return join(parts)


def _lap_table(laps: Sequence[KeptLap]) -> Html:
    columns = [Column("lap"), Column("time", True), Column("to the reference", True), Column("state"), Column("faults")]
    rows = []
    for lap in laps:
        state = "clean" if lap.clean else "not clean: " + ", ".join(why.replace("_", " ") for why in lap.why_not)
        state += "; cued" if lap.cued else ""
        faults = ", ".join(
            dict.fromkeys(
                fault.fault.replace("_", " ") + ("" if fault.corner is None else f" T{fault.corner}")
                for fault in lap.faults
            )
        )
        rows.append([str(lap.number), lap_time(lap.time), signed(lap.delta), state, faults or "-"])
    return table("All laps in the order driven", columns, rows)


def marks_part(marks: Sequence[MarkRow]) -> Html:
    """For each corner and mark, the share of passes that hit it, and how far apart they were."""
    if not marks:
        return tag("p", "No pass showed where its marks were hit.", class_="soft")
    by_corner: dict[int, dict[str, MarkRow]] = defaultdict(dict)
    for row in marks:
        by_corner[row.corner][row.name] = row
    columns = [Column("place")]
    for name in NAMES:
        columns += [Column(f"{name}: hit", True), Column("spread", True)]
    rows: list[list[str | Cell]] = []
    for corner, found in sorted(by_corner.items()):
        cells: list[str | Cell] = [f"turn {corner}"]
        for name in NAMES:
            cells += _mark_cells(found.get(name))
        rows.append(cells)
    caption = "Passes that hit each mark, and the spread"
    note = f"Spread: {SPREAD}."
    return join([table(caption, columns, rows, class_="shaded"), tag("p", note, class_="soft")])


def _mark_cells(row: MarkRow | None) -> list[str | Cell]:
    if row is None:
        return ["-", "-"]
    hit = "-" if row.hit is None else f"{share(row.hit)} of {row.passes}"
    return [Cell(hit, _tone(row.hit)), plain(row.spread, 2, "m")]


def _tone(hit: float | None) -> str | None:
    """Half of the passes or more that miss a mark, or a quarter, are shaded."""
    if hit is None or hit >= 0.75:
        return None
    return "lost2" if hit < 0.5 else "lost1"


def said_part(said: Sequence[Said]) -> Html:
    """What was said, the most often first, and whether it helped."""
    if not said:
        return tag("p", "Nothing was said.")
    columns = [
        *(Column("words"), Column("about"), Column("times", True), Column("laps")),
        *(Column("came up before", True), Column("after", True), Column("helped")),
    ]
    rows = []
    for row in said:
        about = [] if row.about is None else [row.about.replace("_", " ")]
        about += [] if row.corner is None else [f"turn {row.corner}"]
        told = verdict(row.verdict) if row.before is not None and row.after is not None else "-"
        said_of = [f"“{cut(row.text, CUE)}”", ", ".join(about) or "-", str(row.times), runs(row.laps)]
        rows.append([*said_of, share(row.before), share(row.after), told])
    note = (
        "Before and after: the share of judged passes in which the fault came up, until it was first said and since. "
        "That one followed the other does not prove that the words did it."
    )
    return join(
        [
            table("The words that were said, the most frequent first", columns, rows, class_="told"),
            tag("p", note, class_="soft"),
        ]
    )


def moments_part(session: KeptSession, worked_on: bool = True) -> Html:
    """What was worked on, which names seconds, and the moments that were marked for looking at them later."""
    parts = []
    topics = [f"lap {advice.lap}: {cut(advice.text, CUE)}" for advice in session.advice if advice.topic == "practice"]
    if topics and worked_on:
        parts += [tag("h3", "Worked on"), bullets(topics)]
    marked = [action for action in session.actions if action.action == MARK]
    if marked:
        where = [f"lap {a.lap}" + ("" if a.distance is None else f", {a.distance:.0f} m") for a in marked[:MARKED]]
        more = [f"and {len(marked) - MARKED} more"] if len(marked) > MARKED else []
        parts += [tag("h3", "Marked"), bullets([*where, *more])]
    return join(parts)


def stage_part(stage: StageVerdict) -> Html:
    """At which stage the practice is, whether the next is earned, and by what evidence."""
    text = f"Stage {stage.stage}: {STAGES.get(stage.stage, '')}."
    if stage.following is not None:
        text += f" The next, {stage.following}, is {'earned' if stage.earned else 'not earned yet'}."
    elif stage.earned:
        text += " It has all that it asks."
    if stage.advised != stage.stage:
        text += f" The laps say: practise {stage.advised}."
    return join([tag("p", text), bullets(stage.points), tag("p", "Nothing is locked.", class_="soft")])
