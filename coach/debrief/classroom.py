"""Several pupils on one circuit, for their instructor: who is stuck where, and what they have in common."""

from __future__ import annotations

from collections.abc import Sequence

from coach.debrief.markup import Cell, Column, Html, bullets, join, label, section, table, tag
from coach.debrief.nexttime import things_part
from coach.debrief.numerals import count, plain, share, signed
from coach.debrief.steady import stage_part
from coach.debrief.week import fault_at
from coach.debrief.where import number
from coach.review.results import Class, Pupil, Shared
from coach.review.words import place_of
from coach.vocabulary.laptime import lap_time


def class_parts(klass: Class) -> list[Html]:
    """What they share, the pupils side by side, their corners side by side, and then each of them."""
    if not klass.pupils:
        return [tag("p", "No pupil has a session on this circuit.")]
    parts = [
        section("shared", "What they have in common", _shared(klass.shared)),
        section("side-by-side", "Side by side", _pupils(klass.pupils)),
        section("corners", "Who loses where", _corners(klass)),
    ]
    parts += [_pupil(index, pupil) for index, pupil in enumerate(klass.pupils, start=1)]
    return parts


def _shared(shared: Sequence[Shared]) -> Html:
    if not shared:
        return tag("p", "No fault is common to two or more of them.")
    columns = [Column("fault"), Column("pupils", True), Column("who, with seconds a lap")]
    rows = []
    for one in shared:
        who = join(
            (join([label(name, "no name", 30), f" {signed(lost, 2)}"]) for name, lost in one.seconds.items()), ", "
        )
        rows.append([fault_at(one.fault, one.corner), str(len(one.seconds)), who])
    return table("Faults that several of them have", columns, rows)


def _pupils(pupils: Sequence[Pupil]) -> Html:
    columns = [
        *(Column("pupil"), Column("sessions", True), Column("laps", True), Column("clean", True), Column("best", True)),
        *(Column("median", True), Column("spread", True), Column("stage"), Column("stuck with")),
    ]
    rows = []
    for pupil in pupils:
        steady = pupil.steadiness
        stage = "-" if pupil.stage is None else pupil.stage.stage + (", next earned" if pupil.stage.earned else "")
        stuck = "; ".join(fault_at(habit.fault, habit.corner) for habit in pupil.stuck) or "-"
        counts = [str(pupil.sessions), str(pupil.laps), share(steady.share)]
        times = [lap_time(steady.best), lap_time(steady.median), plain(steady.spread, 3, "s")]
        rows.append([label(pupil.name, "no name", 40), *counts, *times, stage, stuck])
    return table("The last session of each", columns, rows)


def _corners(klass: Class) -> Html:
    names = [pupil.name for pupil in klass.pupils]
    if not klass.losses:
        return tag("p", "No lap could be held against another, so no corner has seconds.", class_="soft")
    shown = [label(name, "no name", 24) for name in names]
    columns = [Column("place"), *(Column(name, True) for name in shown)]
    rows: list[list[str | Cell]] = [
        [place_of(corner), *(number(losses.get(name)) for name in names)] for corner, losses in klass.losses.items()
    ]
    return table("Median seconds a lap by corner and pupil, + is lost", columns, rows, class_="shaded")


def _pupil(index: int, pupil: Pupil) -> Html:
    parts = [things_part(pupil.things, None, (), judged=True)]
    if pupil.stuck:
        parts.append(tag("h3", "Stuck"))
        parts.append(bullets(f"{fault_at(habit.fault, habit.corner)}: {habit.why}" for habit in pupil.stuck))
    if pupil.stage is not None:
        parts.append(stage_part(pupil.stage))
    parts.append(tag("p", f"From {count(pupil.sessions, 'session')}, {count(pupil.laps, 'lap')}.", class_="soft"))
    return section(f"pupil-{index}", label(pupil.name, "no name", 60), *parts)
