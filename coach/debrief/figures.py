"""The live charts: plain dicts as the charting library reads them, and what the page's own script draws the map from.

No text of these comes from a stream: laps are called by their numbers, corners too. Colours are set by the page.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable
from typing import Any

import numpy as np

from coach.debrief.channels import FIELDS, column_of
from coach.debrief.lossmap import HOLLOW, WIDTHS, Land, path_of, stretch_of
from coach.debrief.strips import BINS, Screen, Strip
from coach.debrief.tones import LINES
from coach.engine.lap import Floats
from coach.vocabulary.events import CornerMark

GAP = 0.03
"""of the chart's height between two fields."""
KINDS = {"speed": "f4", "throttle": "u1", "brake": "i1", "gear": "i1", "delta": "f4"}
"""How a channel is kept: as small as it may be."""
_LIMITS = {"u1": (0.0, 255.0), "i1": (-128.0, 127.0)}


def figure(screen: Screen, corners: Iterable[CornerMark]) -> dict[str, Any]:
    """Speed, pedals, gear and delta against distance, a trace for each lap and channel, on one axis of distance."""
    data = [
        _trace(screen, index, name, number, index in screen.shown)
        for number, field in enumerate(FIELDS, start=1)
        for index in range(len(screen.strips))
        for name in field.columns
        if column_of(screen.strips[index], name) is not None
    ]
    layout: dict[str, Any] = {
        "dragmode": "zoom",
        "hovermode": "x",
        "hoversubplots": "axis",
        "showlegend": False,
        "margin": {"l": 56, "r": 10, "t": 26, "b": 40},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "xaxis": {
            "range": [0.0, round(screen.length, 1)],
            "anchor": f"y{len(FIELDS)}",
            "title": {"text": "m from the line"},
            "zeroline": False,
        },
        "shapes": [],
        "annotations": [],
    }
    room = sum(field.height for field in FIELDS)
    top = 1.0
    for number, field in enumerate(FIELDS, start=1):
        height = field.height / room * (1.0 - GAP * (len(FIELDS) - 1))
        layout["yaxis" if number == 1 else f"yaxis{number}"] = {
            "domain": [round(max(top - height, 0.0), 4), round(top, 4)],
            "title": {"text": field.name},
            "fixedrange": True,
            "anchor": "x",
            "zeroline": field.columns[0] in ("throttle", "delta"),
            **_axis(field.columns[0]),
        }
        top -= height + GAP
    for mark in corners:
        apex = round(mark.apex % screen.length, 1)
        layout["shapes"].append(
            {"type": "line", "x0": apex, "x1": apex, "y0": 0, "y1": 1, "yref": "paper", "layer": "below"}
        )
        layout["annotations"].append(
            {"x": apex, "y": 1, "yref": "paper", "yanchor": "bottom", "text": str(mark.corner), "showarrow": False}
        )
    return {"data": data, "layout": layout}


def _axis(channel: str) -> dict[str, Any]:
    if channel == "throttle":
        return {"range": [-105, 105], "tickvals": [-100, 0, 100], "ticktext": ["brake", "0", "throttle"]}
    return {"tick0": 0, "dtick": 2} if channel == "gear" else {}


def _trace(screen: Screen, index: int, name: str, field: int, visible: bool) -> dict[str, Any]:
    strip = screen.strips[index]
    column = column_of(strip, name)
    assert column is not None
    return {
        "type": "scatter",
        "mode": "lines",
        "name": f"lap {strip.lap.number}",
        "meta": {"lap": index, "channel": name},
        "x0": 0.0,
        "dx": screen.length / (len(screen.places) - 1),
        "y": packed(column, KINDS[name]),
        "xaxis": "x",
        "yaxis": "y" if field == 1 else f"y{field}",
        "hoverinfo": "none",
        "visible": visible,
        "line": {"width": 1.6, "shape": "hv" if name == "gear" else "linear"},
    }


def packed(column: Floats, kind: str) -> dict[str, str]:
    """An array as the charting library unpacks it: the kind of number, and its bytes in base64."""
    whole = column
    if kind in _LIMITS:
        whole = np.clip(np.round(column), *_LIMITS[kind])
    return {"dtype": kind, "bdata": b64encode(whole.astype(f"<{kind}").tobytes()).decode("ascii")}


def live_map(place: Land, corners: Iterable[CornerMark]) -> dict[str, Any]:
    """What the page's script draws any lap on the map from: px of the picture, strokes, bins, and where corners are."""
    screen = place.screen
    step = screen.length / (len(screen.places) - 1)
    return {
        "step": step,
        "width": place.width,
        "height": place.height,
        "own": screen.own,
        "tones": BINS,
        "widths": WIDTHS,
        "hollow": HOLLOW,
        "lines": len(LINES),
        "laps": [_drawn(place, strip) for strip in screen.strips],
        "corners": {str(mark.corner): _stretch(mark, screen) for mark in corners},
    }


def _drawn(place: Land, strip: Strip) -> dict[str, Any]:
    points = place.every(path_of(place.screen, strip))
    xs, ys = np.array([x for x, _ in points]), np.array([y for _, y in points])
    return {
        "number": strip.lap.number,
        "x": packed(xs, "f4"),
        "y": packed(ys, "f4"),
        "bins": packed(place.screen.bins(strip).astype(np.float64), "u1"),
    }


def _stretch(mark: CornerMark, screen: Screen) -> list[float]:
    return [round(at, 1) for at in stretch_of(mark, screen.length)]
