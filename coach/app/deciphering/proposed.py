"""What the finder proposes, as a person reads it: each channel with place, unit and reason, and what is left out."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap

from coach.app.console import plain, words
from feeds.finder import Found, Proposal

WIDTH = 100
"""Characters of a line."""
REASON = 300
"""characters of a reason that are shown."""
_INDENT = " " * 4


def proposed(proposal: Proposal) -> list[str]:
    """The lines."""
    lines = ["FOUND", f"  {'channel':<18}{'byte':>5}  {'type':<6}{'sure':>5}  in the packet it is"]
    several = len(proposal.kinds) > 1
    for found in sorted(proposal.found, key=lambda one: (one.packet, one.offset)):
        lines += _line(found, proposal, several)
    if proposal.left_out:
        lines += ["", "LEFT OUT, as it could not be told"]
        for channel, why in proposal.left_out.items():
            lines += _wrapped(f"{words(channel)}: {plain(why, REASON)}", "  ")
    return lines


def _line(found: Found, proposal: Proposal, several: bool) -> Iterator[str]:
    kind = f", in {plain(proposal.kinds[found.packet].name)}" if several else ""
    sure = f"{100.0 * found.confidence:.0f} %"
    unit = plain(found.unit or "-", REASON)
    yield f"  {words(found.channel):<18}{found.offset:>5}  {found.type:<6}{sure:>5}  {unit}{kind}"
    yield from _wrapped(plain(found.why, REASON), _INDENT)


def _wrapped(text: str, indent: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent + "  ")
