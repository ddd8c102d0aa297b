"""The end of every text: how the last three things fared, the stage, and the three things for next time.

They stand last, right above the prompt: what is read if nothing else is.
"""

from __future__ import annotations

from collections.abc import Sequence

from coach.app.telling.lines import Block, told, wrapped
from coach.review.results import Outcome, Review, StageVerdict, Thing
from coach.review.words import nothing_words, thing_words
from coach.vocabulary.stages import STAGES

_INDENT = "     "
_VERDICT = 9
"""columns of a verdict: the longest has seven letters"""


def closing_blocks(review: Review, judged: bool) -> list[Block]:
    """All of it. `judged`: at least one pass of a corner was held against the marks."""
    return [how_they_fared(review.outcomes), stage_block(review.stage), next_time(review.things, judged)]


def next_time(things: Sequence[Thing], judged: bool) -> Block:
    """NEXT TIME: each thing with the seconds a lap that it is worth, and its evidence."""
    lines = ["NEXT TIME"]
    if not things:
        return lines + wrapped(nothing_words(judged), "  ")
    for number, thing in enumerate(things, start=1):
        lines += told(f"{thing_words(thing)}: {worth(thing.seconds)}", f"  {number}. ", _INDENT)
        lines += told(thing.why, _INDENT)
    return lines


def how_they_fared(outcomes: Sequence[Outcome]) -> Block:
    """HOW THE LAST ONES FARED, each with its verdict and the evidence."""
    lines = ["HOW THE LAST ONES FARED"] if outcomes else []
    for outcome in outcomes:
        start = f"  {outcome.verdict:<{_VERDICT}}"
        lines += told(thing_words(outcome.thing), start)
        lines += told(outcome.why, " " * len(start))
    return lines


def stage_block(stage: StageVerdict | None) -> Block:
    """STAGE: what it is about, whether the next is earned and by what, and what the data advise."""
    if stage is None:
        return []
    lines = ["STAGE", *wrapped(f"{stage.stage}: {STAGES.get(stage.stage, '')}", "  ", _INDENT)]
    if stage.following is not None:
        lines += wrapped(
            f"{stage.following} is earned" if stage.earned else f"{stage.following} is not earned yet", "  "
        )
    elif stage.earned:
        lines += wrapped(f"{stage.stage} has all that it asks", "  ")
    for point in stage.points:
        lines += told(point, "   - ")
    if stage.advised != stage.stage:
        lines += wrapped(f"by what was driven, practise at the stage {stage.advised}: --stage {stage.advised}", "  ")
    return lines


def worth(seconds: float) -> str:
    """`0.19 s a lap`; what hurts sooner or later may cost nothing as yet."""
    return f"{seconds:.2f} s a lap" if round(seconds, 2) > 0.0 else "no seconds yet"
