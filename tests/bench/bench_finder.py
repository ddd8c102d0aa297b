"""The finder over random layouts: `python -m tests.bench.bench_finder [--layouts N] [--first SEED] [--runs]`.

Prints by channel how often it was found right, wrong, or left out although it was sent, and the time taken.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter

from tests.finder.drives import drives
from tests.finder.scoring import EIGHT
from tests.finder.trial import Trial, tried

MOST_WRONG, LEAST_FOUND = 0.01, 0.9
"""The issue's bars: share of what is found, and of the eight."""


def main() -> None:
    """Try and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--layouts", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--runs", action="store_true", help="the recorded runs too")
    parser.add_argument("--no-steps", action="store_true")
    parser.add_argument("--verbose", action="store_true")
    options = parser.parse_args()
    every = drives(runs=options.runs)
    right, wrong, missed = Counter[str](), Counter[str](), Counter[str]()
    slowest, whole = 0.0, time.perf_counter()
    for seed in range(options.first, options.first + options.layouts):
        name = sorted(every)[seed % len(every)]
        begun = time.perf_counter()
        trial: Trial = tried(every[name], seed, steps=not options.no_steps)
        slowest = max(slowest, trial.seconds)
        for channel, is_right in trial.judged.items():
            (right if is_right else wrong)[channel] += 1
        missed.update(trial.missed)
        bad = [c for c, fine in trial.judged.items() if not fine]
        if options.verbose or bad:
            took = time.perf_counter() - begun
            print(f"{seed:4} {name:16} {trial.size:5} B {trial.seconds:5.1f} s ({took:.1f})  wrong {bad}")
            for channel in bad:
                print("       wrong", channel, trial.proposal.fields.get(channel), "sent", trial.places.get(channel))
            for channel in trial.missed:
                why = trial.proposal.left_out.get(channel if channel != "place" else "x", "")
                if channel in EIGHT or options.verbose:
                    print("       missed", channel, trial.places.get(channel), "--", why)
    print(f"{'channel':16}{'right':>7}{'wrong':>7}{'left out':>9}")
    for channel in sorted({*right, *wrong, *missed}, key=lambda c: (c not in EIGHT, c)):
        print(f"{channel:16}{right[channel]:7}{wrong[channel]:7}{missed[channel]:9}")
    all_right, all_wrong = right.total(), wrong.total()
    of_eight = sum(right[c] for c in EIGHT)
    sent = of_eight + sum(wrong[c] + missed[c] for c in EIGHT)
    wrong_share, found = all_wrong / max(all_right + all_wrong, 1), of_eight / max(sent, 1)
    print(f"wrong {100 * wrong_share:.2f} % of what was found; of the eight {100 * found:.1f} % found right; ")
    print(f"slowest {slowest:.1f} s of CPU, whole {time.perf_counter() - whole:.0f} s")
    if wrong_share >= MOST_WRONG or (found < LEAST_FOUND and not options.no_steps):
        sys.exit(f"the bars are missed: wrong under {MOST_WRONG:.0%}, {LEAST_FOUND:.0%} of the eight found")


if __name__ == "__main__":
    main()
