"""The tables that the command prints."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from .policies import NAIVE, NONE, OURS
from .results import Season, best_for, interval

Seasons = Mapping[str, Season]


def by_lap(seasons: Seasons, laps: Sequence[int]) -> str:
    """Mean loss by coach on some laps, on the last ones, and on those without a word; who is best for how many."""
    ends = best_for({name: season.end for name, season in seasons.items()})
    kept = best_for({name: season.kept for name, season in seasons.items()})
    head = ["coach", *(f"lap {lap}" for lap in laps), "without a word", "best at the end", "best without", "cues a lap"]
    rows = [
        [
            name,
            *(str(interval(season.on(lap))) for lap in laps),
            str(interval(season.kept)),
            f"{ends[name]:.0%}".replace("%", " %"),
            f"{kept[name]:.0%}".replace("%", " %"),
            f"{season.cues_a_lap:.1f}",
        ]
        for name, season in seasons.items()
    ]
    return _table(head, rows)


def differences(sets: Mapping[str, Seasons]) -> str:
    """For each set of traits: this planner less the others, pupil by pupil, and who then is best."""
    head = ["pupils", *(f"{OURS} - {other}, {when}" for when in ("end", "without") for other in (NONE, NAIVE))]
    head += ["best at the end", "best without"]
    rows = []
    for name, seasons in sets.items():
        ours, row = seasons[OURS], [name]
        for when in ("end", "kept"):
            for other in (NONE, NAIVE):
                row.append(interval(getattr(ours, when) - getattr(seasons[other], when)).signed)
        for when in ("end", "kept"):
            shares = best_for({coach: getattr(season, when) for coach, season in seasons.items()})
            row.append(", ".join(f"{coach} {share * 100:.0f} %" for coach, share in shares.items()))
        rows.append(row)
    return _table(head, rows)


def verdicts(sets: Mapping[str, Seasons]) -> str:
    """One line for each set of traits: who wins there, said plainly."""
    return "\n".join(f"- {name}: {_verdict(seasons)}" for name, seasons in sets.items())


def _verdict(seasons: Seasons) -> str:
    parts = []
    for when, words in (("end", "with the coach"), ("kept", "without a word")):
        versus = []
        for other in (NONE, NAIVE):
            gap = interval(getattr(seasons[OURS], when) - getattr(seasons[other], when))
            by = f"by {abs(gap.mean):.2f} s"
            if gap.high < 0.0:
                versus.append(f"{OURS} beats {other} {by}")
            elif gap.low > 0.0:
                versus.append(f"{other} BEATS {OURS} {by}")
            else:
                versus.append(f"{OURS} and {other} are not told apart ({gap.mean:+.2f} s)")
        parts.append(f"{words} {' and '.join(versus)}")
    return "; ".join(parts)


def rules(base: Season, variants: Seasons) -> str:
    """What a rule of this planner is worth in the model: a variant less the planner, pupil by pupil."""
    head = ["variant", "variant - ours, end", "variant - ours, without", "cues a lap"]
    rows = [
        [name, interval(s.end - base.end).signed, interval(s.kept - base.kept).signed, f"{s.cues_a_lap:.1f}"]
        for name, s in variants.items()
    ]
    return _table(head, rows)


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)
