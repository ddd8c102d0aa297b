"""Where the seconds are: the table and the picture, and the driven line with the charts."""

from __future__ import annotations

from collections.abc import Sequence

from coach.debrief.channels import draw_channels, role
from coach.debrief.lossmap import HOLLOW, WIDTHS, Land, draw_map, meanings
from coach.debrief.markup import Cell, Column, Html, html, join, picture, table, tag
from coach.debrief.numerals import count, signed
from coach.debrief.seconds import Seconds, draw_seconds
from coach.debrief.strips import BINS, Screen, Strip
from coach.review.results import CornerLoss
from coach.review.words import place_of
from coach.vocabulary.events import PHASES, CornerMark
from coach.vocabulary.laptime import lap_time

SHADES = (0.02, 0.1, 0.3)
"""s a lap from which on a cell is shaded, lightly and more (choice: under 0.02 is scatter, 0.1 a corner is much)."""

SAME_TIME = 0.0005
"""s: lap times that differ by less read the same."""


def shade(seconds: float | None) -> str | None:
    """The class of a cell with s a lap."""
    if seconds is None or abs(seconds) < SHADES[0]:
        return None
    strength = sum(abs(seconds) >= least for least in SHADES)
    return f"{'lost' if seconds > 0.0 else 'gained'}{strength}"


def number(seconds: float | None) -> Cell:
    """A cell with s, shaded by how much it is."""
    return Cell(signed(seconds), shade(seconds))


def seconds_part(seconds: Seconds, losses: Sequence[CornerLoss]) -> Html:
    """By corner and phase, the costliest place first; the foot is the mean lap's delta."""
    medians = {loss.corner: loss for loss in losses}
    columns = [
        *(Column("place"), *(Column(phase, True) for phase in PHASES), Column("mean lap", True)),
        *(Column("median lap", True), Column("by exit", True), Column("in all", True)),
    ]
    rows: list[list[str | Cell]] = []
    for row in seconds.rows:
        loss = medians.get(row.corner)
        phases = [number(row.phases.get(phase)) for phase in PHASES]
        middle, by_exit = (None, None) if loss is None else (loss.a_lap, loss.by_exit)
        sums: list[str | Cell] = [number(row.mean), signed(middle), signed(by_exit), signed(row.total)]
        rows.append([place_of(row.corner), *phases, *sums])
    means = [sum(row.phases.get(phase, 0.0) for row in seconds.rows) for phase in PHASES]
    total = sum(row.total for row in seconds.rows)
    foot: list[str | Cell] = ["the lap", *map(signed, means), signed(seconds.mean), "", "", signed(total)]
    words = (
        f"Seconds to the reference that each lap had, + is lost. The phases and the mean lap are means over "
        f"{count(seconds.laps, 'lap')}: they add up. The median lap is not moved by one odd lap. By exit: what of the "
        "straight the speed at the corner's exit explains, the median. In all: the sum of the laps."
    )
    drawn = picture(draw_seconds(seconds), "Bars: the mean seconds lost at each place, by phase")
    return join([tag("p", words), drawn, table("Seconds by corner and phase", columns, rows, foot, class_="shaded")])


def map_part(screen: Screen, place: Land, corners: Sequence[CornerMark]) -> Html:
    """The line of one lap on the circuit; with the page's script of any lap, whole or corner by corner."""
    strip = screen.strips[screen.middle]
    lead = "Bar: brakes; dot with number: apex; arrow: exit."
    which = _name(screen, screen.middle)
    drawn = picture(draw_map(place, strip, corners), f"The driven line of {which} on the circuit")
    return join(
        [
            tag("p", f"{lead} {_held(screen)}{_notes(screen)}"),
            _map_controls(screen, corners),
            Html("") if screen.alone else tag("ul", *(_key(*each) for each in meanings(screen.scale)), class_="key"),
            tag("div", drawn, id="map"),
            tag("p", f"Drawn: {which}.", class_="soft", id="map-words"),
        ]
    )


def _held(screen: Screen) -> str:
    if screen.alone:
        return "It is the only lap, so there is none to hold it against."
    return f"Held against {screen.against}."


