"""The three things for next time, and how the last three fared: what a debrief begins with."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from coach.debrief.lossmap import draw_map, held, land, stretch_of
from coach.debrief.markup import Html, html, join, picture, tag
from coach.debrief.numerals import plain, runs, sized
from coach.debrief.strips import Screen
from coach.review.results import BETTER, MENDED, SAME, WORSE, Outcome, Thing
from coach.review.words import nothing_words, plain_fault, thing_words
from coach.vocabulary.events import CornerMark

SIGNS = {MENDED: "✓", BETTER: "↗", SAME: "=", WORSE: "↘"}
"""Beside the verdict's word."""
WIDTH, HEIGHT = 300.0, 190.0
"""px of the picture of a corner."""


def things_part(
    things: Sequence[Thing], screen: Screen | None, corners: Iterable[CornerMark], judged: bool, timed: bool = True
) -> Html:
    """The things, the dearest first, each with what it is worth and its corner as it was driven.

    `judged`: a pass of a corner was held against the marks. `timed`: coloured by what was lost, and with the
    time of the lap that it is held against.
    """
    if not things:
        nothing = nothing_words(judged)
        return tag("p", f"{nothing[:1].upper()}{nothing[1:]}.")
    marks = {mark.corner: mark for mark in corners}
    return tag("ol", *(_thing(thing, screen, marks, timed) for thing in things), class_="things")


def title_of(thing: Thing) -> str:
    """What to do, as a title."""
    words = thing_words(thing)
    return words[:1].upper() + words[1:]


def _thing(thing: Thing, screen: Screen | None, marks: Mapping[int, CornerMark], timed: bool) -> Html:
    kind = plain_fault(thing.fault)
    if thing.unit:
        kind += f"{' by' if thing.times == 1 else ', median'} {sized(thing.size, thing.unit)}"
    seen = f"{kind}; {'lap' if len(thing.laps) == 1 else 'laps'} {runs(thing.laps)}"
    parts = [tag("h3", title_of(thing)), _worth(thing.seconds), tag("p", thing.why), tag("p", seen, class_="soft")]
    drawn = _corner(thing, screen, marks, timed)
    return tag("li", *parts, *([drawn] if drawn else []))


def _worth(seconds: float) -> Html:
    """What hurts sooner or later may cost nothing as yet."""
    if round(seconds, 2) <= 0.0:
        return tag("p", "no seconds yet")
    return tag("p", html(f"{plain(seconds, 2)} s "), tag("small", "a lap"), class_="worth")


def _corner(thing: Thing, screen: Screen | None, marks: Mapping[int, CornerMark], timed: bool) -> Html | None:
    """The corner as the last of the laps drove it in which the fault came up."""
    mark = None if thing.corner is None else marks.get(thing.corner)
    if screen is None or screen.base is None or mark is None:
        return None
    strip = next((strip for strip in reversed(screen.strips) if strip.lap.number in thing.laps), None)
    if strip is None or strip.xs is None:
        return None
    place = land(screen, WIDTH, HEIGHT, stretch_of(mark, screen.length))
    drawn = draw_map(place, strip, [mark], lost=timed, legend=False)
    named = f"Turn {mark.corner} in lap {strip.lap.number}"
    told = f"{named}; {held(screen)}" if timed else named
    return join([picture(drawn, named), tag("p", told, class_="soft")])


def fared_part(outcomes: Sequence[Outcome]) -> Html:
    """How the things that were told after the session before fared; empty where there were none."""
    if not outcomes:
        return Html("")
    items = [
        tag("li", verdict(outcome.verdict), " ", tag("b", title_of(outcome.thing)), html(". "), outcome.why)
        for outcome in outcomes
    ]
    return join([tag("h3", "How the last things fared"), tag("ul", *items, class_="fared")])


def verdict(word: str) -> Html:
    """A verdict with its sign."""
    return tag("span", f"{SIGNS.get(word, '?')} {word}", class_="verdict")
