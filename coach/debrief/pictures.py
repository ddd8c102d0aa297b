"""Still pictures of a session by name, as SVG text for files: light ground, no style sheet, one font."""

from __future__ import annotations

from coach.debrief.channels import draw_channels
from coach.debrief.lapstrip import draw_laps
from coach.debrief.lossmap import draw_map, land
from coach.debrief.seconds import draw_seconds, seconds_of
from coach.debrief.strips import corners_of, screen_of
from coach.engine.lap import GridLap
from coach.review.model import KeptSession
from coach.review.results import Review

WIDTH, HEIGHT = 1100.0, 760.0
"""px of the map."""


def pictures(session: KeptSession, review: Review, reference: GridLap | None = None) -> dict[str, str]:
    """Name to SVG text: map (the middle lap's line, coloured by loss), seconds, laps, channels; those there are.

    `reference`: the lap to hold against; None for the one that the session had.
    """
    found: dict[str, str] = {}
    screen = screen_of(session, reference)
    if screen is not None:
        place = land(screen, WIDTH, HEIGHT)
        found["map"] = draw_map(place, screen.strips[screen.middle], corners_of(session))
    seconds = seconds_of(session)
    if seconds is not None:
        found["seconds"] = draw_seconds(seconds)
    if any(lap.time is not None for lap in session.laps):
        found["laps"] = draw_laps(session.laps)
    if screen is not None:
        found["channels"] = draw_channels(screen, screen.shown, corners_of(session))
    return found
