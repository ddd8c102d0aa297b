"""The bench that proves the judgement: its truth finds what was driven, its score counts what a log says of it."""

from __future__ import annotations

import gzip
import itertools
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from make_stream import Drive, test_loop
from scipy import stats

from feeds.car.envelope import Envelope
from feeds.car.mind import Mind
from feeds.car.person import PERSONS, Person
from feeds.car.plan import Table
from tests.bench.judgement.cast import BENCH_CARS, SCATTERING, STEADY
from tests.bench.judgement.circuits import CIRCUITS
from tests.bench.judgement.drives import Kept
from tests.bench.judgement.intervals import poisson, wilson
from tests.bench.judgement.listen import Variant
from tests.bench.judgement.planting import SIZES, circuit_at, planted
from tests.bench.judgement.score import clean_passes, score
from tests.bench.judgement.truth import Fault, Truth, studied, truth_of

LENGTH = 3000.0


def a_truth(**changed: Any) -> Truth:
    """Three corners, three laps; on lap 2 a late throttle, on lap 3 an early braking that cost next to nothing."""
    faults = (
        Fault("late_throttle", 2, 1, 200.0, 330.0, 0.5, 0.52, 0.30, 60.0, ("coasting",)),
        Fault("early_braking", 3, 2, 1200.0, 1330.0, 12.0, 12.0, 0.02, 160.0, ()),
    )
    truth = Truth(
        "made",
        "steady",
        LENGTH,
        {1: 80.0, 2: 81.0, 3: 82.0},
        ((1, 200.0, 330.0), (2, 1200.0, 1330.0), (3, 2200.0, 2330.0)),
        faults,
        {},
        (),
        (),
    )
    return replace(truth, **changed)


def fault(name: str, lap: int, distance: float, t: float = 0.0, net: float = 0.1, cost: float = 0.1) -> dict[str, Any]:
    """One finding of a log."""
    return {
        "type": "fault", "t": t, "lap": lap, "fault": name, "corner": 1, "distance": distance, "begins": t,
        "size": 1.0, "unit": "s", "net": net, "cost": cost, "also": [], "evidence": {},
    }  # fmt: skip


def cue(about: str, lap: int, corner: int) -> dict[str, Any]:
    """A spoken correction."""
    of = [{"lap": lap, "corner": corner, "fault": about}]
    return {"type": "cue", "t": 0.0, "lap": lap, "kind": "correction", "about": about, "of": of, "spoken": True}


CORNERS = {
    "type": "corners",
    "corners": [{"corner": 1, "apex": 280.0}, {"corner": 2, "apex": 1280.0}, {"corner": 3, "apex": 2280.0}],
}


def test_what_is_found_is_counted_with_its_cost_and_its_cue() -> None:
    log = [CORNERS, fault("late_throttle", 2, 320.0, t=61.0, cost=0.26), cue("late_throttle", 2, 1)]
    one, small = score(log, a_truth()).found
    assert one.pays and one.hit is not None
    assert one.cost_error == pytest.approx(0.04)
    assert (one.cues_right, one.cues_wrong, one.late) == (1, [], None)
    assert not small.pays and small.hit is None


def test_a_miss_is_a_miss_and_what_was_said_instead_is_no_false_alarm() -> None:
    log = [CORNERS, fault("over_slowed", 2, 300.0), fault("coasting", 2, 290.0), cue("over_slowed", 2, 1)]
    scored = score(log, a_truth())
    assert scored.found[0].hit is None
    assert [event["fault"] for event in scored.found[0].instead] == ["over_slowed"]  # the corner shows coasting too
    assert len(scored.found[0].cues_wrong) == 1
    assert scored.false == []


def test_a_right_name_on_another_lap_or_too_far_away_finds_nothing() -> None:
    log = [fault("late_throttle", 1, 320.0), fault("late_throttle", 2, 400.0)]
    assert score(log, a_truth()).found[0].hit is None


