"""The still pictures: whole, well-formed, their lengths those of the numbers, and drawn by an independent renderer."""

from __future__ import annotations

from io import BytesIO
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest

from coach.debrief.channels import draw_channels
from coach.debrief.lapstrip import draw_laps
from coach.debrief.lossmap import WIDTHS, draw_map, land, stretch_of
from coach.debrief.pictures import pictures
from coach.debrief.seconds import draw_seconds, seconds_of
from coach.debrief.strips import screen_of
from coach.debrief.tones import LIGHT
from coach.debrief.trend import draw_trend
from coach.review.model import KeptSession
from coach.review.results import Day, Review, Steadiness
from coach.vocabulary.events import PHASES, LossPart
from tests.debrief.rounds import LENGTH, grid, lap, mark, session_with
from tests.debrief.scenes import SVG, parsed, points, texts
from tests.debrief.sessions import HOSTILE

ROUNDED = 1e-3
"""s: some 30 parts of a lap, each rounded to 0.1 ms by half at most."""


def slow_between(start: float, end: float, speed: float = 40.0) -> KeptSession:
    """Two laps of the circle; the second is slower (or, over 50 m/s, quicker) from `start` to `end`."""
    second = grid(lambda place: speed if start <= place <= end else 50.0, number=2)
    return session_with(lap(1, grid(lambda _: 50.0)), lap(2, second), corners=(mark(1, 700.0), mark(2, 1500.0)))


def drawn(session: KeptSession, index: int, stretch: tuple[float, float] | None = None) -> ElementTree.Element:
    screen = screen_of(session)
    assert screen is not None
    return parsed(draw_map(land(screen, 760.0, 560.0, stretch), screen.strips[index], session.corners))


def strokes(root: ElementTree.Element, tone: str) -> list[ElementTree.Element]:
    (driven,) = (group for group in root.iter(f"{SVG}g") if group.get("id") == "driven-line")
    return [path for path in driven if path.get("stroke") == LIGHT[tone]]


def angle_of(path: ElementTree.Element, root: ElementTree.Element) -> tuple[float, float]:
    """Where a stroke of the round circuit begins and ends: angles about its middle from the line on, in shares 0..1."""
    paths = {name: [p for p in root.iter(f"{SVG}path") if p.get("stroke") == LIGHT[name]] for name in ("edge", "soft")}
    edges = [point for each in paths["edge"] for point in points(each.get("d", ""))]
    middle = np.array([(min(column) + max(column)) / 2 for column in zip(*edges, strict=True)])
    line, driven = points(paths["soft"][0].get("d", ""))[0], points(path.get("d", ""))
    zero, first, last = (np.arctan2(middle[1] - y, x - middle[0]) for x, y in (line, driven[0], driven[-1]))
    return float((first - zero) / (2 * np.pi) % 1.0), float((last - zero) / (2 * np.pi) % 1.0)


def test_the_map_is_coloured_where_time_was_lost_and_nowhere_else() -> None:
    root = drawn(slow_between(900.0, 1100.0), 1)
    (much,) = strokes(root, "lost2")
    first, last = angle_of(much, root)
    assert first * LENGTH == pytest.approx(900.0, abs=25.0) and last * LENGTH == pytest.approx(1100.0, abs=25.0)
    assert float(much.get("stroke-width", 0)) == max(WIDTHS)
    assert strokes(root, "gained1") == strokes(root, "gained2") == []


def test_what_is_gained_is_hollow() -> None:
    best = lap(1, grid(lambda _: 50.0))
    quick = lap(2, grid(lambda place: 60.0 if 900.0 <= place <= 1100.0 else 45.0, number=2))
    root = drawn(session_with(best, quick, corners=(mark(1, 700.0),)), 1)
    (gained,) = strokes(root, "gained2")
    (core,) = (stroke for stroke in strokes(root, "panel") if stroke.get("d") == gained.get("d"))
    assert float(core.get("stroke-width", 0)) < float(gained.get("stroke-width", 0))


