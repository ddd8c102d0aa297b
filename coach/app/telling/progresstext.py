"""What became of the sessions of one driver, car and circuit, as text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from coach.app.console import plain, signed, words
from coach.app.telling.lines import LABEL, WIDTH, Block, driven, text_of, told, wrapped
from coach.app.telling.numbers import counted
from coach.app.telling.reviewtables import cued_table, seconds, share
from coach.app.telling.tables import PLACES
from coach.review.results import Day, Habit, Progress, Setup
from coach.review.words import place_of
from coach.vocabulary.laptime import lap_time

ACROSS = 7
"""sessions that stand side by side in 80 columns; of more, the last ones"""
WHEN = 16
"""characters of a session's label: a date with its time"""


def progress_text(progress: Progress) -> str:
    """Sessions, seconds by corner, habits, and cued laps against the others."""
    if not progress.days:
        return "No session is kept of that driver, car and circuit.\n"
    across = len(progress.days[-ACROSS:])
    by_corner: dict[int | None, dict[str, float]] = {}
    names = [str(number) for number in range(1, len(progress.days) + 1)]
    for name, day in list(zip(names, progress.days, strict=True))[-ACROSS:]:
        for corner, lost in day.losses.items():
            by_corner.setdefault(corner, {})[name] = lost
    blocks = [_heading(progress), _sessions(progress.days, names)]
    if progress.reference is not None and by_corner:
        told_as = "Seconds a lap against that lap at the median of each session, + is lost."
        blocks.append(corner_table(told_as, by_corner, names[-across:]))
    blocks += [_habits(progress.habits, names), _setups(progress.setups, names), cued_table(progress.cued)]
    return text_of(blocks)


def corner_table(told_as: str, losses: Mapping[int | None, Mapping[str, float]], names: Sequence[str]) -> Block:
    """SECONDS BY CORNER, a column for each name; where the last of them lost most comes first."""

    def weight(corner: int | None) -> float:
        return -max(losses[corner].values(), default=0.0)

    room = (WIDTH - 11) // max(len(names), 1)
    wide = min(room, 14)
    ordered = sorted(losses, key=weight)
    lines = ["SECONDS BY CORNER", *wrapped(told_as)]
    lines.append("  place    " + "".join(f"{plain(name, wide - 2):>{wide}}" for name in names))
    for corner in ordered[:PLACES]:
        columns = "".join(f"{signed(losses[corner].get(name)):>{wide}}" for name in names)
        lines.append(f"  {place_of(corner):<9}{columns}")
    if len(ordered) > PLACES:
        lines.append(f"  and {counted(len(ordered) - PLACES, 'place')} more, where less was lost")
    return lines


def habit_name(fault: str, corner: int | None) -> str:
    """`late throttle in turn 6`."""
    return words(fault) + ("" if corner is None else f" in turn {corner}")


def _heading(progress: Progress) -> Block:
    driver = f", {plain(progress.driver, LABEL)}" if progress.driver else ""
    lines = wrapped(driven(progress.track, progress.car) + driver)
    held = ""
    if progress.reference is not None:
        name, time = progress.reference
        held = f", held against {lap_time(time)}, {plain(name, LABEL)}"
    return lines + wrapped(counted(len(progress.days), "session") + held)


def _sessions(days: Sequence[Day], names: Sequence[str]) -> Block:
    """`kept`: the session's number in the memory."""
    lines = ["SESSIONS", "  no.  when              stage     laps  clean      best    median  spread  kept"]
    for name, day in zip(names, days, strict=True):
        steady = day.steadiness
        lines.append(
            f"{name:>5}  {plain(day.label, WHEN):<16}  {day.stage:<8}{steady.laps:>6}{share(steady.share):>7}"
            f"{lap_time(steady.best):>10}{lap_time(steady.median):>10}{seconds(steady.spread):>8}"
            f"{'-' if day.session is None else day.session:>6}"
        )
    return lines


def _setups(setups: Sequence[Setup], names: Sequence[str]) -> Block:
    lines = ["SETUPS"] if setups else []
    for setup in setups:
        steady = setup.steadiness
        label = plain(setup.label, LABEL) if setup.label else "without a name"
        lines += wrapped(f"{label}: sessions {', '.join(names[place] for place in setup.sessions)}", "  ", "     ")
        numbers = f"{counted(steady.clean, 'clean lap')}, median {lap_time(steady.median)}"
        numbers += f", spread {seconds(steady.spread)}"
        if setup.chance is not None:
            numbers += f"; as far from the others by luck alone {setup.chance * 100:.0f} times in 100"
        lines += wrapped(numbers, "     ")
    return lines


def _habits(habits: Sequence[Habit], names: Sequence[str]) -> Block:
    if not habits:
        return ["HABITS", "  none was found: nothing came up often enough to be one"]
    lines = ["HABITS", *wrapped("The dearest first: what became of each by session, and the share of judged passes.")]
    for habit in habits:
        lines += wrapped(habit_name(habit.fault, habit.corner), "  ")
        steps = [
            f"{name} {story}" + ("" if part is None else f" ({share(part)})")
            for name, story, part in list(zip(names, habit.story, habit.shares, strict=False))[-ACROSS:]
            if story
        ]
        lines += wrapped(", ".join(steps), "     ")
        lines += told(habit.why, "     ")
    return lines
