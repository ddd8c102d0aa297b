"""HTML text and figures: what is plain is escaped, whatever it holds; numbers read as people write them."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime, timedelta
from html import unescape
from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.debrief.markup import Cell, Column, Html, bullets, cut, fold, html, join, label, lines, section, table, tag
from coach.debrief.numerals import count, luck, moment, nice, plain, readable, runs, share, signed, sized, ticks
from coach.debrief.shell import as_json
from tests.debrief.sessions import HOSTILE


class Elements(HTMLParser):
    """What a reader of HTML (the standard library's) takes a text for."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.mark.parametrize("hostile", HOSTILE)
def test_a_hostile_label_stays_words(hostile: str) -> None:
    for text in (
        label(hostile, "none"),
        tag("p", hostile),
        lines(hostile),
        table(hostile, [Column(hostile)], [[hostile], [Cell(hostile)]]),
        bullets([hostile]),
        fold(hostile, hostile),
        section("name", hostile, hostile),
    ):
        read = Elements(text)
        assert not {name for name, _ in read.tags} & {"script", "img", "b", "a"}
        assert all(not key.startswith("on") for _, keys in read.tags for key in keys)
        assert hostile[:1] in read.text


@pytest.mark.parametrize("hostile", HOSTILE)
def test_an_attribute_cannot_be_left(hostile: str) -> None:
    ((name, keys),) = Elements(tag("i", title=hostile)).tags
    assert name == "i" and list(keys) == ["title"]
    assert keys["title"] == "".join(c if c.isprintable() else "?" for c in hostile)


@given(st.text(max_size=40))
@settings(max_examples=60, deadline=None)
def test_any_text_is_read_back_as_it_was(text: str) -> None:
    shown = "".join(character if character.isprintable() else "?" for character in text)
    assert unescape(html(text)) == shown
    assert Elements(tag("p", text)).tags == [("p", {})]


@pytest.mark.parametrize("hostile", HOSTILE)
def test_json_in_a_script_cannot_end_it(hostile: str) -> None:
    text = as_json({hostile.replace("\ud800", ""): hostile})
    assert not set(text) & set("<>&\u2028\u2029")
    assert json.loads(text) == {hostile.replace("\ud800", ""): hostile}


def test_json_refuses_what_is_no_json() -> None:
    with pytest.raises(ValueError, match="JSON"):
        as_json([math.nan])


def test_html_is_not_escaped_twice() -> None:
    assert html(Html("<b>")) == "<b>"
    assert join(["<", Html("<br>")]) == "&lt;<br>"
    assert tag("input", type="checkbox", checked=None) == '<input type="checkbox">'


def test_labels_are_cut_and_missing_ones_said() -> None:
    assert label(None, "none") == label("  ", "none") == "none"
    assert len(cut("x" * 100, 80)) == 80
    assert lines("one\ntwo") == "<bdi>one</bdi><br><bdi>two</bdi>"


@pytest.mark.parametrize(
    ("found", "text"),
    [
        (signed(0.4124), "+0.412"),
        (signed(-0.0001), "+0.000"),
        (signed(None), "-"),
        (signed(math.nan), "-"),
        (share(0.625), "62 %"),
        (share(None), "-"),
        (luck(0.004), "less than 1 %"),
        (luck(0.16), "16 %"),
        (luck(None), "-"),
        (plain(-0.001, 2, "m"), "0.00 m"),
        (plain(math.inf), "-"),
        (sized(591.4, "rev/min"), "591 rev/min"),
        (sized(0.524, "s"), "0.52 s"),
        (count(1, "pass", "passes"), "1 pass"),
        (count(2, "pass", "passes"), "2 passes"),
        (runs([3, 1, 2, 5, 5]), "1-3, 5"),
        (runs([]), ""),
        (runs(range(1, 41, 2)), "1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23 and 8 more"),
    ],
)
def test_figures(found: str, text: str) -> None:
    assert found == text


@given(st.floats(0.0, 253_402_300_799.0))
@settings(max_examples=50, deadline=None)
def test_a_moment_is_the_date_that_the_standard_library_reckons(begun: float) -> None:
    expected = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=int(begun))
    stamp = moment(begun)
    assert stamp is not None
    assert datetime.fromisoformat(stamp) == expected
    assert readable(stamp) == expected.strftime("%Y-%m-%d %H:%M UTC").zfill(20)


@pytest.mark.parametrize("begun", [None, -1.0, 1e18, math.nan, math.inf])
def test_what_is_no_date_has_none(begun: float | None) -> None:
    assert moment(begun) is None


@given(st.floats(1e-6, 1e6))
@settings(max_examples=50, deadline=None)
def test_round_numbers_are_the_least_that_reach(size: float) -> None:
    found = nice(size)
    mantissa = found / 10.0 ** math.floor(math.log10(found) + 1e-9)
    assert min(abs(mantissa - step) for step in (1.0, 2.0, 5.0)) < 1e-6
    assert size * (1 - 1e-6) <= found <= size * 2.5 * (1 + 1e-6)


def test_ticks_lie_inside() -> None:
    assert ticks(0.0, 1000.0, 5) == [0.0, 200.0, 400.0, 600.0, 800.0, 1000.0]
    assert ticks(-0.31, 0.55, 4) == pytest.approx([0.0, 0.5])
