"""The things to do next time, from what the data says is weak; and how those of the last time fared. Pure.

What a fault at one corner is worth is what it cost in all, over the laps that were judged: s a lap. Over the passes of
that one corner it would be dearer where few of them were judged, after an off or behind another car. So a habit counts
each time, a one-off once, and a spin by what its lap lost. The dearest first, few at a time: common practice in
coaching.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from coach.review.chance import fisher
from coach.review.costs import GIVEN_UP, is_incident
from coach.review.model import KeptSession
from coach.review.results import BETTER, MENDED, SAME, UNKNOWN, WORSE, Outcome, Thing
from coach.review.tally import Pass, Share, Tally
from coach.review.words import passes_words, place_words, plain_fault
from coach.vocabulary.events import Fault
from coach.vocabulary.faults import FAULTS, NET_SPOKEN

WORTH = 0.01
"""s a lap under which it is nothing to work on: a tenth of a second in ten laps (choice)."""
LEAST = 3
"""passes that tell, under which a share says nothing (choice)."""
LUCK = 0.2
"""of the chance that a change is luck, over which it is called none (choice: a session has few passes, and a verdict
that is wrong once in five is mended by the next session)."""
HALF = 0.5
"""of the seconds each time: where it comes up as often, what halves is better, what doubles is worse (choice)."""


def things(session: KeptSession, most: int = 3) -> list[Thing]:
    """The `most` dearest pairs of fault and corner, the dearest first; fewer where fewer are worth it.

    What costs nothing that can be seen but hurts sooner or later (a locked wheel) fills the list, where it is a habit.
    """
    tally = Tally(session)
    made = [_thing(fault, corner, tally, session) for fault, corner in tally.pairs]
    dear = [thing for thing in made if thing.seconds >= WORTH and thing.total >= NET_SPOKEN * thing.times > 0.0]
    rest = [thing for thing in made if thing not in dear and thing.times >= 2 and _hurts(thing.fault)]
    dear.sort(key=_order)
    rest.sort(key=lambda thing: (-thing.times, *_order(thing)))
    return (dear + rest)[:most]


def fared(told: Sequence[Thing], session: KeptSession) -> list[Outcome]:
    """How things that were told before fared in this session, in their order."""
    tally = Tally(session)
    return [_outcome(thing, tally) for thing in told]


def compared(before: Share, after: Share) -> tuple[str, float | None]:
    """What became of a share, of VERDICTS, and the chance that as clear a change is luck, None where it is not known.

    Mended: it came up no more, and that is hardly luck. Where it came up no more and may be luck, nobody knows: what is
    told of is what came up often, which by luck alone is rarer the next time (regression to the mean).
    """
    if before.passes < 1 or after.passes < LEAST:
        return UNKNOWN, None
    chance = fisher(before.hits, before.passes, after.hits, after.passes)
    was, now = before.hits / before.passes, after.hits / after.passes
    if after.hits == 0 and before.hits > 0:
        return (MENDED if chance <= LUCK else UNKNOWN), chance
    if chance > LUCK or was == now:
        return SAME, chance
    return (BETTER if now < was else WORSE), chance


def luck_words(chance: float) -> str:
    """How sure that is: "by luck alone 1 time in 20"."""
    if chance > 0.5:
        return "that may well be luck"
    if chance < 0.001:
        return "by luck alone less than 1 time in 1000"
    return f"by luck alone 1 time in {max(2, round(1.0 / chance))}"


def worth_of(fault: str, corner: int | None, tally: Tally) -> tuple[float, float]:
    """s in all, and s a lap over the laps that were judged."""
    total = sum(tally.costs.of(found) for _, found in tally.found(fault, corner))
    return total, total / max(1, tally.laps, tally.share(fault, corner).hits)


def _thing(fault: str, corner: int | None, tally: Tally, session: KeptSession) -> Thing:
    found = list(tally.found(fault, corner))
    share = tally.share(fault, corner)
    total, seconds = worth_of(fault, corner, tally)
    laps = tuple(dict.fromkeys(f.lap for _, f in found))
    size = median(f.size for _, f in found) if found else 0.0
    unit = found[0][1].unit if found else ""
    why = _why(found, share, total, tally, session)
    return Thing(fault, corner, round(seconds, 4), share.hits, share.passes, round(total, 4), laps, size, unit, why)


def _why(found: list[tuple[Pass, Fault]], share: Share, total: float, tally: Tally, session: KeptSession) -> str:
    if not found:
        return "It came up, but cost nothing."
    each = total / len(found)
    if len(found) == 1:
        of = passes_words(share.hits, share.passes, found[0][1].corner).partition(" of ")[2]
        text = f"Once in {of}, in lap {found[0][1].lap}"
        text += f": {total:.2f} s" if total > 0.0 else ": no seconds that can be seen"
    else:
        text = f"In {passes_words(share.hits, share.passes, found[0][1].corner)}, {each:.2f} s each time"
    spoilt = {p.lap for p, f in found if is_incident(f) and p.lap is not None and not session.laps[p.lap].clean}
    given_up = sum(tally.costs.was_given_up(f) for _, f in found)
    if spoilt:
        text += f"; it spoilt {len(spoilt)} lap{'' if len(spoilt) == 1 else 's'}"
    if given_up:
        text += f"; a lap that was given up for it is counted as {GIVEN_UP:.0f} s"
    return text + "."


def _order(thing: Thing) -> tuple[float, str, int]:
    return -thing.seconds, thing.fault, -1 if thing.corner is None else thing.corner


def _hurts(fault: str) -> bool:
    return fault in FAULTS and FAULTS[fault].whatever


def _outcome(thing: Thing, tally: Tally) -> Outcome:
    before, after = Share(thing.times, thing.passes), tally.share(thing.fault, thing.corner)
    verdict, chance = compared(before, after)
    if verdict == UNKNOWN:
        return Outcome(thing, UNKNOWN, _unknown(thing, after), thing.seconds, None, chance)
    total, seconds = worth_of(thing.fault, thing.corner, tally)
    by_seconds = verdict == SAME and min(before.hits, after.hits) >= LEAST
    if by_seconds:
        verdict = _by_seconds(thing.total / before.hits, total / after.hits)
    why = (
        f"Before {passes_words(before.hits, before.passes, thing.corner)} and {thing.seconds:.2f} s a lap, now "
        f"{passes_words(after.hits, after.passes, thing.corner)} and {seconds:.2f} s a lap"
    )
    if by_seconds and verdict != SAME:
        why += f": as often, but {total / after.hits:.2f} s each time for {thing.total / before.hits:.2f} s"
    elif verdict != SAME and chance is not None:
        why += f": {luck_words(chance)}"
    return Outcome(thing, verdict, why + ".", thing.seconds, round(seconds, 4), chance)


def _by_seconds(before: float, after: float) -> str:
    """What became of the seconds that it costs each time."""
    if before - after >= max(NET_SPOKEN, HALF * before):
        return BETTER
    return WORSE if after - before >= max(NET_SPOKEN, HALF * after) else SAME


def _unknown(thing: Thing, after: Share) -> str:
    if not after.passes:
        return f"Nothing was judged {place_words(thing.corner)} this time."
    if after.passes >= LEAST:
        return (
            f"Before {passes_words(thing.times, thing.passes, thing.corner)}, now "
            f"{passes_words(after.hits, after.passes, thing.corner)}: that may be luck, so a few laps more will tell."
        )
    name = plain_fault(thing.fault)
    return f"This time {name} in {passes_words(after.hits, after.passes, thing.corner)} that tell: too few to say."