def test_marks_stand_where_the_map_has_them() -> None:
    root = drawn(slow_between(900.0, 1100.0), 1)
    names = [title.text for title in root.iter(f"{SVG}title")]
    assert names == ["the line"] + [f"{what} of turn {n}" for n in (1, 2) for what in ("brakes", "exit", "apex")]
    assert {"1", "2"} <= set(texts(root))


def test_a_corner_that_is_not_coached_has_no_brake_mark() -> None:
    session = session_with(lap(1, grid(lambda _: 50.0)), corners=(mark(1, 700.0, coached=False),))
    assert "brakes of turn 1" not in [title.text for title in drawn(session, 0).iter(f"{SVG}title")]


def test_a_stretch_over_the_line_is_drawn_in_one_piece() -> None:
    corner = mark(1, 20.0)
    session = session_with(lap(1, grid(lambda _: 50.0)), corners=(corner,))
    first, last = stretch_of(corner, LENGTH)
    assert first > last
    (edge, _) = (p for p in drawn(session, 0, (first, last)).iter(f"{SVG}path") if p.get("stroke") == LIGHT["edge"])
    line = points(edge.get("d", ""))
    longest = max(np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(line))
    whole = sum(np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(line))
    assert longest < 0.05 * whole


def test_a_lap_without_positions_is_a_straight_ribbon() -> None:
    session = session_with(lap(1, grid(lambda _: 50.0, position=False)), corners=(mark(1, 700.0),))
    root = drawn(session, 0)
    (driven,) = strokes(root, "even")
    assert len({y for _, y in points(driven.get("d", ""))}) == 1


def parts(*lost: tuple[int | None, str, float]) -> tuple[LossPart, ...]:
    return tuple(LossPart(corner, phase, seconds) for corner, phase, seconds in lost)


def test_seconds_add_up_to_the_lap(session: KeptSession) -> None:
    seconds = seconds_of(session)
    deltas = [lap.delta for lap in session.laps if lap.parts and lap.delta is not None]
    assert seconds is not None and seconds.laps == len(deltas) > 0
    assert seconds.mean == pytest.approx(sum(deltas) / len(deltas), abs=ROUNDED)
    assert sum(row.total for row in seconds.rows) == pytest.approx(sum(deltas), abs=ROUNDED * len(deltas))


def test_bars_are_as_long_as_what_was_lost() -> None:
    one = lap(1, None, parts=parts((1, "braking", 0.3), (1, "exit", 0.1), (2, "entry", -0.2), (None, "straight", 0.1)))
    seconds = seconds_of(session_with(one))
    assert seconds is not None
    root = parsed(draw_seconds(seconds))
    bars = {tone: [] for tone in PHASES}  # type: ignore[var-annotated]
    for rect in list(root.iter(f"{SVG}rect")):
        for tone in PHASES:
            if rect.get("fill") == ("url(#stripes)" if tone == "exit" else LIGHT[tone]):
                bars[tone].append(float(rect.get("width", 0)))
    scale = bars["braking"][-1] / 0.3
    assert bars["exit"][-1] == pytest.approx(0.1 * scale, rel=0.01)
    assert bars["entry"][-1] == pytest.approx(0.2 * scale, rel=0.01)
    assert bars["straight"][-1] == pytest.approx(0.1 * scale, rel=0.01)
    assert texts(root)[-3:] == ["+0.100", "turn 2", "-0.200"]


def test_many_places_are_added_up_in_one_bar() -> None:
    one = lap(1, None, parts=parts(*((n, "entry", 0.01 * n) for n in range(1, 31))))
    seconds = seconds_of(session_with(one))
    assert seconds is not None
    shown = texts(parsed(draw_seconds(seconds)))
    assert "16 others" in shown and f"{sum(0.01 * n for n in range(1, 17)):+.3f}" in shown


