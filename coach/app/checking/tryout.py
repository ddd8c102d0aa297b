"""Tries sound and window as a drive would open them, and says how that went."""

from __future__ import annotations

import time
from contextlib import closing

from coach.app import seen
from coach.app.aloud import said
from coach.app.config import Presenting
from coach.app.settings import Settings
from coach.app.stage import opened_voice
from coach.app.stop import Stop
from coach.planner import rules
from coach.planner.phrases import Phrases
from coach.planner.playbook import Playbook
from coach.vocabulary.errors import InputError, WorkError
from voice import lengths

PAUSE = 0.6
"""s for a device to begin, and to end (choice)."""
SHOWN = 1.5
"""s that the overlay is shown: long enough to be found on the screen (choice)."""
NOT_MEASURED = (*lengths.names(), lengths.ESTIMATED)
"""Names of tables that no voice was measured for here: where its table has one of these, nothing could be rendered."""


def sound(options: Presenting, chosen: Settings, playbook: Playbook, stop: Stop) -> tuple[bool, str]:
    """Says one phrase; whether it could, and the line that says so, or why not."""
    told: list[str] = []
    text = next(iter(Phrases(playbook).anywhere()))
    try:
        with closing(opened_voice(options, chosen.voice, playbook, [text], told.append, stop)) as voice:
            while not voice.wait(PAUSE) and not stop.asked:
                pass
            table = voice.table
            if not voice.is_silent and table.name not in NOT_MEASURED:
                voice.take(said(text))
                stop.sleep(table.lengths.get(text, rules.LONGEST) + PAUSE)
            failed = voice.is_silent or table.name in NOT_MEASURED
    except InputError as error:
        return False, str(error)
    if failed:
        why = told[-1].removeprefix("voice: ") if told else "no sound device: connect one"
        return False, f"no voice: {why}"
    return True, f'"{text}" was spoken just now; not heard? See to volume and sound device'


def window(options: Presenting, chosen: Settings, playbook: Playbook, stop: Stop) -> tuple[bool, str]:
    """Shows the overlay for a moment; whether it could, and the line that says so, or why not.

    On the process's first thread.
    """
    told: list[str] = []
    try:
        opening = seen.opening(options, chosen.overlay, playbook)
        from coach.overlay.overlay import open_overlay  # a pygame that cannot be loaded costs the overlay alone

        overlay = open_overlay(told.append, opening.look, opening.placing, opening.kind, opening.remember)
        until = time.monotonic() + SHOWN
        overlay.run(lambda: stop.asked or time.monotonic() >= until)
    except (WorkError, InputError) as error:
        return False, str(error)
    if told:
        return False, "; ".join(told)
    return True, "the overlay was shown just now; not seen? Place it with cornerword place"
