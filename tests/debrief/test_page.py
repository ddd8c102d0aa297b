"""The pages as text: whole, in order, safe, and small enough. A browser looks at them in test_browser.py."""

from __future__ import annotations

import re
import time
from base64 import b64encode
from copy import deepcopy
from dataclasses import replace
from hashlib import sha256
from html.parser import HTMLParser

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.app.telling.debrieftext import debrief_text
from coach.debrief.page import debrief_page, progress_page, pupils_page
from coach.debrief.pictures import pictures
from coach.debrief.shell import CAUTION, MARK
from coach.engine.lap import GridLap
from coach.review.model import KeptSession
from coach.review.progress import progress
from coach.review.pupils import pupils
from coach.review.results import Class, Progress, Review, Shared
from coach.review.review import review
from coach.review.words import SPREAD, is_judged, nothing_words
from coach.vocabulary.actions import MARK as MARKED
from coach.vocabulary.events import Action, Advice
from coach.vocabulary.laptime import lap_time
from coach.vocabulary.stages import CLEAN
from tests.debrief.sessions import HOSTILE, grown, week

VOID = {"meta", "input", "br", "link", "img", "hr"}
CHARTS = "var Plotly = {note: '</script><!-- \\r\\n'};"
"""Stands in for the library where only text is looked at."""
TIMES = re.compile(r"\d:\d\d\.\d{3}")


class Page(HTMLParser):
    """A reader of HTML that keeps the order of things and minds that every element is closed."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.ids: list[str] = []
        self.scripts: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.outside = ""
        """words that stand in no <details>, script or style"""
        self.words = ""
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.attributes += [(tag, key, value or "") for key, value in attrs]
        self.ids += [value or "" for key, value in attrs if key == "id"]
        if tag not in VOID:
            self.open.append(tag)
        if tag == "script":
            self.scripts.append("")

    def handle_endtag(self, tag: str) -> None:
        assert self.open and self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "script":
            self.scripts[-1] += data
        elif "style" not in self.open:
            self.words += data
            if "details" not in self.open:
                self.outside += data


def policy_of(page: Page) -> str:
    return next(value for tag, key, value in page.attributes if tag == "meta" and key == "content" and "src" in value)


@pytest.fixture(scope="module")
def text(session: KeptSession, found: Review) -> str:
    return debrief_page(session, found, progress(week(session)), CHARTS)


def test_it_is_one_whole_page(text: str) -> None:
    page = Page(text)
    assert text.startswith("<!DOCTYPE html>") and MARK in text
    assert ("html", "lang", "en") in page.attributes
    assert "Debrief, loop-a, car-a" in page.words
    assert CAUTION in page.words
    assert len(page.ids) == len(set(page.ids))
    labelled = [value for _, key, value in page.attributes if key in ("aria-labelledby", "for")]
    assert set(labelled) <= set(page.ids)


def test_the_three_things_come_first(text: str) -> None:
    wanted = ["things", "seconds", "driven", "channels", "consistency", "stage", "said", "progress", "not-judged"]
    assert [name for name in Page(text).ids if name in wanted] == wanted


def test_each_thing_has_its_seconds_and_evidence(text: str, found: Review) -> None:
    words = Page(text).words
    assert found.things
    for thing in found.things:
        assert f"{thing.seconds:.2f} s a lap" in words and thing.why in words
    for outcome in found.outcomes:
        assert outcome.why in words and outcome.verdict in words


def test_the_foot_of_the_ledger_is_the_mean_lap(text: str, session: KeptSession) -> None:
    deltas = [lap.delta for lap in session.laps if lap.parts and lap.delta is not None]
    foot = text[text.index("<tfoot>") : text.index("</tfoot>")]
    assert f"{sum(deltas) / len(deltas):+.3f}" in foot and f"{sum(deltas):+.3f}" in foot


def test_only_its_own_scripts_may_run(text: str) -> None:
    """Content Security Policy Level 3: a script element runs if the base64 of its text's SHA-256 is in the policy."""
    page = Page(text)
    policy = policy_of(page)
    assert policy.startswith("default-src 'none'; script-src 'sha256-")
    assert "unsafe-eval" not in policy and "script-src 'unsafe-inline'" not in policy
    running = [script for script in page.scripts if not script.startswith("{")]
    assert len(running) == 2
    for script in running:
        assert f"'sha256-{b64encode(sha256(script.encode()).digest()).decode()}'" in policy


