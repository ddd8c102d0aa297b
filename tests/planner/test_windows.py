from dataclasses import replace
from math import nan

import pytest

from coach.planner.windows import Windows, usable
from tests.planner.made_circuit import PARTS, Part, braking, lap_trace, leaving, turning

TURN = (braking(60), turning(80), leaving(40))


def places(windows: Windows) -> list[tuple[float, float]]:
    return [(stretch.start, stretch.end) for stretch in windows.stretches]


def test_the_made_circuit_has_three_quiet_stretches_one_over_the_line() -> None:
    assert places(Windows(lap_trace())) == [(600.0, 898.0), (1060.0, 1098.0), (1240.0, 2398.0)]


def test_a_stretch_is_found_on_both_sides_of_the_line_and_on_any_lap() -> None:
    windows = Windows(lap_trace())
    assert windows.at(1990.0) is windows.at(10.0) is windows.at(2010.0) is windows.stretches[2]
    assert windows.at(500.0) is None
    assert windows.at(1000.0) is None


def test_lateral_bound_is_a_share_of_the_greatest_that_one_noisy_sample_does_not_raise() -> None:
    trace = lap_trace()
    assert Windows(trace).bound == pytest.approx(0.45 * 20.0)
    trace.lateral[300] = 500.0
    assert Windows(trace).bound == pytest.approx(0.45 * 20.0)


def test_a_bend_taken_flat_out_ends_the_quiet_when_it_loads_the_car() -> None:
    parts = (*TURN, Part(200, 50.0), Part(60, 50.0, lateral=9.5), Part(200, 50.0))
    assert places(Windows(lap_trace(parts))) == [(180.0, 378.0), (440.0, 638.0)]
    parts = (*TURN, Part(200, 50.0), Part(60, 50.0, lateral=8.5), Part(200, 50.0))
    assert places(Windows(lap_trace(parts))) == [(180.0, 638.0)]


@pytest.mark.parametrize(("throttle", "split"), [(0.81, False), (0.79, True)])
def test_a_lift_below_four_fifths_ends_the_quiet(throttle: float, split: bool) -> None:
    parts = (*TURN, Part(200, 50.0), Part(40, 50.0, throttle=throttle), Part(200, 50.0))
    assert (len(Windows(lap_trace(parts)).stretches) == 2) is split


def test_the_cut_of_a_gear_change_ends_nothing_but_the_same_dip_under_brakes_does() -> None:
    cut = (*TURN, Part(200, 50.0), Part(6, 50.0, throttle=0.1), Part(200, 50.0))
    assert places(Windows(lap_trace(cut))) == [(180.0, 584.0)]
    brushed = (*TURN, Part(200, 50.0), Part(6, 50.0, throttle=0.1, brake=0.2), Part(200, 50.0))
    assert len(Windows(lap_trace(brushed)).stretches) == 2


def test_a_cut_on_the_line_itself_is_bridged() -> None:
    parts = (Part(4, 50.0, throttle=0.2), Part(100, 50.0), *TURN, Part(200, 50.0), Part(4, 50.0, throttle=0.2))
    assert places(Windows(lap_trace(parts))) == [(284.0, 590.0)]


def test_seconds_are_the_references_and_go_on_over_the_line() -> None:
    windows = Windows(lap_trace())
    assert windows.seconds(600.0, 690.0) == pytest.approx(90 / 45)
    assert windows.seconds(1945.0, 2060.0) == pytest.approx(55 / 55 + 60 / 60)
    assert windows.seconds(60.0, 0.0) == pytest.approx(windows.lap_time - 1.0)


def test_a_lap_that_is_quiet_all_round_is_cut_in_two_so_that_each_stretch_has_an_end() -> None:
    assert places(Windows(lap_trace([Part(400, 50.0)]))) == [(0.0, 200.0), (200.0, 400.0)]


def test_a_lap_without_quiet_has_no_room() -> None:
    windows = Windows(lap_trace([turning(400)]))
    assert windows.stretches == []
    assert windows.at(100.0) is None


def test_values_that_are_not_known_are_never_quiet() -> None:
    trace = lap_trace()
    trace.throttle[340:350] = [nan] * 10
    trace.brake[360] = trace.lateral[370] = nan
    windows = Windows(trace)
    assert [windows.at(place) for place in (690.0, 720.0, 740.0)] == [None] * 3
    assert windows.at(710.0) is not None
    assert windows.bound == pytest.approx(9.0)


def test_a_lap_without_lateral_acceleration_has_no_bound() -> None:
    windows = Windows(lap_trace([replace(part, lateral=0.0) for part in PARTS]))
    assert windows.bound is None
    assert windows.at(700.0) is not None
    assert windows.at(420.0) is None


def test_a_trace_that_holds_no_lap_is_not_usable() -> None:
    trace = lap_trace()
    assert usable(trace)
    assert not usable(replace(trace, length=0.0))
    assert not usable(replace(trace, time=[], speed=[], throttle=[], brake=[], lateral=[]))
    assert not usable(replace(trace, brake=trace.brake[:-1]))
