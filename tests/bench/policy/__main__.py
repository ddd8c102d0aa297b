"""`python -m tests.bench.policy`: modelled pupils with this planner, with none, and with one that says everything.

It guards the planner's policy against getting worse. It is no evidence about people.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import tempfile
import time
from pathlib import Path

from . import plot, report
from .policies import OURS, POLICIES, VARIANTS
from .results import Season
from .table import load
from .traits import SETS
from .work import Task, work

PROCESSES = 2
UNCUED = 3
"""Laps at the end on which nothing is said."""
SHOWN = (1, 5, 10, 15)
"""Laps of the table."""
STATED = "as stated"


def main() -> int:
    """The command."""
    options = _options()
    began = time.monotonic()
    asked = [(traits, policy) for traits in SETS for policy in POLICIES] + [(STATED, policy) for policy in VARIANTS]
    tasks = [Task(*pair, options.pupils, options.laps, UNCUED, options.seed) for pair in asked]
    seasons: dict[tuple[str, str], Season] = {}
    with multiprocessing.get_context("spawn").Pool(PROCESSES) as pool:
        for number, (pair, season) in enumerate(zip(asked, pool.imap(work, tasks), strict=True), 1):
            print(f"\r{number}/{len(tasks)}", end="", file=sys.stderr, flush=True)
            seasons[pair] = season
    print(file=sys.stderr)
    sets = {traits: {policy: seasons[traits, policy] for policy in POLICIES} for traits in SETS}
    _print(options, sets, {policy: seasons[STATED, policy] for policy in VARIANTS})
    title = f"{options.pupils} modelled pupils, {options.laps} laps and {UNCUED} without a word"
    options.out.mkdir(parents=True, exist_ok=True)
    picture = options.out / "policy.svg"
    picture.write_text(plot.draw(sets[STATED], title), encoding="utf-8")
    print(f"\nThe picture is {picture}. {len(tasks)} seasons in {time.monotonic() - began:.0f} s.")
    return 0


def _print(options: argparse.Namespace, sets: dict[str, dict[str, Season]], variants: dict[str, Season]) -> None:
    made = load().made
    shown = sorted({lap for lap in SHOWN if lap < options.laps} | {options.laps})
    print(f"{options.pupils} pupils, {options.laps} laps with a coach and {UNCUED} without, seed {options.seed}.")
    print(f"Losses of {made['car']} on {made['circuit']}, commit {made['commit']}.")
    print("A model (tests/bench/policy/traits.py). It is no evidence about people.")
    for name, policy in {**POLICIES, **VARIANTS}.items():
        print(f"  {name}: {policy.what}")
    print("\nSeconds lost to the reference, mean and 95 % interval over pupils\n")
    print(report.by_lap(sets[STATED], shown))
    stated = ", ".join(f"{name} {season.disturbed_a_lap:.3f}" for name, season in sets[STATED].items())
    print(f"\nOf that, s a lap that cues in corners cost: {stated}")
    print("\nOther pupils: differences in s, negative where this planner is quicker\n")
    print(report.differences(sets))
    print(f"\n{report.verdicts(sets)}")
    print("\nOne rule of this planner changed: differences in s, positive where the rule helps\n")
    print(report.rules(sets[STATED][OURS], variants))


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.policy", description=__doc__)
    parser.add_argument("--pupils", type=_number, default=20)
    parser.add_argument("--laps", type=_number, default=15, help="with the coach")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, default=Path(tempfile.gettempdir()) / "cornerword-policy", metavar="FOLDER")
    return parser.parse_args()


def _number(text: str) -> int:
    value = int(text)
    if value < 1:
        raise argparse.ArgumentTypeError("give 1 or more")
    return value


if __name__ == "__main__":
    sys.exit(main())
