"""Each state of the overlay as events bring it about, from the engine's and planner's events to what is shown."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

from coach.overlay.easing import Easing
from coach.overlay.keeper import ViewKeeper
from coach.overlay.look import Look
from coach.overlay.view import View
from coach.vocabulary.actions import MARK
from coach.vocabulary.events import Action, Cue, Delta, Event, Moment, Reference, Run, Stream, Topic
from tests.planner.made_circuit import drive, lap_trace

_TRACE = lap_trace()
_STRAIGHT, _CORNER = 1240.0, 500.0
"""m: where a long straight begins, and a place in turn one"""
_FPS = 30
_SPOKEN = Look()
_MUTE = Look(spoken=False, words={"early_downshift": "Downshift later"})


def shown(events: Iterable[Event], look: Look = _SPOKEN, settle: float = 2.0) -> View:
    """What is on the screen `settle` s after the last event, the frames counted on the source's clock."""
    keeper, easing = ViewKeeper(look), Easing()
    t, view = 0.0, easing.at(keeper.goal, 0.0)
    for event in events:
        while t + 1 / _FPS < event.t:
            t += 1 / _FPS
            view = easing.at(keeper.goal, t)
        keeper.take(event)
    for frame in range(1, 1 + round(settle * _FPS)):
        view = easing.at(keeper.goal, t + frame / _FPS)
    return view


def _begin() -> Iterator[Event]:
    yield Run(0.0, 0, "0", "generic", None, None, None, "made")
    yield Reference(0.0, 0, _TRACE.time[-1], "made", _TRACE)


def _stands(delta: float, rate: float = 0.0) -> Iterator[Event]:
    """Two seconds in a corner, at the end of which the delta (s) is that, having changed by `rate` (s a second)."""
    yield from _begin()
    for tenth in range(21):
        t = 1.0 + tenth / 10
        yield Delta(t, 1, _CORNER, delta - rate * (2.0 - tenth / 10))
        yield Moment(t, 1, _CORNER, 25.0, 0.3, 0.0, 20.0)


def _straight(delta: float, seconds: float, cue_at: float | None = None) -> Iterator[Event]:
    """A straight from its beginning on. `cue_at`: s on it at which a cue begins."""
    yield from _begin()
    yield Topic(0.5, 1, "early_downshift")
    for sample, moment in enumerate(drive(_TRACE, 1, 60.0, 1.0, _STRAIGHT)):
        if sample > 60 * seconds:
            return
        if sample % 6 == 0:
            yield Delta(moment.t, 1, moment.distance or 0.0, delta)
        yield moment
        if cue_at is not None and sample == round(60 * cue_at):
            t = moment.t
            yield Cue(t, 1, "correction", "early_downshift", (), 3, "text", True, t, t + 1.2, None, None)


def _then(before: Iterable[Event], *after: Callable[[float], Event]) -> Iterator[Event]:
    """Some events, and others at the time of the last of them."""
    t = 0.0
    for event in before:
        t = event.t
        yield event
    for make in after:
        yield make(t)


def _states() -> dict[str, View]:
    hidden = replace(_MUTE, times=False)
    return {
        "no_stream": shown([]),
        "waiting": shown([Run(0.0, 0, "0", "generic", None, None, None, "made")]),
        "level": shown(_stands(0.0)),
        "ahead_gaining": shown(_stands(-0.35, -0.08)),
        "ahead_losing": shown(_stands(-0.35, 0.08)),
        "behind_gaining": shown(_stands(0.35, -0.08)),
        "behind_losing": shown(_stands(0.35, 0.08)),
        "corner": shown(_stands(1.4)),
        "topic": shown(_then(_stands(0.12), lambda t: Topic(t, 1, "missed_apex"))),
        "number": shown(_straight(-0.31, 2.5)),
        "words": shown(_straight(0.24, 2.0, cue_at=1.0), _MUTE),
        "times_hidden": shown(_straight(0.24, 2.0, cue_at=1.0), hidden),
        "noted": shown(_then(_stands(0.12), lambda t: Action(t, 1, MARK)), settle=0.4),
        "pit": shown(_then(_stands(-0.35), lambda t: Stream(t, 1, "pit", t, None))),
        "paused": shown(_then(_stands(-0.35), lambda t: Stream(t, 1, "pause", t, None))),
        "lost": shown(_then(_stands(-0.35), lambda t: Stream(t, 1, "lost", t, None))),
    }


STATES = _states()
"""By name, the view of each."""
