"""Which detectors are on, and that each says once what it lacks."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coach.engine.detectors import EITHER, Detectors
from coach.engine.faults import FAMILIES, WATCHES
from coach.vocabulary.events import Detector
from coach.vocabulary.faults import FAULTS
from coach.vocabulary.sample import CHANNELS, Sample
from tests.engine.drives import drive, only, run, samples, told
from tests.make_stream import without

WITHOUT_SPEED = ("speed", "vx", "vy", "x", "y", "lap_distance")
"""Speed is read from velocity, else from the way driven: only without these it is absent."""


def heard(stream: list[Sample]) -> list[tuple[float, str, bool, str | None]]:
    return [(d.t, d.name, d.on, d.lacks) for d in only(run(stream), Detector)]


@pytest.fixture
def plain() -> list[Sample]:
    return list(told(2, 25.0)[:500])


def test_families_judge_faults_of_the_contract_by_channels_of_the_contract() -> None:
    faults = [fault for judge in (*FAMILIES, *WATCHES) for fault in judge.faults]
    assert sorted(faults) == sorted(FAULTS), "each fault of the contract has one judge"
    assert {need for judge in (*FAMILIES, *WATCHES) for need in judge.needs} <= {*CHANNELS, *EITHER}


def test_a_source_that_sends_all_hears_nothing(plain: list[Sample]) -> None:
    assert heard(plain) == []


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.name)
def test_a_family_without_a_channel_is_off_and_says_so_once(plain: list[Sample], family: object) -> None:
    for channel in family.needs:  # type: ignore[attr-defined]
        if channel == "position":
            continue
        groups = EITHER.get(channel, ((channel,),))
        gone = WITHOUT_SPEED if channel == "speed" else tuple(name for group in groups for name in group)
        told_ = heard([replace(s, **dict.fromkeys(gone)) for s in plain])  # type: ignore[arg-type]
        mine = [d for d in told_ if d[1] in family.faults]  # type: ignore[attr-defined]
        assert [(name, on) for _, name, on, _ in mine] == [(f, False) for f in family.faults]  # type: ignore[attr-defined]
        assert all(t == pytest.approx(2.0, abs=0.05) for t, *_ in mine), "after two seconds of listening"
        known = (EITHER.get(need, ((need,),)) for need in family.needs)  # type: ignore[attr-defined]
        assert {lacks for *_, lacks in mine} <= {
            ", or ".join(" and ".join(group) for group in groups) for groups in known
        }


def test_a_channel_that_comes_later_switches_on(plain: list[Sample]) -> None:
    told_ = heard([replace(s, throttle=None if s.t < 6.0 else s.throttle) for s in plain])
    throttle = [(t, on, lacks) for t, name, on, lacks in told_ if name == "late_throttle"]
    assert [(on, lacks) for _, on, lacks in throttle] == [(False, "throttle"), (True, None)]
    assert throttle[1][0] == pytest.approx(6.0, abs=0.05)


def test_a_channel_that_comes_within_the_listening_is_no_news(plain: list[Sample]) -> None:
    assert heard([replace(s, throttle=None if s.t < 1.9 else s.throttle) for s in plain]) == []


def test_nothing_is_off_because_a_channel_is_absent_now_and_then(plain: list[Sample]) -> None:
    assert heard([replace(s, throttle=None if i % 3 else s.throttle) for i, s in enumerate(plain)]) == []


def test_an_aid_that_shifts_for_the_driver_switches_the_gearbox_off(plain: list[Sample]) -> None:
    told_ = heard([replace(s, assists=("gearbox",) if 4.0 <= s.t < 8.0 else ()) for s in plain])
    downshift = [(round(t), on, lacks) for t, name, on, lacks in told_ if name == "early_downshift"]
    assert downshift == [(4, False, "gearbox (assist)"), (8, True, None)]


def test_aids_in_another_order_or_of_another_kind_are_no_news(plain: list[Sample]) -> None:
    """What the clutch and the shown line do takes nothing off the driver's judgement that is judged here."""
    sets = [("clutch", "line"), ("line", "clutch"), ("line",)]
    assert heard([replace(s, assists=sets[i % 3]) for i, s in enumerate(plain)]) == []


@pytest.mark.parametrize(
    ("aid", "off"),
    [
        ("abs", ["lock_up"]),
        ("traction", ["wheelspin"]),
        ("gearbox", ["early_downshift", "early_upshift", "late_upshift"]),
    ],
)
def test_an_aid_switches_off_what_it_does_for_the_driver(plain: list[Sample], aid: str, off: list[str]) -> None:
    told_ = heard([replace(s, assists=("line", aid)) for s in plain])
    assert sorted((name, on, lacks) for _, name, on, lacks in told_) == [(n, False, f"{aid} (assist)") for n in off]


EDGES = ("edge_left", "edge_right", "on_track", "lap_valid")


@pytest.mark.parametrize(
    ("without_", "off"),
    [
        (EDGES, {"off_track": "edge_left, or edge_right, or on_track, or lap_valid"}),
        (("edge_left", "on_track", "lap_valid"), {}),
        (("edge_left", "edge_right", "lap_valid"), {}),
        (("vx", "vy"), {}),
        (("ay",), {}),
        (("vx", "vy", "ay"), dict.fromkeys(("rear_step_out", "spin"), "vx and vy, or ay")),
        (("vy", "ay"), dict.fromkeys(("rear_step_out", "spin"), "vx and vy, or ay")),
        (("yaw_rate",), dict.fromkeys(("rear_step_out", "spin"), "yaw_rate")),
    ],
)
def test_slides_and_excursions_are_seen_by_what_is_there(
    plain: list[Sample], without_: tuple[str, ...], off: dict[str, str]
) -> None:
    sent = [replace(s, on_track=True, lap_valid=True) for s in plain]
    told_ = heard([replace(s, **dict.fromkeys(without_)) for s in sent])  # type: ignore[arg-type]
    followed = ("off_track", "rear_step_out", "spin")
    assert {name: lacks for _, name, on, lacks in told_ if name in followed and not on} == off


def test_a_stream_too_short_to_listen_says_it_at_its_end() -> None:
    stream = [Sample(0.1 * i, speed=3.0) for i in range(5)]
    told_ = heard(stream)
    assert ("position", False) in [(name, on) for _, name, on, _ in told_]
    assert all(t == pytest.approx(0.4) for t, *_ in told_)


def test_each_is_told_once_however_the_stream_goes_on() -> None:
    rows = without(drive(2, 25.0).rows[:1500], "gear", "throttle")
    stream = samples(rows)
    again = stream + [replace(s, t=s.t - 30.0) for s in stream[800:]]
    names = [name for _, name, _, _ in heard(again)]
    assert len(names) == len(set(names)) and names


def test_families_that_are_on_are_in_the_order_of_the_list() -> None:
    detectors = Detectors()
    assert detectors.families == list(FAMILIES)
    for i in range(200):
        detectors.watch(Sample(0.02 * i, speed=1.0, lap_distance=0.0), 0)
    assert detectors.families == [f for f in FAMILIES if not set(f.needs) - {"speed", "position"}]
