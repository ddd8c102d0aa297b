"""The pages: the debrief of one session, the progress of a week, and a class of pupils. One HTML text each."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite, nan
from typing import Any

from coach.debrief.classroom import class_parts
from coach.debrief.figures import figure, live_map
from coach.debrief.lossmap import Land, land
from coach.debrief.markup import Html, bullets, cut, fold, html, join, label, lines, section, tag
from coach.debrief.nexttime import fared_part, things_part
from coach.debrief.numerals import moment, readable
from coach.debrief.seconds import seconds_of
from coach.debrief.shell import page
from coach.debrief.steady import laps_part, marks_part, moments_part, said_part, stage_part, steadiness_words
from coach.debrief.strips import Screen, corners_of, screen_of
from coach.debrief.week import progress_parts
from coach.debrief.where import channels_part, map_part, seconds_part
from coach.engine.lap import GridLap
from coach.review.model import KeptSession
from coach.review.results import Class, Progress, Review
from coach.review.unjudged import unjudged
from coach.review.words import is_judged
from coach.vocabulary.laptime import lap_time
from coach.vocabulary.stages import CLEAN

WIDTH, HEIGHT = 860.0, 560.0
"""px of the map."""
REASON = 400
"""characters of a reason that are shown."""
NO_CHANNELS = "No lap of this session has its channels kept, so there is no line to draw and nothing to chart."
FOLDED = (
    "In the stage clean, what counts is clean laps in a row and every mark hit. Lap times and deltas are folded away, "
    "for who looks at the clock drives for the clock. Open them if you want to."
)


def debrief_page(
    session: KeptSession,
    review: Review,
    progress: Progress | None,
    charts: str | None,
    reference: GridLap | None = None,
) -> str:
    """One session, the three things first. `charts`: the charting library's script, None for still pictures only.

    Laps are held (m by m) against `reference`, or the one that the session had, or against the session's best where
    there is none of this length.
    """
    screen = screen_of(session, reference)
    place = None if screen is None else land(screen, WIDTH, HEIGHT)
    clean = session.stage == CLEAN
    parts = [_heading(session, clean)]
    parts.append(
        section(
            "things",
            _things_title(len(review.things)),
            things_part(review.things, screen, corners_of(session), is_judged(session), timed=not clean),
            fared_part(review.outcomes),
        )
    )
    body = _clean_parts if clean else _timed_parts
    parts += body(session, review, progress, screen, place)
    parts.append(section("not-judged", "What was not judged, and why", _not_judged(session)))
    data: dict[str, Any] = {}
    if screen is not None and place is not None:
        data["map"] = live_map(place, corners_of(session))
        if charts is not None:
            data["figure"] = figure(screen, corners_of(session))
    return page(_title("Debrief", session.track, session.car), parts, data, charts if data else None)


def progress_page(progress: Progress, charts: str | None) -> str:
    """The sessions of one driver in one car on one circuit. It has still pictures only: `charts` is not needed."""
    who = [
        ("track", label(progress.track, "without a name")),
        ("car", label(progress.car, "without a name")),
        ("driver", label(progress.driver, "without a name")),
        ("sessions", html(str(len(progress.days)))),
    ]
    head = tag("header", tag("h1", "Progress"), _facts(who))
    title = _title("Progress", progress.track, progress.car)
    if any(day.stage == CLEAN for day in progress.days[-1:]):
        held = fold("Lap times and seconds", *progress_parts(progress))
        return page(title, [head, section("folded", "Folded away", tag("p", FOLDED), held)], {}, None)
    return page(title, [head, *progress_parts(progress)], {}, None)


def pupils_page(klass: Class, charts: str | None) -> str:
    """Several pupils on one circuit. It has still pictures only: `charts` is not needed."""
    who = [("track", label(klass.track, "without a name")), ("pupils", html(str(len(klass.pupils))))]
    head = tag("header", tag("h1", "Pupils"), _facts(who))
    return page(_title("Pupils", klass.track, None), [head, *class_parts(klass)], {}, None)


def _timed_parts(
    session: KeptSession, review: Review, progress: Progress | None, screen: Screen | None, place: Land | None
) -> list[Html]:
    parts = [_seconds(session, review), *_driven(session, screen, place)]
    steady = [laps_part(session, review), tag("h3", "Marks"), marks_part(review.marks)]
    parts.append(section("consistency", "How alike the laps were", *steady))
    if review.stage is not None:
        parts.append(section("stage", "The stage of practice", stage_part(review.stage)))
    said = [said_part(review.said), moments_part(session)]
    parts.append(section("said", "What was said, and whether it helped", *said))
    return [*parts, *_progress(progress)]


def _clean_parts(
    session: KeptSession, review: Review, progress: Progress | None, screen: Screen | None, place: Land | None
) -> list[Html]:
    """Clean laps and marks first; lap times, deltas and where the seconds are stay folded away."""
    parts = []
    words = Html("") if review.steadiness is None else tag("p", steadiness_words(review.steadiness, timed=False))
    parts.append(section("marks", "Clean laps and marks", words, marks_part(review.marks)))
    if review.stage is not None:
        parts.append(section("stage", "The stage of practice", stage_part(review.stage)))
    said = [said_part(review.said), moments_part(session, worked_on=False)]
    parts.append(section("said", "What was said, and whether it helped", *said))
    timed = [
        _seconds(session, review),
        *_driven(session, screen, place),
        section("consistency", "How alike the laps were", laps_part(session, review)),
        *_progress(progress),
    ]
    folded = fold("Lap times, deltas and where the seconds are", *timed, name="timed")
    return [*parts, section("folded", "Folded away", tag("p", FOLDED), folded)]


def _seconds(session: KeptSession, review: Review) -> Html:
    seconds = seconds_of(session)
    if seconds is None:
        inside = tag("p", "No whole lap could be held against a reference, so the seconds are not shared out.")
    else:
        inside = seconds_part(seconds, review.losses)
    return section("seconds", "Where the seconds are", inside)


def _driven(session: KeptSession, screen: Screen | None, place: Land | None) -> list[Html]:
    if screen is None or place is None:
        return [section("driven", "The driven line", tag("p", NO_CHANNELS))]
    return [
        section("driven", "The driven line", map_part(screen, place, corners_of(session))),
        section("channels", "Speed, pedals, gear, delta", channels_part(screen, corners_of(session))),
    ]


def _progress(progress: Progress | None) -> list[Html]:
    if progress is None or len(progress.days) < 2:
        return []
    return [section("progress", "Progress over the sessions", *progress_parts(progress, level=3))]


def _heading(session: KeptSession, clean: bool) -> Html:
    stamp = moment(session.begun)
    when = html("not known") if stamp is None else tag("time", readable(stamp), datetime=stamp)
    ended = sum(lap.clean for lap in session.laps)
    facts = [
        ("car", label(session.car, "without a name")),
        ("driver", label(session.driver, "without a name")),
        ("when", when),
        ("setup", label(session.setup, "not named")),
        ("stage", html(session.stage)),
        ("laps", html(f"{len(session.laps)}, {ended} clean")),
    ]
    if session.kind:
        facts.append(("kind", label(session.kind, "-")))
    if session.reference_time is not None and not clean:
        origin = join([html(lap_time(session.reference_time) + ", "), label(session.reference_origin, "not named")])
        facts.append(("reference", origin))
    facts += _weather(session.conditions)
    parts = [tag("h1", label(session.track, "A circuit without a name")), _facts(facts)]
    if session.note.strip():
        parts.append(tag("p", lines(session.note), class_="note"))
    return tag("header", *parts)


def _weather(conditions: dict[str, float]) -> list[tuple[str, Html]]:
    named = {"track_temp": ("track", "°C", 1.0), "air_temp": ("air", "°C", 1.0), "wetness": ("wet", "%", 100.0)}
    return [
        (word, html(f"{conditions[name] * times:.0f} {unit}"))
        for name, (word, unit, times) in named.items()
        if isfinite(conditions.get(name, nan))
    ]


def _facts(facts: Iterable[tuple[str, Html]]) -> Html:
    return tag("dl", *(tag("div", tag("dt", name), tag("dd", value)) for name, value in facts), class_="facts")


def _not_judged(session: KeptSession) -> Html:
    reasons = [_reason(names, why) for names, why in unjudged(session.off)]
    parts = [bullets(reasons) if reasons else tag("p", "All that there are faults for was judged.")]
    if session.stream:
        told = ", ".join(f"{what.replace('_', ' ')} {times}" for what, times in sorted(session.stream.items()))
        parts.append(tag("p", f"The stream: {told}."))
    return join(parts)


def _reason(names: str, why: str) -> Html:
    """The sentence that says why these detectors were off."""
    return join([label(f"{names}: {why}" if names else why, "", REASON), html(".")])


def _things_title(found: int) -> str:
    """As many as there are."""
    words = {0: "For", 1: "One thing for", 2: "Two things for", 3: "Three things for"}
    return f"{words.get(found, 'The things for')} next time"


def _title(kind: str, track: str | None, car: str | None) -> str:
    return ", ".join([kind, *(cut(name, 60) for name in (track, car) if name)])
