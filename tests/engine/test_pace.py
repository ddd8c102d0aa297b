"""The day's common pace: the median share that is lost wherever one looks."""

from __future__ import annotations

from statistics import median

import pytest

from coach.engine.pace import ENOUGH, PASSES, CommonPace
from tests.engine.cornering import passed, usual_legs


def paced(*shares: float, target: float = 10.0) -> CommonPace:
    pace = CommonPace()
    for share in shares:
        pace.add(share * target, target)
    return pace


def test_a_handful_of_passes_first() -> None:
    for count in range(ENOUGH):
        assert paced(*[0.02] * count).share() == 0.0
    assert paced(*[0.02] * ENOUGH).share() == pytest.approx(0.02)


@pytest.mark.parametrize("count", [4, 5, 8, 11, 12])
def test_against_the_standard_librarys_median(count: int) -> None:
    shares = [0.001 * ((7 * i) % 13) for i in range(count)]
    assert paced(*shares).share() == pytest.approx(median(shares))


def test_it_is_a_share_of_the_time_that_the_road_should_take() -> None:
    pace = CommonPace()
    for target in (4.0, 8.0, 12.0, 20.0):
        pace.add(0.01 * target, target)
    assert pace.share() == pytest.approx(0.01)
    pace.add(5.0, 0.0)
    assert pace.share() == pytest.approx(0.01), "a stretch without a target says nothing"


def test_faults_in_some_corners_are_not_the_day() -> None:
    # Five of twelve passes lose a tenth of their time; the others lose nothing.
    assert paced(*[0.0, 0.1, 0.0, 0.1] * 2, 0.1, 0.0, 0.0, 0.0).share() == 0.0
    assert paced(*[0.02] * 8, *[0.3] * 4).share() == pytest.approx(0.02)


def test_a_day_that_is_quicker_excuses_nothing_and_demands_nothing() -> None:
    assert paced(*[-0.03] * 12).share() == 0.0


def test_the_last_lap_counts() -> None:
    pace = paced(*[0.05] * 30, *[0.0] * (PASSES // 2 + 1))
    assert pace.share() == 0.0


def test_what_is_lost_beyond_it_is_the_corners() -> None:
    p = passed(usual_legs())
    assert p.losses is not None
    slow = p.losses.target_of(("exit", "straight"))
    assert p.beyond(("exit", "straight")) == pytest.approx(p.losses.of(("exit", "straight")))
    p.pace = 0.02
    assert p.beyond(("exit", "straight")) == pytest.approx(p.losses.of(("exit", "straight")) - 0.02 * slow)
