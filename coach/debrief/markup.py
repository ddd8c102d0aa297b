"""HTML text: what is plain is escaped, what is `Html` is not, so that nothing from a stream can slip through."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

LABEL = 80
"""characters of a label from a stream, a file or a person that are shown."""
NOTE = 4000
"""characters of a free note that are shown."""
VOID = ("input",)
"""Elements without an end."""


class Html(str):
    """A text that is HTML already."""

    __slots__ = ()


def html(text: str) -> Html:
    """Plain text as it may stand in HTML and in quoted attributes: escaped, no control characters. Html stays."""
    if isinstance(text, Html):
        return text
    shown = "".join(character if character.isprintable() else "?" for character in text)
    return Html(escape(shown, {'"': "&quot;", "'": "&#39;"}))


def label(text: str | None, nothing: str, longest: int = LABEL) -> Html:
    """A label that somebody else chose, kept apart from the direction of the words around it; `nothing` for none."""
    if not text or not text.strip():
        return html(nothing)
    return Html(f"<bdi>{html(cut(text, longest))}</bdi>")


def cut(text: str, longest: int) -> str:
    """A text of at most `longest` characters."""
    return text if len(text) <= longest else text[: longest - 3] + "..."


def lines(text: str) -> Html:
    """A free note, line by line."""
    return Html("<br>".join(f"<bdi>{html(line)}</bdi>" for line in cut(text, NOTE).splitlines()))


def join(parts: Iterable[str], between: str = "") -> Html:
    """The parts, each as HTML, one behind the other."""
    return Html(between.join(html(part) for part in parts))


def tag(name: str, *inside: str, **attributes: str | None) -> Html:
    """An element; an attribute `class_` or `data_x` reads `class` or `data-x`, one that is None is left out."""
    given = {key.rstrip("_").replace("_", "-"): value for key, value in attributes.items() if value is not None}
    named = [f' {key}="{html(value)}"' for key, value in given.items()]
    end = "" if name in VOID else f"{join(inside)}</{name}>"
    return Html(f"<{name}{''.join(named)}>{end}")


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell of a table; `tone` names a class of it."""

    text: str
    tone: str | None = None


@dataclass(frozen=True, slots=True)
class Column:
    """A column's head; `number`: its cells stand to the right, in figures of one width."""

    head: str
    number: bool = False


def table(
    caption: str,
    columns: Sequence[Column],
    rows: Iterable[Sequence[str | Cell]],
    foot: Sequence[str | Cell] | None = None,
    **attributes: str | None,
) -> Html:
    """A table in a box that scrolls by itself where it is wider than the page. Each row's first cell heads it."""
    head = join(tag("th", column.head, scope="col", class_="n" if column.number else None) for column in columns)
    body = join(_row(columns, row) for row in rows)
    parts = [tag("caption", caption), tag("thead", tag("tr", head)), tag("tbody", body)]
    if foot is not None:
        parts.append(tag("tfoot", _row(columns, foot)))
    whole = tag("table", *parts, **attributes)
    return tag("div", whole, class_="wide", tabindex="0", role="region", aria_label=caption)


def _row(columns: Sequence[Column], cells: Sequence[str | Cell]) -> Html:
    parts = []
    for index, (column, cell) in enumerate(zip(columns, cells, strict=True)):
        text, tone = (cell.text, cell.tone) if isinstance(cell, Cell) else (cell, None)
        kinds = " ".join(kind for kind in ("n" if column.number else "", tone or "") if kind) or None
        if index == 0:
            parts.append(tag("th", text, scope="row", class_=kinds))
        else:
            parts.append(tag("td", text, class_=kinds))
    return tag("tr", *parts)


def section(name: str, title: str, *inside: str, level: int = 2) -> Html:
    """A part of the page under a heading."""
    heading = tag(f"h{level}", title, id=f"{name}-title")
    return tag("section", heading, *inside, id=name, aria_labelledby=f"{name}-title")


def fold(summary: str, *inside: str, name: str | None = None) -> Html:
    """What stays folded away until it is asked for."""
    named = f' id="{html(name)}"' if name else ""
    return Html(f"<details{named}>{tag('summary', summary)}{join(inside)}</details>")


def bullets(items: Iterable[str]) -> Html:
    """A list; empty for no items."""
    inside = join(tag("li", item) for item in items)
    return tag("ul", inside) if inside else Html("")


def picture(svg: str, words: str) -> Html:
    """A picture of ours (SVG text) with what it shows in words, in a box that scrolls by itself."""
    return tag("div", Html(svg), class_="picture", role="img", tabindex="0", aria_label=words)
