"""The one way in: a voice that is ready to speak, or the best that this machine can do in its place."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path

import platformdirs

from coach.vocabulary.errors import InputError, WorkError
from voice import bank, lengths
from voice.bank import Bank
from voice.planned import planned
from voice.player import Player
from voice.render import Interrupted, Progress, Renderer, Stopped
from voice.supply import Supply
from voice.voice import MakePlayer, Voice

RATE = 175
"""words a minute (1.30: 156 was rated right, 150 to 180 all understood; the shipped table's)."""
PATIENCE = 3.0
"""s that the start waits for the sound device, once the phrases are there; it may come later."""

Tell = Callable[[str], None]


def cache_folder() -> Path:
    """Where phrases are kept if nothing else is said: in the user's own cache folder."""
    return platformdirs.user_cache_path("cornerword", appauthor=False) / "voice"


def open_voice(
    phrases: Iterable[str],
    *,
    later: Iterable[str] = (),
    tell: Tell,
    voice: str | None = None,
    rate: int = RATE,
    volume: float = 1.0,
    device: str | None = None,
    cache: Path | None = None,
    diagnostics: Path | None = None,
    progress: Progress | None = None,
    stopped: Stopped | None = None,
    player: MakePlayer | None = None,
    renderer: Callable[[int, Path], Renderer] = Renderer,
) -> Voice:
    """A voice for these phrases; close it at the end.

    It waits until the phrases are there: about two seconds for 150 that were never rendered, under one for those that
    were. What else is wanted of the voice later is rendered beside the drive; the lengths of phrases that
    may come `later` are estimated. `progress` hears (done, total) meanwhile, `stopped` is asked whether to give up.
    `voice`: one of the synthesiser's, None for its default: espeak-ng's en-us on Linux, else the system's English
    voice. `device`: a sound device by its name or a part of it, None for the system's own. `tell` takes a line where
    there is no sound device or no speech; the voice that is returned does what it can, maybe nothing.

    Raises InputError for a voice, rate or volume that there is not, or a `diagnostics` file that holds something else,
    KeyboardInterrupt where `stopped`.
    """
    if not 0.0 <= volume <= 1.0:
        raise InputError(f"volume: {volume:g}; choose from 0 to 1")
    make = player or partial(Player, device=device)
    folder = cache_folder() if cache is None else cache
    opened = Voice(volume, tell, diagnostics, make, lengths.for_voice(voice))
    asked = stopped or _never
    try:
        try:
            found = bank.build(
                phrases,
                voice,
                rate,
                folder,
                tell,
                progress or _unheard,
                lambda: asked() or opened.is_silent,
                renderer,
            )
        except Interrupted:
            if asked():
                raise KeyboardInterrupt from None
            return opened  # there is no sound device: nothing needs to be rendered
        except WorkError as error:
            tell(f"voice: no speech ({error}): short tones stand in for words")
            return opened
        _tell_missing(found, tell)
        opened.wait(PATIENCE)
        if found.seconds and not opened.is_silent:
            opened.use(found, Supply(found, folder, renderer, opened.wake, tell), planned(found, later))
        return opened
    except BaseException:
        opened.close(0.0)
        raise


def _tell_missing(found: Bank, tell: Tell) -> None:
    if found.missing:
        why = next(iter(found.missing.values()))
        total = len(found.missing) + len(found.seconds)
        tell(f"voice: {len(found.missing)} of {total} phrases could not be rendered ({why}): tones stand in for them")


def _never() -> bool:
    return False


def _unheard(done: int, total: int) -> None:
    return None
