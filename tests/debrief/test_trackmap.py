"""The picture of a lap, read back as XML: what is drawn lies where it was driven, and its words can be read."""

from __future__ import annotations

from functools import cache
from itertools import combinations, pairwise
from math import atan2, hypot, pi

import numpy as np
import pytest
from colorspacious import cspace_convert, deltaE  # type: ignore[import-untyped]
from shapely.geometry import LineString, Point, box  # type: ignore[import-untyped]
from wcag_contrast_ratio import rgb  # type: ignore[import-untyped]

from coach.debrief.road import Piece
from coach.debrief.trackmap import COLOURS, FIRST, GROUND, INK, MARK, SOFT, STROKE, Scene, Side, Utterance, draw
from tests.debrief.scenes import LENGTH, RADIUS, SVG, boxes, driven, lap, parsed, paths, points, said, scene, texts

OKABE_ITO = {"#000000", "#e69f00", "#56b4e9", "#009e73", "#f0e442", "#0072b2", "#d55e00", "#cc79a7"}
"""Okabe and Ito, Color Universal Design (2008)."""


def share(colour: str) -> tuple[float, float, float]:
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return red, green, blue


def view(text: str) -> tuple[float, float]:
    left, top, width, height = (float(number) for number in parsed(text).get("viewBox", "").split())
    assert (left, top) == (0.0, 0.0)
    return width, height


def circle(text: str) -> tuple[tuple[float, float], float]:
    """Middle and radius (px) of the round road."""
    (road,) = paths(parsed(text), "road", "id")
    xs, ys = [x for x, _ in road], [y for _, y in road]
    return ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2), (max(xs) - min(xs)) / 2


@pytest.mark.parametrize(("group", "sign"), [("left", -1.0), ("right", 1.0)])
def test_a_stroke_lies_beside_the_road_that_was_driven_while_it_sounds(group: str, sign: float) -> None:
    """Driven to the left, the left side is the inside. Seen from above, y of the world points up."""
    cue = said(1, 300.0, 500.0)
    text = draw(scene(cue) if group == "left" else scene(second=(cue,)))
    (middle_x, middle_y), radius = circle(text)
    strokes = paths(parsed(text), group)
    assert len(strokes) == 1
    for x, y in strokes[0]:
        assert hypot(x - middle_x, y - middle_y) == pytest.approx(radius + sign * FIRST, abs=0.3)
    (road,) = paths(parsed(text), "road", "id")
    begin = atan2(middle_y - road[0][1], road[0][0] - middle_x)
    ends = [(atan2(middle_y - y, x - middle_x) - begin) % (2 * pi) * RADIUS for x, y in (strokes[0][0], strokes[0][-1])]
    metre = RADIUS / radius
    assert ends == pytest.approx([300.0, 500.0], abs=2.0 * metre)


def test_what_both_sides_say_is_told_apart_without_colour() -> None:
    root = parsed(draw(scene(said(1, 300.0, 500.0), second=(said(1, 300.0, 500.0),))))
    hollow = [path for path in root.iter(f"{SVG}path") if path.get("class") == "hollow"]
    assert len(hollow) == 1 and points(hollow[0].get("d", "")) == paths(root, "right")[0]
    assert any("left of the road: 1 said" in text for text in texts(root))
    assert any("right of the road: 1 said" in text for text in texts(root))


def test_what_sounds_over_the_line_is_one_stroke_on_a_circuit_and_two_on_a_ribbon() -> None:
    over = driven(LENGTH - 100.0, LENGTH + 80.0)
    assert len(paths(parsed(draw(scene(Utterance(1, 1, None, "Next, brake later", over)))), "left")) == 1
    flat = driven(LENGTH - 100.0, LENGTH + 80.0, position=False)
    text = draw(scene(Utterance(1, 1, None, "Next, brake later", flat), outline=lap(position=False)))
    (road,) = paths(parsed(text), "road", "id")
    first, second = paths(parsed(text), "left")
    assert {y for _, y in road} == {road[0][1]} and all(x < then for (x, _), (then, _) in pairwise(road))
    metre = (road[-1][0] - road[0][0]) / LENGTH
    assert first[0][0] - road[0][0] == pytest.approx((LENGTH - 100.0) * metre, abs=1.0)
    assert second[-1][0] - road[0][0] == pytest.approx(80.0 * metre, abs=1.0)
    assert {y for line in (first, second) for _, y in line} == {road[0][1] - FIRST}, "left of the driving is above"


