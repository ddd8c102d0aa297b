"""Who drives: how much of the grip and the road a driver uses, and how much one lap differs from the next."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Person:
    """One kind of driver. Spreads are standard deviations from lap to lap at one corner."""

    name: str
    cornering: float
    """shares of the car's cornering, braking and driving forces that are used"""
    braking: float
    driving: float
    mixing: float
    """how much of them beside cornering: see `Use`"""
    room: float
    """m between the car's side and the edges that its line keeps"""
    speed_spread: float
    """of the cornering speed"""
    brake_spread: float
    """m of the brake point; only before the mark"""
    line_spread: float
    """m across the road"""
    pickup_spread: float
    """s, the throttle's place; only behind the mark"""
    shift_spread: float
    """rev/min"""
    shift_down: float
    """of the engine's limit: what the lower gear may need"""
    both_ways: bool = False
    """brake points scatter behind the mark too, and the line all through the bend and inwards as much as outwards"""
    rolls_in: bool = False
    """who coasts does so between the brake and the throttle, not before the brake"""
    sure: float = 0.6
    """s of power before a foot is lifted again: so long that it was meant"""


PERSONS: dict[str, Person] = {
    person.name: person
    for person in (
        Person("steady", 0.93, 0.88, 0.88, 1.3, 0.45, 0.004, 1.2, 0.10, 0.025, 40.0, 0.86),
        Person("beginner", 0.84, 0.74, 0.75, 1.0, 0.90, 0.012, 4.0, 0.25, 0.08, 120.0, 0.84),
    )
}
"""Drivers by name."""
