"""The live charts' figures, held against the charting library's own schema, and their packed numbers against numpy."""

from __future__ import annotations

import json
from base64 import b64decode
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from coach.debrief.figures import figure, live_map, packed
from coach.debrief.lossmap import land
from coach.debrief.strips import Screen, screen_of
from coach.review.model import KeptSession

CHANNELS = ["speed", "throttle", "brake", "gear", "delta"]


@pytest.fixture(scope="module")
def screen(session: KeptSession) -> Screen:
    found = screen_of(session)
    assert found is not None
    return found


@pytest.fixture(scope="module")
def made(screen: Screen, session: KeptSession) -> dict[str, Any]:
    return figure(screen, session.corners)


def unpacked(column: dict[str, str]) -> np.ndarray:  # type: ignore[type-arg]
    return np.frombuffer(b64decode(column["bdata"]), dtype=f"<{column['dtype']}")


def test_the_library_takes_it(made: dict[str, Any]) -> None:
    """Its own schema (plotly.graph_objects refuses what it does not know)."""
    graph = pytest.importorskip("plotly.graph_objects", reason="the charts are an extra: pip install '.[debrief]'")
    whole = graph.Figure(made)
    assert len(whole.data) == len(made["data"])
    assert whole.layout.hoversubplots == "axis"


def test_the_library_refuses_a_wrong_one(made: dict[str, Any]) -> None:
    graph = pytest.importorskip("plotly.graph_objects", reason="the charts are an extra: pip install '.[debrief]'")
    with pytest.raises(ValueError, match="hovermood"):
        graph.Figure({**made, "layout": {**made["layout"], "hovermood": "x"}})


def test_every_lap_has_every_channel(made: dict[str, Any], screen: Screen) -> None:
    for index in range(len(screen.strips)):
        assert [t["meta"]["channel"] for t in made["data"] if t["meta"]["lap"] == index] == CHANNELS


def test_the_best_and_the_middle_lap_are_shown_first(made: dict[str, Any], screen: Screen) -> None:
    shown = {trace["meta"]["lap"] for trace in made["data"] if trace["visible"]}
    assert shown == {screen.best, screen.middle}


def test_numbers_come_back_as_they_were(made: dict[str, Any], screen: Screen) -> None:
    steps = {"speed": 1e-4, "throttle": 0.51, "brake": 0.51, "gear": 1e-9, "delta": 1e-6}
    for trace in made["data"]:
        channel, strip = trace["meta"]["channel"], screen.strips[trace["meta"]["lap"]]
        column = getattr(strip, channel) * (-1.0 if channel == "brake" else 1.0)
        assert np.abs(unpacked(trace["y"]) - column).max() <= steps[channel]
        assert trace["x0"] + trace["dx"] * (len(column) - 1) == pytest.approx(screen.length)


def test_packing_does_not_wrap() -> None:
    assert unpacked(packed(np.array([-5.0, 300.0]), "u1")).tolist() == [0, 255]
    assert unpacked(packed(np.array([-500.0, 500.0]), "i1")).tolist() == [-128, 127]


def test_one_axis_of_distance_for_all(made: dict[str, Any]) -> None:
    assert {trace["xaxis"] for trace in made["data"]} == {"x"}
    assert {trace["yaxis"] for trace in made["data"]} == {"y", "y2", "y3", "y4"}


def test_fields_do_not_overlap(made: dict[str, Any]) -> None:
    domains = [made["layout"][name]["domain"] for name in ("yaxis", "yaxis2", "yaxis3", "yaxis4")]
    for (low, _), (_, below) in pairwise(domains):
        assert below < low


def test_no_text_is_markup(made: dict[str, Any], screen: Screen, session: KeptSession) -> None:
    """The library draws <b> and <a> in texts as such: there is nothing of a stream in them."""
    live = live_map(land(screen, 860.0, 560.0), session.corners)
    assert not set(json.dumps([made, live])) & set("<>&")


def test_the_map_has_every_lap_and_corner(screen: Screen, session: KeptSession) -> None:
    place = land(screen, 860.0, 560.0)
    live = live_map(place, session.corners)
    assert [each["number"] for each in live["laps"]] == [strip.lap.number for strip in screen.strips]
    assert list(live["corners"]) == [str(mark.corner) for mark in session.corners]
    for each, strip in zip(live["laps"], screen.strips, strict=True):
        assert unpacked(each["bins"]).tolist() == screen.bins(strip).tolist()
        xs, ys = unpacked(each["x"]), unpacked(each["y"])
        assert xs.min() > 0.0 and xs.max() < place.width and ys.min() > 0.0 and ys.max() < place.height
