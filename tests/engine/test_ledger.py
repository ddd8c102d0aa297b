"""The seconds ledger: parts without gap or overlap, that sum to the lap's delta, and what exit speed explains."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest

from coach.engine.circuit import Circuit, survey
from coach.engine.lap import GridLap
from coach.engine.ledger import LEAD, Bounds, Ledger, Part
from coach.engine.scatter import Scatter
from coach.engine.study import Studied
from coach.engine.tape import Tape
from coach.vocabulary.events import CornerMark, Loss, LossPart
from coach.vocabulary.sample import Sample
from tests.engine.driving import RIGHT, corner_of, lap_from, lap_of, laps, loop, moved_line, play, studied
from tests.engine.handmade import grid_lap
from tests.make_stream import Mistake

LENGTH, SPEED = 2000.0, 40.0


def covers(parts: Sequence[Part], length: float) -> None:
    """From line to line, each part where the one before it ended."""
    assert parts[0].start == pytest.approx(0.0, abs=1e-3)
    assert parts[-1].end == pytest.approx(length, abs=1e-3)
    for before, after in pairwise(parts):
        assert after.start == pytest.approx(before.end, abs=1e-3)
    assert all(part.end > part.start for part in parts)


def rises(bounds: Bounds) -> None:
    assert bounds.braking <= bounds.entry <= bounds.apex <= bounds.exit <= bounds.end


def even() -> GridLap:
    count = round(LENGTH) + 1
    return grid_lap(LENGTH, LENGTH / SPEED, speed=np.full(count, SPEED))


def ledger(*places: tuple[float, float, float, float]) -> Ledger:
    """Of corners with (brake, entry, apex, exit) m on a lap at 40 m/s."""
    marks = [CornerMark(i, "left", *place, (place[2],)) for i, place in enumerate(places, 1)]
    return Ledger(Circuit("made", LENGTH, tuple(marks)), even())


def driven(lost: Sequence[tuple[float, float, float]], step: float = 2.0, speed: float = SPEED) -> Tape:
    """A lap that loses (from m, to m, s) evenly; crossed the line at 100 s."""
    tape = Tape()
    for i in range(round(LENGTH / step) + 1):
        place = i * step
        late = sum(seconds * min(max((place - a) / (b - a), 0.0), 1.0) for a, b, seconds in lost)
        tape.append(100.0 + place / SPEED + late, place, Sample(0.0, speed=speed))
    return tape


def by_phase(of: Ledger, tape: Tape, delta: float) -> dict[tuple[int | None, str], float]:
    found: dict[tuple[int | None, str], float] = {}
    for loss in of.losses(tape, 100.0, delta):
        found[loss.corner, loss.phase] = found.get((loss.corner, loss.phase), 0.0) + loss.seconds
    return found


TWO = ((400.0, 450.0, 480.0, 520.0), (1200.0, 1250.0, 1290.0, 1340.0))


def test_parts_in_the_order_driven() -> None:
    made = ledger(*TWO)
    covers(made.parts, LENGTH)
    # braking begins a second before the reference's brake point: whoever brakes early loses it there
    assert [(p.corner, p.phase, round(p.start)) for p in made.parts] == [
        (2, "straight", 0),
        *((1, "braking", 360), (1, "entry", 450), (1, "exit", 480), (1, "straight", 520)),
        *((2, "braking", 1160), (2, "entry", 1250), (2, "exit", 1290), (2, "straight", 1340)),
    ]
    for bounds in made.bounds:
        rises(bounds)
    assert made.bounds[0].braking == pytest.approx(400.0 - LEAD * SPEED, abs=1.01)


@pytest.mark.parametrize("early", [0.0, 200.0, 660.0, 780.0, 790.0, 810.0, 1230.0, 1275.0])
def test_a_corner_over_the_line(early: float) -> None:
    """The line is moved through the second corner: its braking, its entry, its apex and its exit."""
    places = [tuple((place - early) % LENGTH for place in corner) for corner in TWO]
    made = ledger(*places)  # type: ignore[arg-type]
    covers(made.parts, LENGTH)
    for bounds in made.bounds:
        rises(bounds)
    spans: dict[tuple[int | None, str], float] = {}
    for part in made.parts:
        spans[part.corner, part.phase] = spans.get((part.corner, part.phase), 0.0) + part.end - part.start
    assert spans == pytest.approx(
        {
            **{(1, "braking"): 90.0, (1, "entry"): 30.0, (1, "exit"): 40.0, (1, "straight"): 640.0},
            **{(2, "braking"): 90.0, (2, "entry"): 40.0, (2, "exit"): 50.0, (2, "straight"): 1020.0},
        },
        abs=1.01,
    )


def test_corners_so_near_that_no_second_is_left_before_the_brakes() -> None:
    made = ledger((400.0, 450.0, 480.0, 520.0), (530.0, 560.0, 590.0, 640.0), (640.0, 650.0, 660.0, 700.0))
    covers(made.parts, LENGTH)
    for bounds in made.bounds:
        rises(bounds)
    assert made.bounds[1].braking == pytest.approx(525.0)  # half of the way, so that the exit keeps its own
    assert made.bounds[2].braking == pytest.approx(640.0)


def test_marks_out_of_order_still_give_rising_bounds() -> None:
    # a brake point behind the turn-in (trail braking only), and behind the apex of a map read from another lap
    made = ledger((470.0, 450.0, 480.0, 520.0), (1300.0, 1250.0, 1290.0, 1340.0))
    covers(made.parts, LENGTH)
    for bounds in made.bounds:
        rises(bounds)


def test_no_corner_to_coach_is_one_straight() -> None:
    mark = CornerMark(1, "left", 400.0, 450.0, 480.0, 520.0, (480.0,), coached=False)
    made = Ledger(Circuit("made", LENGTH, (mark,)), even())
    assert made.parts == (Part(None, "straight", 0.0, LENGTH),)
    (loss,) = made.losses(driven([(300.0, 700.0, 0.8)]), 100.0, 0.8)
    assert (loss.corner, loss.phase, loss.seconds, loss.from_exit) == (None, "straight", 0.8, None)


def test_one_corner_alone() -> None:
    made = ledger((400.0, 450.0, 480.0, 520.0))
    covers(made.parts, LENGTH)
    rises(made.bounds[0])
    assert made.bounds[0].end == pytest.approx(LENGTH + made.bounds[0].braking)


def test_seconds_are_booked_where_they_were_lost() -> None:
    found = by_phase(ledger(*TWO), driven([(400.0, 450.0, 0.2), (480.0, 520.0, 0.3), (700.0, 900.0, -0.1)]), 0.4)
    assert found[1, "braking"] == pytest.approx(0.2, abs=1e-4)
    assert found[1, "exit"] == pytest.approx(0.3, abs=1e-4)
    assert found[1, "straight"] == pytest.approx(-0.1, abs=1e-4)
    assert found[1, "entry"] == found[2, "entry"] == pytest.approx(0.0, abs=1e-4)
    assert sum(found.values()) == pytest.approx(0.4, abs=1e-9)


def test_the_last_part_carries_the_rounding() -> None:
    for delta in (0.123449, 1 / 3, -0.00005, 2.0):
        losses = ledger(*TWO).losses(driven([(0.0, LENGTH, delta)]), 100.0, delta)
        assert sum(loss.seconds for loss in losses) == pytest.approx(delta, abs=5.1e-5)


def test_only_a_straight_explains_by_exit_speed() -> None:
    for loss in ledger(*TWO).losses(driven([]), 100.0, 0.0):
        assert (loss.from_exit is not None) == (loss.phase == "straight")
        assert loss.from_exit is None or loss.from_exit == pytest.approx(0.0, abs=1e-3)
    bare = Ledger(Circuit("made", LENGTH, (CornerMark(1, "left", *TWO[0], (480.0,)),)), grid_lap(LENGTH, 50.0))
    assert all(loss.from_exit is None for loss in bare.losses(driven([]), 100.0, 0.0))


def test_losses_of_a_real_lap() -> None:
    """A planted late throttle against the same lap without it: exit and straight lose, and the exit speed says why."""

    def drive(*mistakes: Mistake) -> tuple[float, list[LossPart]]:
        events = play(lap_of(*mistakes).rows, studied())
        lap = next(lap for lap in laps(events) if lap.delta is not None)
        loss = next(e for e in events if isinstance(e, Loss))
        assert lap.delta is not None
        assert sum(part.seconds for part in loss.parts) == pytest.approx(lap.delta, abs=1e-3)
        return lap.delta, list(loss.parts)

    (plain, clean), (late, lossy) = drive(), drive(Mistake("late_throttle", 1, RIGHT, 0.5))
    number = corner_of(studied(), RIGHT)
    lost = {p.phase: p.seconds - q.seconds for p, q in zip(lossy, clean, strict=True) if p.corner == number}
    explained = {
        p.phase: p.from_exit - q.from_exit
        for p, q in zip(lossy, clean, strict=True)
        if p.corner == number and p.from_exit is not None and q.from_exit is not None
    }
    assert late - plain > 0.2
    assert lost["exit"] + lost["straight"] == pytest.approx(late - plain, rel=0.15)
    assert abs(lost["braking"]) < 0.005 and abs(lost["entry"]) < 0.005
    assert explained["straight"] == pytest.approx(lost["straight"], rel=0.15)


@pytest.mark.parametrize("line", [360.0, 1027.0])
def test_the_ledger_of_a_circuit_whose_corner_lies_over_the_line(line: float) -> None:

    lap = lap_from(line)
    known = Studied(lap, survey(lap), Scatter(), {})
    covers(Ledger(known.circuit, lap).parts, lap.length)
    drive = lap_of(Mistake("late_throttle", 2, RIGHT, 0.5), laps=2)
    events = play(moved_line(drive.rows, line, loop().length), known)
    for lap_event, loss in zip(
        (lap for lap in laps(events) if lap.delta is not None), (e for e in events if isinstance(e, Loss)), strict=True
    ):
        assert lap_event.delta is not None
        assert sum(part.seconds for part in loss.parts) == pytest.approx(lap_event.delta, abs=1e-3)
