"""The frame of a page: one HTML text that asks nothing of any network, and that no label can break out of."""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Iterable
from hashlib import sha256
from importlib.resources import files
from typing import Any

from coach.debrief.markup import Html, html, join, tag
from coach.debrief.tones import style

CAUTION = (
    "For simulators. A figure here says what the telemetry showed, not what a real car or road would forgive: "
    "do not take it to one."
)
MARK = "<!-- cornerword: debrief -->"
"""How a page of ours begins: such a file may be written anew, for it can be made again."""
_ASSETS = "assets"


def page(title: str, body: Iterable[str], data: dict[str, Any], charts: str | None) -> str:
    """The whole page. `data`: by name, what its script reads; `charts`: the charting library's script, or None."""
    scripts = [script for script in (charts, asset("page.js")) if script]
    runs = [_script(script) for script in scripts]
    allowed = " ".join(f"'sha256-{_digest(text)}'" for text in runs)
    policy = (
        f"default-src 'none'; script-src {allowed}; style-src 'unsafe-inline'; img-src data: blob:; "
        "base-uri 'none'; form-action 'none'"
    )
    head = [
        '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="referrer" content="no-referrer">',
        f"<title>{html(title)}</title>",
        f"<style>\n{style()}{asset('page.css')}</style>",
    ]
    parts = [
        "<!DOCTYPE html>",
        MARK,
        '<html lang="en">',
        "<head>",
        *head,
        "</head>",
        "<body>",
        '<main id="top">',
        join(body),
        "</main>",
        tag("footer", tag("p", CAUTION)),
        *(tag("script", as_json(value), type="application/json", id=f"data-{name}") for name, value in data.items()),
        *(f"<script>{text}</script>" for text in runs),
        "</body>",
        "</html>",
    ]
    return "\n".join(parts) + "\n"


def as_json(value: Any) -> Html:
    """JSON that may stand in a script element: no `<`, `>`, `&` and no line ends of Unicode stay as they are."""
    text = json.dumps(value, separators=(",", ":"), allow_nan=False, ensure_ascii=True)
    for character in "<>&":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return Html(text)


def asset(name: str) -> str:
    """The text of one of the files that belong to the page."""
    return files("coach.debrief").joinpath(_ASSETS, name).read_text(encoding="utf-8")


def _script(text: str) -> str:
    """A script as it may stand in a page: with line ends that no reader of HTML changes, and no end tag inside."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\0", "")
    return text.replace("</script", "<\\/script").replace("</SCRIPT", "<\\/SCRIPT").replace("<!--", "<\\!--")


def _digest(text: str) -> str:
    return b64encode(sha256(text.encode("utf-8")).digest()).decode("ascii")
