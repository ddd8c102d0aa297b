"""Several pupils on one circuit side by side, as text."""

from __future__ import annotations

from collections.abc import Sequence

from coach.app.console import plain
from coach.app.telling.lines import LABEL, Block, text_of, told, wrapped
from coach.app.telling.nexttime import worth
from coach.app.telling.numbers import counted
from coach.app.telling.progresstext import corner_table, habit_name
from coach.app.telling.reviewtables import seconds, share
from coach.review.results import Class, Pupil, Shared
from coach.review.words import thing_words
from coach.vocabulary.laptime import lap_time

NAME = 16
"""characters of a pupil's name in a table"""
ACROSS = 6
"""pupils that stand side by side in 80 columns; the page has all"""


def pupils_text(klass: Class) -> str:
    """The pupils' numbers, what is stuck, what they share, the seconds by corner, and what to work on with each."""
    if not klass.pupils:
        return "No pupil has driven that circuit.\n"
    names = [pupil.name for pupil in klass.pupils]
    blocks = [_heading(klass), _numbers(klass.pupils)]
    if klass.losses:
        told_as = "Seconds a lap at the median of the last session, + is lost."
        if len(names) > ACROSS:
            told_as += f" The first {ACROSS} of {len(names)} pupils; a page (--to) has all."
        first = names[:ACROSS]
        shown = {corner: {name: of[name] for name in first if name in of} for corner, of in klass.losses.items()}
        blocks.append(corner_table(told_as, shown, first))
    return text_of([*blocks, _shared(klass.shared), _stuck(klass.pupils), _things(klass.pupils)])


def _heading(klass: Class) -> Block:
    return wrapped(f"{plain(klass.track or 'a track without a name', LABEL)}, {counted(len(klass.pupils), 'pupil')}")


def _numbers(pupils: Sequence[Pupil]) -> Block:
    lines = ["PUPILS", "  name              sessions  laps  clean      best    median  spread  stage"]
    for pupil in pupils:
        steady = pupil.steadiness
        stage = "-" if pupil.stage is None else pupil.stage.stage
        lines.append(
            f"  {plain(pupil.name, NAME):<16}{pupil.sessions:>10}{pupil.laps:>6}{share(steady.share):>7}"
            f"{lap_time(steady.best):>10}{lap_time(steady.median):>10}{seconds(steady.spread):>8}  {stage}"
        )
    return lines


def _shared(shared: Sequence[Shared]) -> Block:
    if not shared:
        return ["IN COMMON", "  nothing that two or more of them have"]
    lines = ["IN COMMON"]
    for one in shared:
        who = ", ".join(f"{plain(name, NAME)} {lost:.2f} s" for name, lost in one.seconds.items())
        lines += wrapped(f"{habit_name(one.fault, one.corner)}: {who} a lap", "  ", "     ")
    return lines


def _stuck(pupils: Sequence[Pupil]) -> Block:
    lines = ["STUCK"]
    for pupil in pupils:
        for habit in pupil.stuck:
            lines += wrapped(f"{plain(pupil.name, NAME)}: {habit_name(habit.fault, habit.corner)}", "  ", "     ")
            lines += told(habit.why, "     ")
    return lines if len(lines) > 1 else [*lines, "  nobody, as far as the sessions tell"]


def _things(pupils: Sequence[Pupil]) -> Block:
    lines = ["NEXT TIME"]
    for pupil in pupils:
        lines += wrapped(plain(pupil.name, LABEL), "  ")
        if not pupil.things:
            lines += wrapped("nothing that was found costs enough to name", "     ")
        for number, thing in enumerate(pupil.things, start=1):
            lines += told(f"{thing_words(thing)}: {worth(thing.seconds)}", f"     {number}. ")
    return lines