def test_the_same_words_at_one_corner_share_lane_and_label_and_others_do_not() -> None:
    again = [said(lap, 300.0 + lap, 500.0 + lap, lap=lap) for lap in (1, 2, 3, 5)]
    other = said(9, 350.0, 450.0, "Throttle sooner", lap=4)
    text = draw(scene(*again, other))
    (middle_x, middle_y), radius = circle(text)
    strokes = paths(parsed(text), "left")
    out = [round(radius - hypot(line[0][0] - middle_x, line[0][1] - middle_y)) for line in strokes]
    assert len(strokes) == 5 and out[:4] == [round(FIRST)] * 4
    assert out[4] - out[0] >= STROKE, "another lane"
    assert {"laps 1-3, 5; 4 times", "lap 4; cue 9"} <= set(texts(parsed(text)))
    assert len(boxes(parsed(text))) == 2


@cache
def crowded_text() -> str:
    return draw(crowded())


def crowded() -> Scene:
    """60 different things on 2.5 km: more than there is room for beside the road."""
    cues = [
        said(n, 40.0 * n, 40.0 * n + 70.0, f"Words of the cue that has the number {n}", corner=n) for n in range(60)
    ]
    return scene(*cues[::2], second=tuple(cues[1::2]))


@pytest.mark.parametrize("kind", ["two", "many", "crowded"])
def test_labels_lie_inside_and_never_over_each_other_nor_the_road(kind: str) -> None:
    many = [said(n, 150.0 * n, 150.0 * n + 90.0, f"Throttle sooner {n}", corner=n) for n in range(1, 15)]
    made = {"two": scene(many[0], second=(many[0],)), "many": scene(*many, second=tuple(many))}
    text = crowded_text() if kind == "crowded" else draw(made[kind])
    width, height = view(text)
    root, labels = parsed(text), boxes(parsed(text))
    assert len(labels) == {"two": 2, "many": 28, "crowded": 60}[kind]
    for left, top, right, bottom in labels:
        assert left >= 0.0 and top >= 0.0 and right <= width and bottom <= height
    for one, other in combinations(labels, 2):
        assert not box(*one).intersects(box(*other))
    lines = paths(root, "road", "id") + paths(root, "left") + paths(root, "right")
    for line in lines:
        assert not any(LineString(line).intersects(box(*label)) for label in labels)


def test_a_leader_goes_from_a_stroke_to_its_words() -> None:
    root = parsed(draw(scene(said(1, 300.0, 500.0), second=(said(1, 900.0, 990.0),))))
    for group in ("left", "right"):
        (stroke,) = paths(root, group)
        leader = next(path for path in root.iter(f"{SVG}path") if path.get("class") == f"leader {group}")
        start, end = points(leader.get("d", ""))
        assert LineString(stroke).distance(Point(start)) < 0.2
        assert any(box(*one).distance(Point(end)) < 0.2 for one in boxes(root))


def test_words_are_large_enough_and_inside_their_box() -> None:
    """Widths as the fonts named in the picture have them at most: 0.57 of the height a letter, in the mean of English
    text (Verdana and DejaVu Sans, from memory)."""
    text = draw(scene(said(1, 300.0, 500.0, "Throttle a good bit sooner, at the third of the esses")))
    root = parsed(text)
    assert min(float(one.get("font-size", "0")) for one in root.iter(f"{SVG}text")) >= 11.0
    label = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "label left")
    ((left, top, right, bottom),) = boxes(root)
    lines = list(label.iter(f"{SVG}text"))
    assert " ".join(one.text or "" for one in lines[:-1]) == "Throttle a good bit sooner, at the third of the esses"
    for one in lines:
        x, y, size = (float(one.get(key, "nan")) for key in ("x", "y", "font-size"))
        assert left < x and x + 0.57 * size * len(one.text or "") <= right
        assert top + size <= y <= bottom - 3.0


def test_the_zones_of_the_reference_lie_on_the_road() -> None:
    text = draw(scene())
    root = parsed(text)
    (middle_x, middle_y), radius = circle(text)
    for name, length in (("brakes", 100.0), ("busy", 50.0)):
        (zone,) = paths(root, name, "id")
        assert all(hypot(x - middle_x, y - middle_y) == pytest.approx(radius, abs=0.5) for x, y in zone)
        assert LineString(zone).length / radius * RADIUS == pytest.approx(length, abs=2 * LENGTH / 400)
    assert "the reference brakes" in texts(root)
    without = Scene("A | B", "all laps", lap(), (Side("A"), Side("B")))
    assert "the reference brakes" not in texts(parsed(draw(without)))