def test_a_finding_across_the_line_is_at_its_corner() -> None:
    at_line = Fault("narrow_exit", 2, 3, 2800.0, 2990.0, 3.0, 3.0, 0.2, 60.0, ())
    assert score([fault("narrow_exit", 2, 20.0)], a_truth(faults=(at_line,))).found[0].hit is not None


def test_a_finding_at_a_clean_pass_is_a_false_alarm_unless_it_is_cheap_or_of_the_first_lap() -> None:
    log = [fault("over_slowed", 2, 2300.0), fault("coasting", 2, 2300.0, net=0.02), fault("coasting", 1, 2300.0)]
    scored = score(log, a_truth())
    assert [event["fault"] for event in scored.false] == ["over_slowed"]
    assert scored.clean == 4  # corners 2 and 3 on lap 2, 1 and 3 on lap 3


def test_near_an_odd_pass_an_incident_or_a_mistake_nothing_is_clean_or_false() -> None:
    log = [fault("over_slowed", 2, 2300.0)]
    assert score(log, a_truth(odd={(2, 3): ("coasting",)})).false == []
    assert score(log, a_truth(incidents=((2, 2000.0, 2010.0),))).false == []
    assert score([fault("over_slowed", 2, 700.0)], a_truth()).false == []
    assert list(clean_passes(a_truth(odd={(2, 3): ()}, incidents=((3, 2000.0, 2010.0),)))) == [(2, 2), (3, 1)]


def test_late_braking_may_be_called_a_missed_apex_and_is_late_after_a_second_and_a_half() -> None:
    late = Fault("late_braking", 2, 1, 200.0, 330.0, 9.0, 9.0, 0.2, 60.0, ())
    log = [fault("missed_apex", 2, 300.0, t=61.8)]
    assert score(log, a_truth(faults=(late,))).found[0].late == pytest.approx(1.8)


def test_laps_and_parts_are_held_against_the_truth() -> None:
    laps = [{"type": "lap", "lap": n, "time": time, "delta": 0.5} for n, time in ((1, 9.9), (2, 81.002))]
    loss = {"type": "loss", "lap": 2, "parts": [{"seconds": 0.2}, {"seconds": 0.2996}]}
    scored = score([*laps, loss], a_truth())
    assert scored.lap_errors == [pytest.approx(0.002), float("inf")]
    assert scored.residuals == [pytest.approx(0.0004)]


@pytest.mark.parametrize(("hits", "tries"), [(0, 10), (7, 9), (97, 100), (500, 500)])
def test_wilsons_interval_is_scipys(hits: int, tries: int) -> None:
    known = stats.binomtest(hits, tries).proportion_ci(0.95, "wilson")
    assert wilson(hits, tries) == pytest.approx((known.low, known.high), abs=1e-6)


@pytest.mark.parametrize("count", [0, 1, 8, 100])
def test_the_interval_of_a_count_is_near_the_exact_one(count: int) -> None:
    """Exact: Garwood 1936, by the chi-squared distribution (`from memory`)."""
    exact = (stats.chi2.ppf(0.025, 2 * count) / 2 if count else 0.0, stats.chi2.ppf(0.975, 2 * count + 2) / 2)
    assert poisson(count) == pytest.approx(exact, rel=0.02, abs=0.03)