def test_laps_stand_higher_the_longer_they_took() -> None:
    laps = [lap(n, grid(lambda _, v=v: v, number=n)) for n, v in enumerate((50.0, 49.9, 49.8))]
    centres = [float(c.get("cy", 0)) for c in parsed(draw_laps(laps)).iter(f"{SVG}circle")][1:]
    assert centres == sorted(centres, reverse=True) and len(set(centres)) == 3


def test_a_very_slow_lap_does_not_press_the_others_flat() -> None:
    laps = [lap(n, grid(lambda _, v=v: v, number=n)) for n, v in enumerate((50.0, 49.5))]
    alone = [c.get("cy") for c in parsed(draw_laps(laps)).iter(f"{SVG}circle")]
    slow = lap(3, grid(lambda _: 10.0, number=3), clean=False)
    assert [c.get("cy") for c in parsed(draw_laps([*laps, slow])).iter(f"{SVG}circle")] == alone


@pytest.mark.parametrize("hostile", HOSTILE)
def test_a_trend_with_hostile_labels_is_well_formed(hostile: str) -> None:
    day = Day(1, None, hostile, hostile, "pace", Steadiness(3, 2, 60.0, 61.0, 0.5, 0.66, 2))
    bare = Day(2, None, "", None, "pace", Steadiness(0, 0, None, None, None, None, 0))
    root = parsed(draw_trend([day, bare]))
    assert root.tag == f"{SVG}svg" and "66 %" in texts(root)
    parsed(draw_trend([bare]))


def test_all_pictures_are_there_and_whole(session: KeptSession, found: Review) -> None:
    made = pictures(session, found)
    assert list(made) == ["map", "seconds", "laps", "channels"]
    for text in made.values():
        root = parsed(text)
        assert "nan" not in text and "inf" not in text
        assert not [e for e in root.iter() for key in e.attrib if key.endswith("href")]
        assert "var(" not in text


def test_a_session_with_nothing_has_no_pictures() -> None:
    assert pictures(KeptSession(), Review()) == {}


def test_a_renderer_draws_them(session: KeptSession, found: Review) -> None:
    """By resvg: the lost tone is there in pixels, and the ground is light."""
    resvg = pytest.importorskip("resvg_py", reason="the pictures' renderer is an extra: pip install '.[debrief]'")
    image = pytest.importorskip("PIL.Image")
    for name, text in pictures(session, found).items():
        with image.open(BytesIO(bytes(resvg.svg_to_bytes(svg_string=text)))) as png:
            pixels = np.asarray(png.convert("RGB")).reshape(-1, 3)
        assert (pixels == 255).all(axis=1).mean() > 0.5, name
        assert (pixels < 128).all(axis=1).any(), name


def test_channels_are_drawn_once_for_each_lap(session: KeptSession) -> None:
    screen = screen_of(session)
    assert screen is not None
    root = parsed(draw_channels(screen, (0, 1), session.corners))
    lines = [path for path in root.iter(f"{SVG}path") if len(points(path.get("d", ""))) == len(screen.places)]
    assert len(lines) == 2 * 5


def test_a_channel_that_was_not_sent_is_said(session: KeptSession) -> None:
    bare = session_with(lap(1, grid(lambda _: 50.0)))
    screen = screen_of(bare)
    assert screen is not None
    del screen.strips[0].lap.grid
    shown = texts(parsed(draw_channels(screen, (0,), ())))
    assert "not sent" not in shown  # throttle was sent, brake was not: pedals are half there
    without = screen_of(session_with(lap(1, _without(("throttle", "gear")))))
    assert without is not None
    assert texts(parsed(draw_channels(without, (0,), ()))).count("not sent") == 2


def _without(names: tuple[str, ...]):  # type: ignore[no-untyped-def]
    driven = grid(lambda _: 50.0)
    for name in names:
        del driven.channels[name]
    return driven
