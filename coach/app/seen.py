"""What one person's overlay is like: as the command line says it, then the settings, then how it was placed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from coach.app.config import Presenting
from coach.app.settings import WINDOWS, OverlaySettings, placing_file, window_file
from coach.overlay import placing
from coach.overlay.font import lacking
from coach.overlay.glance import fits
from coach.overlay.look import Look
from coach.overlay.placing import Placing
from coach.overlay.reading import MOST_WORDS
from coach.planner.playbook import Playbook


@dataclass(frozen=True, slots=True)
class Opening:
    """With what the overlay is opened. `remember`: where an ordinary window writes where it was left."""

    look: Look
    placing: Placing
    kind: WINDOWS
    remember: Path | None


def opening(options: Presenting, chosen: OverlaySettings, playbook: Playbook) -> Opening:
    """All of it. InputError for a placing's file that is not right."""
    kind = window_of(options, chosen)
    remember = window_file() if kind == "window" else None
    return Opening(look_of(options, chosen, playbook), placing_of(options, chosen), kind, remember)


def look_of(options: Presenting, chosen: OverlaySettings, playbook: Playbook) -> Look:
    """How it looks."""
    usual = Look()
    return Look(
        palette=chosen.colours.palette(),
        opacity=usual.opacity if chosen.opacity is None else chosen.opacity,
        distance=usual.distance if chosen.distance is None else chosen.distance,
        pitch=chosen.pixel,
        text=_said(options.text, chosen.text),
        times=_said(options.times, chosen.times),
        spoken=options.voice,
        words=words_of(playbook),
    )


def words_of(playbook: Playbook) -> dict[str, str]:
    """By fault, the words to read where nothing is spoken: short ones that a look takes in, in letters there are."""
    wordings = {fault: wording.short for fault, wording in playbook.language.wordings.items()}
    return {
        fault: short
        for fault, short in wordings.items()
        if len(short.split()) <= MOST_WORDS and fits(short) and not lacking(short)
    }


def window_of(options: Presenting, chosen: OverlaySettings) -> WINDOWS:
    """Which kind of window."""
    if options.window:
        return "window"
    if options.full_screen:
        return "screen"
    return chosen.window or "edge"


def placing_of(options: Presenting, chosen: OverlaySettings) -> Placing:
    """Where it stands. InputError for a file of it that is not right."""
    placed = placing.load(placing_file())
    monitor = options.monitor or chosen.monitor or placed.monitor
    return replace(placed, monitor=monitor, size=placed.size if chosen.size is None else chosen.size)


def _said(option: bool | None, setting: bool | None) -> bool:
    """The first that says something; True where none does."""
    return next((one for one in (option, setting) if one is not None), True)