def test_corners_stand_at_their_apex() -> None:
    text = draw(scene())
    (middle_x, middle_y), radius = circle(text)
    signs = {one.text: one for one in parsed(text).iter(f"{SVG}text") if one.get("class") == "corner"}
    assert set(signs) == {"1", "2"}
    (road,) = paths(parsed(text), "road", "id")
    begin = atan2(middle_y - road[0][1], road[0][0] - middle_x)
    for name, place in (("1", 700.0), ("2", 1500.0)):
        x, y = float(signs[name].get("x", "nan")), float(signs[name].get("y", "nan")) - 4.0
        assert (atan2(middle_y - y, x - middle_x) - begin) % (2 * pi) * RADIUS == pytest.approx(place, abs=5.0)
        assert hypot(x - middle_x, y - middle_y) == pytest.approx(radius, abs=1.0)


def test_the_longer_side_lies_across() -> None:
    """A circuit that is 200 m wide and 1 km high is laid down, and not mirrored: left stays left."""
    there, back = [float(n) for n in range(0, 1000, 10)], [float(n) for n in range(1000, 0, -10)]
    xs, ys = [200.0] * 100 + [0.0] * 100, there + back
    outline = Piece([10.0 * n for n in range(200)], xs, ys)
    text = draw(Scene("A | B", "", outline, (Side("A"), Side("B"))))
    (road,) = paths(parsed(text), "road", "id")
    across = max(x for x, _ in road) - min(x for x, _ in road)
    along = max(y for _, y in road) - min(y for _, y in road)
    assert across / along == pytest.approx(5.0, rel=0.05)
    turned = sum(x * then_y - then_x * y for (x, y), (then_x, then_y) in pairwise([*road, road[0]]))
    assert turned < 0.0, "to the left still, with y down"


def test_title_caution_and_mark() -> None:
    text = draw(scene())
    assert text.startswith(MARK + "\n<svg")
    assert "A Own | B Other" in texts(parsed(text)) and "For simulators." in texts(parsed(text))


def test_names_and_words_of_any_kind_are_text() -> None:
    odd = "<b>&\"'\x07\u2028]]>"
    made = Scene(odd, odd, lap(), (Side(odd, (said(1, 300.0, 400.0, odd),)), Side("B")))
    assert "<b>&\"'??]]>" in texts(parsed(draw(made)))


@pytest.mark.parametrize(
    "outline",
    [Piece(), Piece([5.0], [1.0], [2.0]), Piece([5.0] * 9, [1.0] * 9, [2.0] * 9)],
    ids=["none", "one", "still"],
)
def test_a_car_that_stood_still_is_a_picture_too(outline: Piece) -> None:
    made = Scene("A | B", "", outline, (Side("A", (Utterance(1, 1, None, "Brake later", outline),)), Side("B")))
    width, height = view(draw(made))
    assert width > 0.0 and height > 0.0


def test_the_same_picture_twice() -> None:
    assert draw(crowded()) == crowded_text()


def test_colours_are_of_the_set_and_stand_out() -> None:
    """WCAG 2.2, 1.4.3 and 1.4.11: 4.5:1 for text, 3:1 for graphics, by the library wcag-contrast-ratio."""
    assert set(COLOURS) <= OKABE_ITO
    assert min(rgb(share(colour), share(GROUND)) for colour in COLOURS) >= 3.0
    for ground in (GROUND, "#ffffff"):
        assert min(rgb(share(ink), share(ground)) for ink in (INK, SOFT)) >= 4.5


@pytest.mark.parametrize("deficiency", [None, "deuteranomaly", "protanomaly", "tritanomaly"])
def test_the_two_colours_differ_for_every_colour_vision(deficiency: str | None) -> None:
    """CAM02-UCS distance under full deficiency (Machado, Oliveira and Fernandes 2009, as in colorspacious). 40 is a
    choice: a green (0, 128, 0) and a red come to 17 and 8."""
    space = "sRGB1" if deficiency is None else {"name": "sRGB1+CVD", "cvd_type": deficiency, "severity": 100}
    seen = [np.clip(cspace_convert(share(colour), space, "sRGB1"), 0, 1) for colour in COLOURS]
    assert deltaE(*seen, input_space="sRGB1", uniform_space="CAM02-UCS") >= 40