def test_nothing_is_fetched(text: str) -> None:
    for tag, key, value in Page(text).attributes:
        assert key not in ("src", "srcset", "action", "poster", "data", "background"), (tag, key)
        assert key != "href" or value.startswith("#")
        assert "http:" not in value.replace("http://www.w3.org/2000/svg", "")
    style = text[text.index("<style>") : text.index("</style>")]
    assert "url(" not in style and "@import" not in style


def another(session: KeptSession) -> GridLap:
    """A reference that is no lap of the session: its best, 1 % quicker."""
    best = min((lap.grid for lap in session.laps if lap.grid is not None), key=lambda grid: grid.total)
    return replace(best, time=0.99 * best.time, number=77)


def test_the_page_says_what_laps_are_held_against(session: KeptSession, found: Review) -> None:
    given = another(session)
    held = replace(session, reference=given, reference_time=given.total, reference_origin="a <friend>")
    text = debrief_page(held, found, None, CHARTS)
    words = Page(text).words
    named = f"the reference, a <friend>: {lap_time(given.total)}"
    for said in (f"Held against {named}.", f"Delta: to {named}.", f"dashed: {named}", f"delta: to {named}"):
        assert said in words, said
    assert "Some laps had another reference while they were driven" in words
    alike = replace(held, laps=[replace(lap, reference_time=given.total) for lap in session.laps])
    assert "had another reference" not in Page(debrief_page(alike, found, None, None)).words
    for name in ("map", "channels"):
        assert "the reference, a &lt;friend&gt;" in pictures(held, found)[name]


@pytest.mark.parametrize(
    ("of", "said"),
    [("reference", "It has no x and y, so its line is not drawn."), ("laps", "so the line is the reference's.")],
)
def test_a_line_that_is_not_known_is_said(session: KeptSession, found: Review, of: str, said: str) -> None:
    held = deepcopy(session)
    held.reference = deepcopy(another(session))
    bare = [held.reference] if of == "reference" else [lap.grid for lap in held.laps]
    for grid in bare:
        if grid is not None:
            del grid.channels["x"], grid.channels["y"]
    assert said in Page(debrief_page(held, found, None, CHARTS)).words


@pytest.mark.parametrize("hostile", HOSTILE)
def test_hostile_labels_stay_words(session: KeptSession, found: Review, hostile: str) -> None:
    bad = replace(session, track=hostile, car=hostile, driver=hostile, setup=hostile, kind=hostile, note=hostile)
    bad.reference_origin, bad.off = hostile, {"wheelspin": hostile, "reference": hostile, hostile: None}
    bad.laps = [
        replace(lap, index=index, name=hostile, why_not=(hostile,), clean=False)
        for index, lap in enumerate(session.laps[-2:])
    ]
    bad.reference = another(session)
    said = [replace(each, text=hostile, about=hostile) for each in found.said]
    fault = hostile.replace("{", "(").replace("}", ")")
    things = [replace(thing, fault=fault, why=hostile, unit=hostile) for thing in found.things]
    made = replace(found, said=said, things=things)
    made.outcomes = [replace(each, thing=things[0], why=hostile, verdict=hostile) for each in found.outcomes]
    several = week(bad)
    went = progress(several)
    went.habits = [replace(habit, fault=hostile, why=hostile) for habit in went.habits]
    klass = Class(hostile, pupils({hostile: several, "b": several}).pupils, [Shared(hostile, 1, {hostile: 0.1})])
    for text in (
        debrief_page(bad, made, went, CHARTS),
        progress_page(went, None),
        pupils_page(klass, None),
        debrief_page(replace(bad, stage=CLEAN), made, went, CHARTS),
    ):
        page = Page(text)
        assert all(not key.startswith("on") and "javascript:" not in value for _, key, value in page.attributes)
        assert len([script for script in page.scripts if not script.startswith("{")]) <= 2
        assert not {tag for tag, _, _ in page.attributes} & {"img", "a", "b"}
        assert not set(text) & set("\u2028\u2029\u202e\0\x1b\ud800")
        text.encode("utf-8")


