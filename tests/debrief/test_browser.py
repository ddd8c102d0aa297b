"""The debrief in a browser that is offline: seen at two widths, in the dark and on paper, used by hand and by keys.

By Chromium through playwright (`pip install playwright`, and a Chromium on the path). Where either is absent these
tests are left out, unless CI_BROWSER is set, as it is where they have to run.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from coach.debrief.page import debrief_page, progress_page, pupils_page
from coach.debrief.strips import screen_of
from coach.review.model import KeptSession
from coach.review.progress import progress
from coach.review.pupils import pupils
from coach.review.results import Review
from coach.vocabulary.stages import CLEAN
from tests.debrief.sessions import HOSTILE, week

NAMES = ("chromium", "chromium-browser", "google-chrome")
DESKTOP, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 844}
TARGET = 24
"""px: WCAG 2.2, 2.5.8, the least size of what is pressed (number from memory)."""
HURRY = 20_000
"""ms that a busy machine may take for anything."""


INKS = "[getComputedStyle(document.body).color, document.getElementById('chart')._fullLayout.font.color]"


def missing(what: str) -> None:
    if os.environ.get("CI_BROWSER"):
        pytest.fail(f"CI_BROWSER is set, and {what}")
    pytest.skip(what)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    path = next(filter(None, map(shutil.which, NAMES)), None)
    if path is None:
        missing("there is no Chromium on the path")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing("playwright is not installed: pip install playwright")
    with sync_playwright() as started:
        browser = started.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def charts() -> str:
    plotly = pytest.importorskip("plotly", reason="the charts are an extra: pip install '.[debrief]'")
    return (Path(plotly.__file__).parent / "package_data" / "plotly.min.js").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def file(session: KeptSession, found: Review, charts: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("pages") / "debrief.html"
    path.write_text(debrief_page(session, found, progress(week(session)), charts), encoding="utf-8")
    return path


class Watched:
    """A page that is watched for anything it asks of a network, and for anything that goes wrong in it."""

    def __init__(self, browser: Any, path: Path, size: dict[str, int], **more: Any) -> None:
        self.context = browser.new_context(viewport=size, offline=True, **more)
        self.context.set_default_timeout(HURRY)
        self.page = self.context.new_page()
        self.asked: list[str] = []
        self.wrong: list[str] = []
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("console", lambda message: self.wrong.append(message.text) if message.type == "error" else None)
        self.page.on("pageerror", lambda error: self.wrong.append(str(error)))
        self.page.on("dialog", lambda dialog: (self.wrong.append(dialog.message), dialog.dismiss()))
        self.page.goto(path.as_uri(), wait_until="load")

    def close(self, path: Path) -> None:
        self.context.close()
        assert self.wrong == []
        assert [url for url in self.asked if not url.startswith(("data:", "blob:"))] == [path.as_uri()]

    def wide(self) -> tuple[int, int]:
        """px: the width of all that is laid out, and of the window."""
        return tuple(self.page.evaluate("[document.documentElement.scrollWidth, innerWidth]"))


@pytest.fixture(scope="module")
def desk(chromium: Any, file: Path) -> Iterator[Watched]:
    watched = Watched(chromium, file, DESKTOP, color_scheme="light")
    watched.page.wait_for_selector("html.charted")
    yield watched
    watched.close(file)


def dot(page: Any) -> str:
    return str(page.evaluate("document.querySelector('.dot').parentElement.parentElement.getAttribute('transform')"))


def spread(page: Any) -> list[float]:
    return list(page.evaluate("document.getElementById('chart')._fullLayout.xaxis.range"))


def view(page: Any) -> list[float]:
    return [float(part) for part in page.evaluate("document.querySelector('#map svg').getAttribute('viewBox')").split()]


def test_a_desktop_shows_it_without_scrolling_sideways(desk: Watched) -> None:
    assert desk.wide()[0] <= desk.wide()[1]
    assert desk.page.title() == "Debrief, loop-a, car-a"
    assert desk.page.locator("#chart .trace").count() > 0
    assert not desk.page.locator(".chart-still").is_visible()


def test_pointing_at_a_chart_moves_the_dot_on_the_map_and_the_figures(desk: Watched) -> None:
    page = desk.page
    page.locator("#chart").scroll_into_view_if_needed()
    plot = page.locator("#chart .nsewdrag").first.bounding_box()
    seen = []
    for share in (0.25, 0.6):
        page.mouse.move(plot["x"] + share * plot["width"], plot["y"] + plot["height"] / 2)
        page.wait_for_function("(was) => document.getElementById('place-words').textContent !== was", arg=_told(seen))
        seen.append((dot(page), page.inner_text("#place-words"), page.inner_text("#readout")))
    assert len({each[0] for each in seen}) == len({each[1] for each in seen}) == len({each[2] for each in seen}) == 2
    length = page.evaluate("document.getElementById('chart')._fullLayout.xaxis.range[1]")
    assert float(seen[1][1].split()[0]) == pytest.approx(0.6 * length, rel=0.02)


def _told(seen: list[tuple[str, str, str]]) -> str:
    return seen[-1][1] if seen else "0 m"


def test_pointing_at_the_map_moves_the_place_in_the_charts(desk: Watched) -> None:
    page = desk.page
    page.locator("#map").scroll_into_view_if_needed()
    before = page.inner_text("#place-words")
    box = page.locator("#driven-line").bounding_box()
    page.mouse.move(box["x"] + box["width"] * 0.02, box["y"] + box["height"] * 0.75)
    page.mouse.move(box["x"] + box["width"] * 0.01, box["y"] + box["height"] * 0.8)
    page.wait_for_function("(was) => document.getElementById('place-words').textContent !== was", arg=before)
    assert page.locator("#cursor").is_visible()


def test_zoom_is_one_for_all_charts_and_the_map(desk: Watched) -> None:
    page = desk.page
    whole, far = view(page), spread(page)
    page.select_option("#stretch", "4")
    page.wait_for_function("(was) => document.getElementById('chart')._fullLayout.xaxis.range[1] !== was", arg=far[1])
    assert view(page)[2] < 0.7 * whole[2]
    near = spread(page)
    assert near[1] - near[0] < 0.4 * (far[1] - far[0])
    axes = page.evaluate("document.getElementById('chart')._fullData.map((trace) => trace.xaxis)")
    assert set(axes) == {"x"}
    page.select_option("#stretch", "")
    page.wait_for_function("(was) => document.getElementById('chart')._fullLayout.xaxis.range[1] === was", arg=far[1])
    assert view(page) == whole


def test_dragging_over_a_chart_zooms_the_map_and_a_double_click_takes_it_back(desk: Watched) -> None:
    page = desk.page
    page.locator("#chart").scroll_into_view_if_needed()
    whole = view(page)
    plot = page.locator("#chart .nsewdrag").first.bounding_box()
    y = plot["y"] + plot["height"] / 2
    page.mouse.move(plot["x"] + 0.4 * plot["width"], y)
    page.mouse.down()
    page.mouse.move(plot["x"] + 0.6 * plot["width"], y, steps=4)
    page.mouse.up()
    page.wait_for_function("document.getElementById('chart')._fullLayout.xaxis.range[0] > 1")
    assert view(page)[2] < whole[2]
    page.mouse.dblclick(plot["x"] + 0.5 * plot["width"], y)
    page.wait_for_function("document.getElementById('chart')._fullLayout.xaxis.range[0] < 1")
    assert view(page) == whole


def test_any_lap_can_be_laid_over_the_others(desk: Watched, session: KeptSession) -> None:
    page = desk.page
    boxes = page.locator("input.lap")
    screen = screen_of(session)
    assert screen is not None and boxes.count() == len(screen.strips)
    assert {i for i in range(boxes.count()) if boxes.nth(i).is_checked()} == set(screen.shown)
    free = next(i for i in range(boxes.count()) if i not in screen.shown)
    boxes.nth(free).check()
    assert page.evaluate("document.getElementById('chart').data.length") == 5 * (len(screen.shown) + 1)
    assert page.locator("#readout tr").count() == len(screen.shown) + 2
    boxes.nth(free).uncheck()
    assert page.evaluate("document.getElementById('chart').data.length") == 5 * len(screen.shown)


def test_another_lap_is_drawn_on_the_map(desk: Watched, session: KeptSession) -> None:
    page = desk.page
    slow = next(i for i, lap in enumerate(session.laps) if lap.faults)
    page.select_option("#map-lap", str(slow))
    assert f"lap {session.laps[slow].number} " in page.inner_text("#map-words")
    assert page.locator("#driven-line .s-lost2").count() > 0


def test_keys_alone_reach_a_place_on_the_lap(desk: Watched) -> None:
    page = desk.page
    page.focus("#place")
    page.keyboard.press("Home")
    first = dot(page)
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    assert dot(page) != first and page.input_value("#place") == "5"
    assert page.get_attribute("#place", "aria-valuetext").endswith(" m")
    page.focus("input.lap")
    page.keyboard.press("Space")
    page.keyboard.press("Space")
    assert page.evaluate("getComputedStyle(document.querySelector('input.lap')).outlineStyle") != "none"


def test_the_dark_follows_and_the_charts_with_it(desk: Watched) -> None:
    page = desk.page
    light = page.evaluate(INKS)
    page.emulate_media(color_scheme="dark")
    page.wait_for_function("(was) => document.getElementById('chart')._fullLayout.font.color !== was", arg=light[1])
    dark = page.evaluate(INKS)
    assert dark[0] != light[0] and dark[1] != light[1]
    page.emulate_media(color_scheme="light")


def test_paper_has_still_pictures_and_nothing_to_press(desk: Watched) -> None:
    page = desk.page
    page.emulate_media(media="print", color_scheme="dark")
    for name in ("#chart", "#stretch", "#place", "input.lap >> nth=0"):
        assert not page.locator(name).is_visible()
    assert page.locator(".chart-still svg").is_visible() and page.locator("#map svg").is_visible()
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(34, 38, 43)"
    paper = page.pdf(format="A4")
    assert paper.startswith(b"%PDF") and len(paper) > 20_000
    page.emulate_media(media="screen", color_scheme="light")


def test_without_charts_or_scripts_it_is_whole(
    chromium: Any, session: KeptSession, found: Review, tmp_path: Path
) -> None:
    path = tmp_path / "still.html"
    path.write_text(debrief_page(session, found, None, None), encoding="utf-8")
    for scripts in (True, False):
        watched = Watched(
            chromium, path, DESKTOP, java_script_enabled=scripts, timezone_id="Asia/Tokyo", locale="en-US"
        )
        # nine hours before UTC (IANA), written as the terminal writes it
        assert watched.page.inner_text("header time") == ("2025-12-29 18:20" if scripts else "2025-12-29 09:20 UTC")
        assert watched.page.locator(".chart-still svg").is_visible() and watched.page.locator("#map svg").is_visible()
        assert watched.page.locator("#stretch").is_visible() == scripts
        watched.close(path)


def test_a_phone_fits_hostile_names_and_opens_what_is_folded(
    chromium: Any, session: KeptSession, found: Review, charts: str, tmp_path: Path
) -> None:
    bad = " ".join(HOSTILE)
    path = tmp_path / "hostile.html"
    worse = replace(session, track=bad, car=bad, driver=bad, setup=bad, note="\n".join(HOSTILE), stage=CLEAN)
    path.write_text(debrief_page(worse, found, progress(week(worse)), charts), encoding="utf-8")
    watched = Watched(chromium, path, PHONE, color_scheme="dark", has_touch=True, is_mobile=True)
    page = watched.page
    page.wait_for_selector("html.charted")
    assert watched.wide() == (390, 390)
    assert page.locator("main img, main script, main a[href^=javascript]").count() == 0
    assert "<img src=x onerror=alert(1)>" in page.inner_text(".note")
    assert not page.locator("#chart").is_visible()
    page.click("#timed > summary")
    page.wait_for_function("document.querySelector('#chart .nsewdrag').getBoundingClientRect().width > 200")
    assert watched.wide() == (390, 390)
    chart = page.locator("#chart").bounding_box()
    assert chart["width"] <= 390 and chart["height"] > 400
    assert page.evaluate("document.getElementById('chart')._fullLayout.dragmode") is False  # a finger scrolls the page
    heights = page.evaluate(
        "[...document.querySelectorAll('select, input[type=range]')].map((e) => e.getBoundingClientRect().height)"
    )
    assert min(heights) >= TARGET
    watched.close(path)


def test_the_week_and_the_class_fit_both_widths(chromium: Any, session: KeptSession, tmp_path: Path) -> None:
    several = week(session, 6)
    pages = {
        "week": progress_page(progress(several), None),
        "class": pupils_page(pupils({f"pupil {n}": several[:2] for n in range(8)}), None),
    }
    for name, text in pages.items():
        path = tmp_path / f"{name}.html"
        path.write_text(text, encoding="utf-8")
        for size in (DESKTOP, PHONE):
            watched = Watched(chromium, path, size)
            assert watched.wide()[0] <= size["width"]
            watched.close(path)


def test_where_the_charts_fail_the_still_pictures_stay(
    chromium: Any, session: KeptSession, found: Review, tmp_path: Path
) -> None:
    path = tmp_path / "failing.html"
    failing = "var Plotly = {react() { throw new Error('no canvas'); }};"
    path.write_text(debrief_page(session, found, None, failing), encoding="utf-8")
    watched = Watched(chromium, path, DESKTOP)
    assert watched.page.locator(".chart-still svg").is_visible() and not watched.page.locator("#chart").is_visible()
    watched.page.select_option("#map-lap", "0")
    watched.page.focus("#place")
    watched.page.keyboard.press("ArrowRight")
    assert watched.page.inner_text("#place-words") != "0 m"
    watched.close(path)
