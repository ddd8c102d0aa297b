"""Invented circuits beside the built-in one, of other shapes, widths and ways round. The bends are `(choice)`."""

from __future__ import annotations

import math
from collections.abc import Callable

from feeds.car.circuit import Bend, Circuit, Straight, Wave, brack_mere


def _turn(degrees: float, radius: float, radius_out: float | None = None, ramp: float = 20.0) -> Bend:
    return Bend(math.radians(degrees), radius, radius_out, ramp=ramp)


def nettle_hollow() -> Circuit:
    """Clockwise, tight and twisty, with linked runs; 9 m wide."""
    return Circuit(
        "Nettle Hollow",
        [
            Straight(160.0),
            _turn(-95, 28.0),
            Straight(45.0),
            _turn(80, 26.0, ramp=14.0),
            Straight(20.0),
            _turn(-75, 24.0, ramp=14.0),
            Straight(150.0, fit=True),
            _turn(-110, 21.0, ramp=14.0),
            Straight(75.0),
            _turn(60, 33.0),
            Straight(30.0),
            _turn(-70, 30.0),
            Straight(110.0),
            _turn(95, 25.0, 40.0),
            Straight(60.0),
            _turn(-85, 36.0, 26.0),
            Straight(130.0),
            _turn(-160, 18.0, ramp=14.0),
            Straight(85.0),
            _turn(75, 38.0),
            Straight(95.0),
            _turn(-75, 32.0),
            Straight(180.0, fit=True),
        ],
        width=9.0,
        hills=(Wave(3.0, 2, 1.0),),
    )


def sallow_rise() -> Circuit:
    """Anticlockwise, fast and flowing; 13 m wide."""
    return Circuit(
        "Sallow Rise",
        [
            Straight(90.0),
            _turn(70, 110.0, ramp=35.0),
            Straight(140.0),
            _turn(95, 70.0, ramp=30.0),
            Straight(200.0, fit=True),
            _turn(-75, 75.0, ramp=30.0),
            Straight(160.0),
            _turn(80, 140.0, 80.0, ramp=35.0),
            Straight(160.0),
            _turn(90, 85.0, 130.0, ramp=30.0),
            Straight(500.0, fit=True),
            _turn(-40, 160.0, ramp=35.0),
            Straight(90.0),
            _turn(120, 62.0, ramp=30.0),
            Straight(200.0),
            _turn(75, 95.0, ramp=30.0),
            Straight(90.0),
            _turn(-55, 130.0, ramp=35.0),
            Straight(150.0),
        ],
        width=13.0,
        hills=(Wave(7.0, 1, 2.0), Wave(2.0, 4, 0.5)),
    )


def long_fallow() -> Circuit:
    """Clockwise, long straights between hairpins and slow corners; 14 m wide."""
    return Circuit(
        "Long Fallow",
        [
            Straight(420.0),
            _turn(-88, 24.0),
            Straight(310.0),
            _turn(-150, 22.0, ramp=30.0),
            Straight(260.0),
            _turn(118, 26.0),
            Straight(380.0, fit=True),
            _turn(-80, 27.0),
            Straight(170.0),
            _turn(75, 28.0),
            Straight(240.0),
            _turn(-165, 19.0, ramp=15.0),
            Straight(350.0),
            _turn(75, 28.0),
            Straight(150.0),
            _turn(-145, 30.0),
            Straight(400.0, fit=True),
        ],
        width=14.0,
    )


def ember_cross() -> Circuit:
    """Anticlockwise, of everything something; 10 m wide."""
    return Circuit(
        "Ember Cross",
        [
            Straight(200.0),
            _turn(100, 45.0),
            Straight(140.0),
            _turn(-70, 30.0),
            Straight(15.0),
            _turn(75, 30.0),
            Straight(230.0, fit=True),
            _turn(150, 20.0, ramp=15.0),
            Straight(120.0),
            _turn(-110, 60.0, 35.0),
            Straight(160.0),
            _turn(85, 80.0),
            Straight(130.0),
            _turn(-60, 50.0),
            Straight(90.0),
            _turn(95, 34.0),
            Straight(150.0),
            _turn(95, 55.0, 90.0),
            Straight(240.0, fit=True),
        ],
        width=10.0,
        hills=(Wave(4.0, 2, 0.0), Wave(1.5, 5, 1.2)),
    )


CIRCUITS: tuple[Callable[[], Circuit], ...] = (brack_mere, nettle_hollow, sallow_rise, long_fallow, ember_cross)
"""The circuits of the bench; a job names one by its place here."""
