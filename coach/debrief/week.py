"""Progress over the sessions of one driver in one car on one circuit."""

from __future__ import annotations

from collections.abc import Sequence

from coach.debrief.markup import Cell, Column, Html, html, join, label, picture, section, table, tag
from coach.debrief.numerals import count, luck, moment, plain, readable, runs, share, signed
from coach.debrief.steady import cued_words
from coach.debrief.trend import draw_trend
from coach.debrief.where import number
from coach.review.results import Day, Habit, Progress, Setup
from coach.review.words import place_of
from coach.vocabulary.laptime import lap_time

PLACES = 20
"""corners that are listed in the ledger; the rest are left out, and counted."""
TONES = {"new": "lost2", "there": "lost1", "back": "lost3", "mended": "gained2", "gone": "gained1"}
"""The shade of a habit's cell, beside its word."""


def progress_parts(progress: Progress, level: int = 2) -> list[Html]:
    """The lines, the sessions, the ledger by corner, the habits and cued laps against uncued ones."""
    days = progress.days
    if not days:
        return [tag("p", "No session is kept yet.")]
    parts = [
        section("trend", "Best, median, spread and clean share", _trend(days), _sessions(days), level=level),
        section("ledger", "Where the seconds were, session by session", ledger_part(progress), level=level),
        section("habits", "Habits", habits_part(progress.habits, days), level=level),
    ]
    if progress.setups:
        parts.append(section("setups", "Setups side by side", setups_part(progress.setups), level=level))
    if progress.cued is not None:
        parts.append(section("cued", "Laps with a cue and without", tag("p", cued_words(progress.cued)), level=level))
    return parts


def _trend(days: Sequence[Day]) -> Html:
    return picture(draw_trend(days), "Best and median lap time and the clean share over the sessions")


def name_of_day(day: Day) -> Html:
    """When a session was, as well as it is known."""
    stamp = moment(day.begun)
    shown = label(day.label, "a session without a date", 40)
    return tag("time", shown, datetime=stamp, title=readable(stamp)) if stamp is not None else shown


def _sessions(days: Sequence[Day]) -> Html:
    columns = [
        *(
            Column("no."),
            Column("session"),
            Column("setup"),
            Column("stage"),
            Column("laps", True),
            Column("clean", True),
        ),
        *(Column("share", True), Column("in a row", True), Column("best", True), Column("median", True)),
        Column("spread", True),
    ]
    rows = []
    for index, day in enumerate(days, start=1):
        steady = day.steadiness
        times = [lap_time(steady.best), lap_time(steady.median), plain(steady.spread, 3, "s")]
        counts = [str(steady.laps), str(steady.clean), share(steady.share), str(steady.row)]
        rows.append([str(index), name_of_day(day), label(day.setup, "-", 30), day.stage, *counts, *times])
    return table(
        "The sessions, the oldest first; spread: the range of the middle half of the clean laps", columns, rows
    )


def ledger_part(progress: Progress) -> Html:
    """The median s a lap by corner and session, against the one lap that all are held against."""
    days = progress.days
    corners = sorted(
        {corner for day in days for corner in day.losses}, key=lambda corner: (corner is None, corner or 0)
    )
    if not corners:
        return tag("p", "No lap could be held against another, so no corner has seconds.", class_="soft")
    most = sorted(corners, key=lambda corner: -max(abs(day.losses.get(corner, 0.0)) for day in days))
    shown = [corner for corner in corners if corner in most[:PLACES]]
    columns = [
        Column("place"),
        *(Column(str(index), True) for index in range(1, len(days) + 1)),
        Column("change", True),
    ]
    rows: list[list[str | Cell]] = []
    for corner in shown:
        losses = [day.losses.get(corner) for day in days]
        known = [loss for loss in losses if loss is not None]
        change = known[-1] - known[0] if len(known) > 1 else None
        rows.append([place_of(corner), *map(number, losses), signed(change)])
    sums = [sum(day.losses.values()) if day.losses else None for day in days]
    against = Html("")
    if progress.reference is not None:
        name, time = progress.reference
        against = join(["All are held against one lap: ", label(name, "the best of them"), f", {lap_time(time)}. "])
    text = join([against, "Median seconds a lap, + is lost; the sessions by number."])
    left = len(corners) - len(shown)
    parts = [
        tag("p", text),
        table("Seconds a lap by corner and session", columns, rows, ["all", *map(signed, sums), ""], class_="shaded"),
    ]
    if left:
        parts.append(tag("p", f"{count(left, 'more place')} with less are left out.", class_="soft"))
    return join(parts)


def habits_part(habits: Sequence[Habit], days: Sequence[Day]) -> Html:
    """Each habit's story: in each session the share of passes that showed it, and what became of it."""
    if not habits:
        return tag("p", "No fault came up often enough to be called a habit.")
    columns = [Column("habit"), *(Column(str(index)) for index in range(1, len(days) + 1)), Column("what became of it")]
    rows: list[list[str | Cell]] = []
    for habit in habits:
        cells: list[str | Cell] = [fault_at(habit.fault, habit.corner)]
        for part, story in zip(habit.shares, habit.story, strict=True):
            shown = "-" if part is None else share(part)
            cells.append(Cell(join([shown, html(" "), tag("small", story)]), TONES.get(story)))
        rows.append([*cells, habit.why])
    return table(
        "The share of judged passes that showed each, session by session", columns, rows, class_="shaded story"
    )


def setups_part(setups: Sequence[Setup]) -> Html:
    """What was driven with each setup, and how surely it differs from the others."""
    columns = [
        *(Column("setup"), Column("sessions"), Column("clean laps", True), Column("best", True)),
        *(Column("median", True), Column("spread", True), Column("by luck alone", True)),
    ]
    rows = []
    for setup in setups:
        steady = setup.steadiness
        times = [lap_time(steady.best), lap_time(steady.median), plain(steady.spread, 3, "s")]
        numbers = runs(place + 1 for place in setup.sessions)
        rows.append([label(setup.label, "not named", 40), numbers, str(steady.clean), *times, luck(setup.chance)])
    note = (
        "By luck alone: how often the clean laps of one setup would differ as much from those of the others if the "
        "setup did nothing. A driver gets better meanwhile, which this cannot tell apart."
    )
    return join([table("Setups", columns, rows), tag("p", note, class_="soft")])


def fault_at(fault: str, corner: int | None) -> str:
    """`late throttle, turn 6`."""
    return fault.replace("_", " ") + ("" if corner is None else f", turn {corner}")