@given(st.text(max_size=30))
@settings(max_examples=4, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_label_leaves_a_whole_page(session: KeptSession, label: str) -> None:
    few = replace(session, laps=session.laps[-1:], track=label, note=label, setup=label)
    Page(debrief_page(few, Review(), None, None)).words.index(CAUTION)


def test_without_charts_it_is_whole(session: KeptSession, found: Review) -> None:
    text = debrief_page(session, found, None, None)
    page = Page(text)
    assert len([script for script in page.scripts if not script.startswith("{")]) == 1
    assert "data-figure" not in page.ids and "data-map" in page.ids
    assert "chart-still" in text
    assert "progress" not in page.ids


def test_in_clean_no_lap_time_is_in_sight(session: KeptSession, found: Review) -> None:
    clean = replace(session, stage=CLEAN)
    quiet = replace(found, said=[])
    page = Page(debrief_page(clean, quiet, progress(week(session)), CHARTS))
    shown = re.sub(r"\d{4}-\d\d-\d\d \d\d:\d\d UTC", "", page.outside)
    assert not TIMES.search(shown)
    assert not re.search(r"[+-]\d\.\d{3}", shown)
    assert "folded away" in shown and "clock" in shown
    for thing in found.things:
        assert f"{thing.seconds:.2f} s a lap" in shown and page.words.count(thing.why) == 1
    for outcome in found.outcomes:
        assert outcome.why in shown
    best = min(lap.time for lap in session.laps if lap.time is not None)
    assert lap_time(best) in page.words  # in the fold
    assert page.ids.index("marks") < page.ids.index("timed") < page.ids.index("channels")


def test_in_other_stages_nothing_is_folded(text: str, session: KeptSession) -> None:
    best = min(lap.time for lap in session.laps if lap.time is not None)
    assert lap_time(best) in Page(text).outside


def test_a_session_with_nothing_in_it_has_a_page() -> None:
    for charts in (None, CHARTS):
        page = Page(debrief_page(KeptSession(), Review(), None, charts))
        assert "A circuit without a name" in page.words and "No lap ended." in page.words
    clean = Page(debrief_page(KeptSession(stage=CLEAN), review(KeptSession()), Progress(None, None, None), None))
    assert "clean laps in a row" in clean.words


def test_zero_is_a_time(session: KeptSession, found: Review) -> None:
    zero = deepcopy(session)
    zero.reference_time, zero.begun = 0.0, 0.0
    words = Page(debrief_page(zero, found, None, None)).words
    assert "0:00.000" in words and "1970-01-01 00:00 UTC" in words


def test_what_was_worked_on_and_marked_is_listed(session: KeptSession, found: Review) -> None:
    advice = [Advice(1.0, 2, "practice", "working on late throttle"), Advice(1.0, 2, "fuel", "three laps left")]
    actions = [Action(float(n), 3, MARKED, 100.0 + n) for n in range(30)]
    with_them = replace(session, advice=advice, actions=[*actions, Action(1.0, 4, "other", 1.0)])
    words = Page(debrief_page(with_them, found, None, None)).words
    assert "lap 2: working on late throttle" in words and "three laps left" not in words
    assert "lap 3, 119 m" in words and "lap 3, 120 m" not in words and "and 10 more" in words


@pytest.mark.parametrize("lacking", [("x", "y"), ("edge_left",), ("speed", "throttle", "brake", "gear"), ("gear",)])
def test_a_poorer_stream_has_a_page(session: KeptSession, found: Review, lacking: tuple[str, ...]) -> None:
    for spared in (0, 2):
        poor = deepcopy(session)
        for lap in poor.laps[spared:]:
            for name in lacking:
                if lap.grid is not None:
                    lap.grid.channels.pop(name)
        text = debrief_page(poor, found, None, CHARTS)
        assert CAUTION in Page(text).words
        assert not re.search(r'[\s"M](nan|inf)[\s"L]', text[: text.index("data-map")])
        straight = "no x and y in this stream" in text
        assert straight == (lacking == ("x", "y")) or spared


def test_a_corner_without_a_place_is_left_out(session: KeptSession, found: Review) -> None:
    first, *others = session.corners
    torn = replace(session, corners=(replace(first, apex=float("nan")), *others), conditions={"wetness": float("nan")})
    text = debrief_page(torn, found, None, CHARTS)
    assert f"apex of turn {first.corner}<" not in text and f"apex of turn {others[0].corner}<" in text
    assert list(pictures(torn, found)) == list(pictures(session, found))


def test_what_was_not_judged_is_said(session: KeptSession, found: Review) -> None:
    bare = replace(session, off={"wheelspin": "wheel_speed", "lock_up": "abs (assist)", "reference": "it is old"})
    words = Page(debrief_page(bare, found, None, None)).words
    assert "wheelspin: this stream has no wheel_speed." in words
    assert "lock up: the abs assist is on." in words
    assert "It is old." in words


def test_what_lacks_the_same_is_said_once(session: KeptSession, found: Review) -> None:
    bare = replace(session, off={"missed_apex": "edge_left", "wheelspin": "wheel_speed", "narrow_exit": "edge_left"})
    words = Page(debrief_page(bare, found, None, None)).words
    assert "missed apex, narrow exit: this stream has no edge_left." in words and words.count("no edge_left") == 1


def test_the_only_lap_is_held_against_nothing(session: KeptSession) -> None:
    one = replace(session, laps=[replace(session.laps[-1], index=0)], reference=None)
    page = Page(debrief_page(one, review(one), None, None))
    assert "It is the only lap" in page.words
    assert "lost over" not in page.words and "Delta: to" not in page.words


def test_page_and_terminal_say_the_same(session: KeptSession, found: Review) -> None:
    """The same figures and sentences; what differs is called otherwise."""
    page, text = Page(debrief_page(session, found, None, None)).words, debrief_text(session, found)
    joined = " ".join(text.split())
    for said in (*(thing.why for thing in found.things), *(outcome.why for outcome in found.outcomes)):
        assert said in page and said in joined
    assert SPREAD in page and SPREAD in joined
    assert "mean lap" in page and "mean lap" not in joined
    bare = replace(session, laps=[replace(lap, passes=[]) for lap in session.laps])
    for nothing in (session, bare):
        empty = replace(found, things=[], outcomes=[])
        sentence = nothing_words(is_judged(nothing))
        assert sentence[1:] in Page(debrief_page(nothing, empty, None, None)).words
        assert sentence in " ".join(debrief_text(nothing, empty).split())


def test_forty_laps_are_small_and_soon_made(session: KeptSession, found: Review) -> None:
    """The bar is 8 MB and 3 s with the charting library's 4.8 MB; this machine may be busy with other things."""
    many = grown(session, 40)
    began = time.process_time()
    text = debrief_page(many, found, None, CHARTS)
    assert time.process_time() - began < 2.5
    assert len(text.encode()) < 3_000_000


def test_progress_tells_all_sessions(session: KeptSession) -> None:
    went = progress(week(session, 4))
    page = Page(progress_page(went, None))
    assert page.scripts == [page.scripts[0]]
    for day in went.days:
        assert lap_time(day.steadiness.best) in page.words
    assert {"trend", "ledger", "habits"} <= set(page.ids)


def test_no_session_is_said() -> None:
    assert "No session is kept yet." in Page(progress_page(Progress(None, None, None), None)).words
    assert "No pupil has a session" in Page(pupils_page(Class(None), None)).words


def test_a_class_names_every_pupil(session: KeptSession) -> None:
    klass = pupils({"one": week(session), "two": week(session)})
    page = Page(pupils_page(klass, None))
    assert page.words.count("one") >= 3 and page.words.count("two") >= 3
    assert {"shared", "side-by-side", "corners", "pupil-1", "pupil-2"} <= set(page.ids)
