"""What was said in a session, and whether it helped: how often the fault came up before, and since. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from coach.review.model import ALOUD, KeptSession
from coach.review.results import BETTER, MENDED, UNKNOWN, Said
from coach.review.tally import Pass, Share, Tally
from coach.review.things import LEAST, compared
from coach.vocabulary.events import Cue

FEWEST = 2
"""passes before, the one that it was said of among them (choice)."""

Key = tuple[str, str | None, int | None]
"""Words, fault and corner."""


def said(session: KeptSession) -> list[Said]:
    """Each cue's words, those said most often first. What tells nothing to do (praise, status) has no verdict.

    Before counts the passes up to the first time it was said, the one that it was said of among them.
    """
    tally = Tally(session)
    groups: dict[Key, list[tuple[int | None, Cue]]] = defaultdict(list)
    for lap in session.laps:
        _group(groups, lap.index, lap.cues)
    _group(groups, None, session.loose_cues)
    made = [_said(key, cues, tally) for key, cues in groups.items()]
    return sorted(made, key=lambda one: (-one.times, one.text, -1 if one.corner is None else one.corner))


def _group(groups: dict[Key, list[tuple[int | None, Cue]]], lap: int | None, cues: Iterable[Cue]) -> None:
    for cue in cues:
        if cue.spoken:
            groups[cue.text, cue.about, _corner(cue)].append((lap, cue))


def _corner(cue: Cue) -> int | None:
    """The one corner that it speaks of; None where it speaks of several, or of none."""
    corners = {one.corner for one in cue.of} or {cue.corner}
    return corners.pop() if len(corners) == 1 else None


def _said(key: Key, cues: list[tuple[int | None, Cue]], tally: Tally) -> Said:
    text, about, corner = key
    laps = tuple(dict.fromkeys(cue.lap for _, cue in cues))
    tells = about is not None and any(cue.kind in ALOUD for _, cue in cues)
    if about is None or not tells:
        return Said(text, about, corner, len(cues), laps, None, None, UNKNOWN)
    lap, first = cues[0]
    corners = {one.corner for _, cue in cues for one in cue.of} or {corner}
    passes = [p for place in corners for p in tally.passes(place)]
    before = _share(about, (p for p in passes if _is_before(p, lap, first.t)))
    after = _share(about, (p for p in passes if not _is_before(p, lap, first.t)))
    verdict, _ = compared(before, after)
    enough = before.passes >= FEWEST and after.passes >= LEAST
    if not enough or (before.hits == 1 and verdict in (MENDED, BETTER)):
        verdict = UNKNOWN  # it was said of the only time: that it came up less since tells nothing
    return Said(
        text=text,
        about=about,
        corner=corner,
        times=len(cues),
        laps=laps,
        before=before.share if enough else None,
        after=after.share if enough else None,
        verdict=verdict,
    )


def _is_before(p: Pass, lap: int | None, t: float) -> bool:
    """Whether the pass was over when something was said in the lap at place `lap` at `t`, s."""
    if p.lap != lap:
        return lap is None or (p.lap is not None and p.lap < lap)
    return p.t <= t


def _share(fault: str, passes: Iterable[Pass]) -> Share:
    told = [shown for p in passes if (shown := p.shows(fault)) is not None]
    return Share(sum(told), len(told))
