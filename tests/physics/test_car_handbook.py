"""The built-in car against the handbook: every case in `car_cases.py`, with its source there."""

from __future__ import annotations

import pytest

from tests.physics.car_cases import CASES, Case


@pytest.mark.parametrize("case", CASES, ids=str)
def test_the_car_gives_the_handbook_value(case: Case) -> None:
    assert case.run() == pytest.approx(case.handbook, rel=case.within / 100.0), case.source
