"""Which laps count in a row, and what ends one."""

from __future__ import annotations

import pytest

from coach.practice.driven import Driven
from coach.practice.laps import CLEAN, NEITHER, SPOILT, kind_of
from coach.vocabulary.events import Fault, Stores
from tests.practice.laps_made import drive


@pytest.mark.parametrize(
    ("time", "clean", "why_not", "kind"),
    [
        (90.0, True, (), CLEAN),
        (90.0, False, ("off_track",), SPOILT),
        (90.0, False, ("cut",), SPOILT),
        (None, False, ("spin", "reset"), SPOILT),
        (90.0, False, ("out_lap", "off_track"), SPOILT),
        (None, False, ("reset",), NEITHER),
        (None, False, ("gap",), NEITHER),
        (95.0, False, ("standing_start",), NEITHER),
        (95.0, False, ("out_lap",), NEITHER),
        (95.0, False, ("in_lap", "pit"), NEITHER),
        (0.0, True, (), CLEAN),
        (90.0, False, ("something new",), SPOILT),
    ],
)
def test_a_lap_counts_by_what_went_wrong_in_it(
    time: float | None, clean: bool, why_not: tuple[str, ...], kind: str
) -> None:
    """The reasons are the contract's; a driver's own mistake goes before the rest."""
    assert kind_of(time, clean, why_not) == kind


def test_a_stop_in_the_pits_interrupts_a_row_and_does_not_end_it() -> None:
    driven = Driven()
    drive(driven, 3)
    drive(driven, 1, clean=False, why_not=("in_lap", "pit"))
    drive(driven, 1, clean=False, why_not=("out_lap",))
    drive(driven, 1)
    assert driven.row.count == 4
    drive(driven, 1, clean=False, why_not=("off_track",))
    assert driven.row.count == 0


def test_an_incident_ends_a_row_though_its_lap_is_given_up() -> None:
    driven = Driven()
    drive(driven, 4)
    driven.found(Fault(0.0, 5, "narrow_exit", 1, 100.0))
    assert driven.row.count == 4
    driven.found(Fault(0.0, 5, "spin", 1, 100.0))
    driven.new_run()
    assert driven.row.count == 0


def test_what_was_driven_of_a_lap_that_is_given_up_counts_nowhere() -> None:
    driven = Driven()
    drive(driven, 1, off=(1.0,))
    driven.passed(driven.passes(1)[0])
    driven.new_run()
    drive(driven, 1)
    assert len(driven.passes(1)) == 6
    assert driven.row.count == 2


def test_a_row_is_too_short_to_tell_or_broken() -> None:
    driven = Driven()
    drive(driven, 3)
    assert driven.row.is_early(5)
    drive(driven, 1, clean=False, why_not=("pit",))
    drive(driven, 1, clean=False, why_not=("cut",))
    assert driven.row.is_early(5) and not driven.row.is_early(4)
    drive(driven, 1)
    assert not driven.row.is_early(5)


def test_a_stint_ends_in_the_pits_and_at_every_spoilt_lap() -> None:
    driven = Driven()
    drive(driven, 1, time=97.0, clean=False, why_not=("standing_start",))
    drive(driven, 3)
    assert len(driven.stint()) == 4
    drive(driven, 1, clean=False, why_not=("in_lap",))
    assert len(driven.stint()) == 4, "in the pits it is still the one to look at"
    drive(driven, 2)
    assert len(driven.stint()) == 2
    drive(driven, 1, clean=False, why_not=("spin",))
    driven.new_run()
    assert len(driven.stint()) == 2
    drive(driven, 1)
    assert len(driven.stint()) == 1


def test_how_many_laps_there_are_is_known_from_those_left_or_from_the_time() -> None:
    driven = Driven()
    driven.stores(Stores(0.0, 1, None, 15.0, None))
    drive(driven, 1)
    driven.stores(Stores(0.0, 2, None, 14.0, None))
    assert (driven.length, driven.laps_left) == (15, 14)
    by_time = Driven()
    by_time.stores(Stores(0.0, 1, None, None, 1800.0))
    assert by_time.length is None
    drive(by_time, 2)
    by_time.stores(Stores(0.0, 2, None, None, 1620.0))
    assert by_time.length == 20


@pytest.mark.parametrize("left", [float("nan"), float("inf"), -1.0, 0.0, 1e9])
def test_a_number_of_laps_left_that_is_none_is_none(left: float) -> None:
    driven = Driven()
    drive(driven, 1)
    driven.stores(Stores(0.0, 1, 10.0, left, None))
    driven.stores(Stores(0.0, 1, 10.0, None, left))
    assert driven.laps_left is None