def _notes(screen: Screen) -> str:
    """What else is to be known of what the laps are held against, and of where they are drawn."""
    found = ""
    if any(_had_another(strip) for strip in screen.strips):
        found += " Some laps had another reference while they were driven: the seconds above are to that one."
    if screen.base is None:
        found += " There is no x and y in this stream, so the lap is drawn straight."
    elif all(strip.xs is None for strip in screen.strips):
        found += " There is no x and y in this stream, so the line is the reference's."
    elif not screen.has_line:
        found += " It has no x and y, so its line is not drawn."
    return found


def _had_another(strip: Strip) -> bool:
    had, against = strip.lap.reference_time, float(strip.time[-1] - strip.delta[-1])
    return had is not None and abs(had - against) > SAME_TIME


def _key(index: int, text: str) -> Html:
    lines = f'<line x1="0" y1="5" x2="30" y2="5" stroke-width="{WIDTHS[index]}" class="s-{BINS[index]}"/>'
    if index < 2:
        lines += f'<line x1="0" y1="5" x2="30" y2="5" stroke-width="{WIDTHS[index] - HOLLOW:.1f}" class="s-panel"/>'
    return tag("li", Html(f'<svg viewBox="0 0 30 10" aria-hidden="true">{lines}</svg>'), tag("span", text))


def _map_controls(screen: Screen, corners: Sequence[CornerMark]) -> Html:
    laps = [
        tag(
            "option",
            _name(screen, index),
            value=str(index),
            selected="selected" if index == screen.middle else None,
        )
        for index in range(len(screen.strips))
    ]
    turns = [tag("option", f"turn {mark.corner}", value=str(mark.corner)) for mark in corners]
    return tag(
        "div",
        tag("label", html("lap on the map "), tag("select", *laps, id="map-lap")),
        tag("label", html("show "), tag("select", tag("option", "the whole lap", value=""), *turns, id="stretch")),
        class_="live-only controls",
    )


def _name(screen: Screen, index: int) -> str:
    lap = screen.strips[index].lap
    state = "" if lap.clean else ", not clean"
    return f"lap {lap.number} {lap_time(lap.time)}{state}{role(screen, index)}"


def channels_part(screen: Screen, corners: Sequence[CornerMark]) -> Html:
    """Speed, pedals, gear and delta: the live charts, and a still picture for paper and where there are none."""
    boxes = [
        tag(
            "label",
            tag(
                "input",
                type="checkbox",
                class_="lap",
                value=str(index),
                checked="checked" if index in screen.shown else None,
            ),
            Html(
                '<svg class="swatch" viewBox="0 0 30 6" aria-hidden="true"><line x1="0" y1="3" x2="30" y2="3"/></svg>'
            ),
            tag("span", _name(screen, index)),
        )
        for index in range(len(screen.strips))
    ]
    chosen = tag("fieldset", tag("legend", "laps in the charts"), *boxes, class_="laps", tabindex="-1")
    last = len(screen.places) - 1
    slider = Html(f'<input type="range" id="place" min="0" max="{last}" value="0" step="1">')
    controls = tag(
        "div",
        tag("label", html("place on the lap "), tag("span", "0 m", id="place-words"), class_="nowrap", for_="place"),
        slider,
        class_="live-only controls",
    )
    live = tag(
        "div",
        chosen,
        tag("p", "Drag over a chart to zoom, double-click for the whole lap. The map follows.", class_="soft"),
        tag("div", tag("div", id="chart"), tag("div", id="cursor", class_="cursor"), class_="chart"),
        class_="chart-only",
    )
    still = tag(
        "div",
        picture(draw_channels(screen, screen.shown, corners), "Speed, pedals, gear and delta against distance"),
        class_="chart-still",
    )
    readout = tag("div", id="readout", class_="live-only wide")
    held = "" if screen.alone else f" Delta: to {screen.against}."
    return join(
        [tag("p", f"Against the distance from the line; numbers: apexes.{held}"), live, still, controls, readout]
    )
