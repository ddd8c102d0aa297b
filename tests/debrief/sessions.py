"""Sessions to lay out: made drives through engine, planner and collector, as a drive is kept."""

from __future__ import annotations

from collections.abc import Iterable
from copy import deepcopy
from dataclasses import replace

from coach.app.line import Line
from coach.app.source import Source
from coach.app.start import fresh
from coach.review.collector import Collector
from coach.review.model import KeptSession
from feeds.generic import GenericFeed

BEGUN = 1_767_000_000.0
"""s since 1970: 2025-12-29, 09:20 UTC."""
DAY = 86_400.0
HOSTILE = (
    "</script><script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    '"><b onmouseover="alert(1)">',
    "' onload='alert(1)",
    "<a href='javascript:alert(1)'>x</a>",
    "a\u2028b\u2029c\u202ed\x00e\x1b[31m\ud800",
    "]]>--><!--",
    "&lt;script&gt; &amp;amp;",
    "${alert(1)}%{x}{{y}}",
)
"""Labels that try to be more than labels."""


def session_of(datagrams: Iterable[bytes]) -> KeptSession:
    """The drive as it is kept."""
    collector, start, feed = Collector(), fresh(Source(), None, ()), GenericFeed()
    line = Line(start.engine, start.planner, [], [collector])
    for data in datagrams:
        sample = feed.decode(data)
        collector.see(sample)
        line.push(sample, sample.t)
    line.finish()
    session = collector.sessions[0]
    session.begun = BEGUN
    return session


def grown(session: KeptSession, laps: int) -> KeptSession:
    """The same session with its laps over and over, until there are `laps`."""
    own = session.laps
    many = [replace(own[index % len(own)], number=index + 1, index=index) for index in range(laps)]
    return replace(session, laps=many)


def week(session: KeptSession, days: int = 3) -> list[KeptSession]:
    """The session again and again, a day apart, each a little quicker than the one before."""
    found = []
    for day in range(days):
        copy = deepcopy(session)
        copy.id, copy.begun = day + 1, BEGUN + day * DAY
        for lap in copy.laps:
            if lap.time is not None:
                lap.time -= 0.1 * day
        found.append(copy)
    return found