def test_the_truth_finds_what_another_driver_was_made_to_do(practice: Drive, tmp_path: Path) -> None:
    """`make_stream` drives without scatter: the mistakes come out as large as planted, and nothing else is odd."""
    stream = tmp_path / "practice.jsonl.gz"
    stream.write_bytes(gzip.compress(b"".join(datagram + b"\n" for datagram in practice.datagrams()), 1))
    loop = test_loop()
    slowed = [corner for corner in loop.corners if corner.number in practice.commits and corner.number != 6]
    corners = [
        {
            "corner": c.number,
            "side": c.side,
            "brake": c.begins - 60.0,
            "turn_in": c.begins,
            "slow": c.middle,
            "exit": c.ends,
        }
        for c in slowed
    ]
    mistakes = [m.mistake for m in practice.mistakes]
    planned = [{"kind": m.kind, "lap": m.lap, "corner": m.corner, "size": m.size} for m in mistakes]
    times = {lap.lap: lap.time for lap in practice.laps}
    drive = Kept(stream, times, planned, corners, loop.length, loop.width, 8000.0)
    late, down = truth_of("practice", "steady", drive, studied(drive)).faults
    assert (late.kind, late.lap, late.corner) == ("late_throttle", 4, 1)
    assert late.size == pytest.approx(0.5, abs=0.05)  # two rows at 25 a second are 0.08 s apart
    assert late.lost > 0.1
    assert (down.kind, down.lap, down.corner) == ("early_downshift", 5, 4)
    assert down.size == pytest.approx(practice.mistakes[1].size, rel=0.1)


@pytest.mark.parametrize("make", CIRCUITS)
def test_the_circuits_close_and_keep_away_from_themselves(make: Any) -> None:
    circuit = make()
    assert np.hypot(circuit.x[-1], circuit.y[-1]) < 0.01
    every = round(10.0 / circuit.step)
    place, x, y = circuit.station[:-1:every], circuit.x[:-1:every], circuit.y[:-1:every]
    along = np.abs(place[:, None] - place)
    along = np.minimum(along, circuit.length - along)
    apart = np.hypot(x[:, None] - x, y[:, None] - y)
    assert apart[along > 80.0].min() > 2 * circuit.width


def test_mistakes_are_planted_on_even_laps_and_never_at_neighbours() -> None:
    mistakes = planted(1, 0, STEADY, 8, 3, SIZES)
    corners = list(range(1, 12))
    assert len(mistakes) > 6
    assert {mistake.lap % 2 for mistake in mistakes} == {0}
    for one in mistakes:
        others = [m.corner for m in mistakes if m.lap == one.lap and m is not one]
        assert not {(corners.index(o) - corners.index(one.corner)) % 11 for o in others} & {0, 1, 10}


def test_only_who_scatters_both_ways_brakes_behind_the_mark() -> None:
    """The car's own drivers are as they were: their scatter brakes before the mark, and off the line outwards."""
    car = BENCH_CARS[0]
    table = Table(Envelope(car, car.mass_with(25.0)))

    def late(person: Person) -> int:
        mind = Mind(circuit_at(1), table, person, [], 5)
        usual = np.array(mind.plan.speed)
        mark = int(mind.marks[1].brake / mind.plan.step)
        ahead = [np.array(mind.lap(lap).plan.speed)[mark + 2] - usual[mark + 2] for lap in range(1, 7)]
        return sum(faster > 0.1 for faster in ahead)

    assert late(replace(PERSONS["steady"], brake_spread=4.5, speed_spread=0.0)) == 0
    assert late(replace(SCATTERING, speed_spread=0.0, cornering=0.93, braking=0.88)) > 0


def test_variants_take_channels_away_and_lose_datagrams_the_same_way_each_time(tmp_path: Path) -> None:
    stream = tmp_path / "drive.jsonl.gz"
    rows = [{"t": i / 50, "speed": 10.0, "edge_left": 1.0, "edge_right": 2.0} for i in range(2000)]
    stream.write_bytes(gzip.compress(b"".join(json.dumps(row).encode() + b"\n" for row in rows)))
    bare = [json.loads(line) for line in Variant(("edges",)).lines(stream)]
    assert [row["t"] for row in bare] == [row["t"] for row in rows]
    assert all(row.keys() == {"t", "speed"} for row in bare)
    lossy = [json.loads(line)["t"] for line in Variant(loss=5.0).lines(stream)]
    assert lossy == [json.loads(line)["t"] for line in Variant(loss=5.0).lines(stream)]
    assert 0.93 < len(lossy) / len(rows) < 0.97
    assert sum(b < a for a, b in itertools.pairwise(lossy)) > 5
