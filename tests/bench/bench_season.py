"""A made season of the built-in car on its own circuit: `python -m tests.bench.bench_season [--laps N] [--seed N]`.

Six sessions, with habits that mend, return, stay and begin; prints the story that was put in beside the one that is
told, the losses by corner of each session against one lap, and the time that it took. Fails where a story differs.
"""

from __future__ import annotations

import argparse
import sys
import time

from coach.review.progress import progress
from coach.review.review import review
from coach.review.words import fault_words
from coach.vocabulary.laptime import lap_time
from feeds.car.circuit import brack_mere
from tests.review.season import Planted, season

SEASON = (
    Planted("late_throttle", 4, 0.6, (1, 2, 5, 6), ("there", "there", "mended", "gone", "back", "there")),
    Planted("early_braking", 1, 16.0, (1, 2, 3), ("there", "there", "there", "mended", "gone", "gone")),
    Planted("throttle_lift", 10, 0.5, (1, 2, 3, 4, 5, 6), ("there",) * 6),
    Planted("narrow_exit", 7, 3.0, (6,), ("", "", "", "", "", "new")),
)
"""Bends of the built-in circuit that are not each other's neighbours."""


def main() -> int:
    """Drive and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--laps", type=int, default=6, help="laps a session (6)")
    parser.add_argument("--seed", type=int, default=1, help="of the driver's scatter (1)")
    options = parser.parse_args()
    began = time.process_time()
    circuit = brack_mere()
    sessions = season(circuit, options.laps, SEASON, options.seed)
    print(f"{len(sessions)} sessions of {options.laps} laps driven and judged in {time.process_time() - began:.0f} s")
    began = time.process_time()
    made = progress(sessions)
    took = time.process_time() - began
    middles = {corner.number: corner.middle for corner in circuit.corners}
    told = {(habit.fault, habit.corner): habit for habit in made.habits}
    wrong = 0
    for planted in SEASON:
        place = middles[planted.corner]
        mark = min(sessions[-1].corners, key=lambda mark: abs(mark.apex - place))
        habit = told.pop((planted.fault, mark.corner), None)
        same = habit is not None and habit.story == planted.story
        wrong += not same
        print(f"{'same' if same else 'DIFFERENT'}: {fault_words(planted.fault, mark.corner)}")
        print(f"  put in {planted.story}")
        if habit is not None:
            print(f"  told   {habit.story}")
            print(f"  {habit.why} s a lap: {', '.join(f'{lost:.2f}' for lost in habit.seconds)}")
    for habit in told.values():
        named, losses = fault_words(habit.fault, habit.corner), ", ".join(f"{lost:.2f}" for lost in habit.seconds)
        print(f"told besides: {named}: {habit.why} s a lap: {losses}")
    for day, session in zip(made.days, sessions, strict=True):
        worst = sorted(day.losses.items(), key=lambda item: -item[1])[:4]
        lost = ", ".join(f"turn {corner} {seconds:+.2f}" for corner, seconds in worst)
        print(f"{day.label}: median {lap_time(day.steadiness.median)}, {lost}")
        print("  " + "; ".join(fault_words(thing.fault, thing.corner) for thing in review(session).things))
    print(f"against {made.reference}; the view took {took:.2f} s")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
