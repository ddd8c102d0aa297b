"""The scores of many drives, pooled, as Markdown."""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Iterable, Sequence

from .cast import DRIVERS
from .intervals import poisson, wilson
from .planting import OTHER_SIZES, SIZES
from .score import Event, Found, Score


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """One Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def whole(scores: Sequence[Score]) -> str:
    """One line a scatter: all that the bar asks for."""
    head = (
        "driver", "found of paying", "small found", "false in 100 clean passes", "others a mistake", "cue is right",
        "cost error, median s", "late", "lap time, worst ms", "parts, worst ms",
    )  # fmt: skip
    names = [name for name in DRIVERS if any(score.scatter == name for score in scores)]
    return table(head, [[name, *figures([s for s in scores if s.scatter == name])] for name in names])


def figures(scores: Sequence[Score]) -> list[str]:
    """The figures of one line."""
    found = [one for score in scores for one in score.found]
    pays, small = [one for one in found if one.pays], [one for one in found if not one.pays]
    hits, clean, false = _hits(pays), sum(s.clean for s in scores), sum(len(s.false) for s in scores)
    low, high = poisson(false)
    others = sum(len(one.instead) for one in found)
    right, wrong = sum(one.cues_right for one in found), sum(len(one.cues_wrong) for one in found)
    errors = [one.cost_error for one in found if one.cost_error is not None]
    laps = [error for score in scores for error in score.lap_errors]
    parts = [residual for score in scores for residual in score.residuals]
    hundred = 100.0 / max(clean, 1)
    return [
        share(hits, len(pays)),
        f"{_hits(small)}/{len(small)}",
        f"{false * hundred:.2f} ({low * hundred:.2f} to {high * hundred:.2f}; {false}/{clean})",
        f"{others / max(len(found), 1):.2f}",
        share(right, right + wrong),
        f"{statistics.median(errors):.3f}" if errors else "-",
        str(sum(one.late is not None for one in found)),
        f"{1000 * max(laps, default=0.0):.1f}",
        f"{1000 * max(parts, default=0.0):.2f}",
    ]


def by_kind(scores: Sequence[Score], sizes: Iterable[str] = SIZES) -> str:
    """Recall of each kind, by scatter."""
    rows = []
    for kind in sizes:
        row = [kind]
        for name in DRIVERS:
            own = [o for s in scores if s.scatter == name for o in s.found if o.fault.kind == kind and o.pays]
            row.append(share(_hits(own), len(own)) if own else "-")
        all_own = [o for s in scores for o in s.found if o.fault.kind == kind]
        row.append(f"{_hits(o for o in all_own if not o.pays)}/{sum(not o.pays for o in all_own)}")
        row.append(str(sum(gone[0] == kind for s in scores for gone in s.swallowed)))
        instead = Counter(e["fault"] for o in all_own for e in o.instead)
        row.append(", ".join(f"{name} {number}" for name, number in instead.most_common()) or "-")
        rows.append(row)
    head = ("planted", *(f"found, {name}" for name in DRIVERS), "small found", "swallowed", "others in its corner")
    return table(head, rows)


def false_by_kind(scores: Sequence[Score]) -> str:
    """False alarms by what they say, by scatter."""
    counts = {name: Counter(e["fault"] for s in scores if s.scatter == name for e in s.false) for name in DRIVERS}
    kinds = sorted({kind for count in counts.values() for kind in count})
    return table(("false alarm", *DRIVERS), [[kind, *(str(counts[name][kind]) for name in DRIVERS)] for kind in kinds])


def other_kinds(scores: Sequence[Score]) -> str:
    """The other kinds, from drives of their own: how many are found, and what is reported instead."""
    rows = []
    for kind in OTHER_SIZES:
        own = [one for score in scores for one in score.found if one.fault.kind == kind]
        instead = Counter(e["fault"] for one in own for e in one.instead if one.hit is None)
        told = ", ".join(f"{name} {number}" for name, number in instead.most_common()) or "-"
        silent = sum(one.hit is None and not one.instead for one in own)
        rows.append([kind, share(_hits(own), len(own)) if own else "-", told, str(silent)])
    return table(("planted", "found", "reported instead", "nothing reported"), rows)


def lists(scores: Sequence[Score]) -> str:
    """Every miss, false alarm, other finding, wrong cue and late report, with its numbers."""
    lines = []
    for score in scores:
        for one in score.found:
            fault = one.fault
            where = f"{score.name} lap {fault.lap} corner {fault.corner}"
            what = f"{fault.kind} planted {fault.planted:.2f} measured {fault.size:.2f} lost {fault.lost:+.3f}"
            if one.hit is None:
                instead = "; ".join(_told(e) for e in one.instead) or "nothing"
                lines.append(f"{'MISSED' if one.pays else 'small '} {where}: {what}; told: {instead}")
            lines += [f"ALSO   {where}: {what}; {_told(e)}" for e in one.instead]
            lines += [f"CUE    {where}: {what}; about {e['about']}: {e['text']}" for e in one.cues_wrong]
            if one.late is not None:
                lines.append(f"LATE   {where}: {what}; {one.late:.2f} s behind the exit")
            if one.cost_error is not None and one.cost_error > 0.15:
                lines.append(f"COST   {where}: {what}; {_told(one.hit or {})}")
        for kind, lap, corner, planted, measured in score.swallowed:
            lines.append(f"gone   {score.name} lap {lap} corner {corner}: {kind} {planted:.2f} measured {measured:.2f}")
        lines += [f"FALSE  {score.name} lap {e['lap']} corner {e['corner']}: {_told(e)}" for e in score.false]
    return "\n".join(lines)


def share(hits: int, tries: int) -> str:
    """A share in per cent, its interval, and the numbers behind it."""
    if not tries:
        return "-"
    low, high = wilson(hits, tries)
    return f"{100 * hits / tries:.1f} % ({100 * low:.1f} to {100 * high:.1f}; {hits}/{tries})"


def _hits(found: Iterable[Found]) -> int:
    return sum(one.hit is not None for one in found)


def _told(event: Event) -> str:
    size, place = f"{event['size']} {event['unit']}", event["distance"]
    rest = f"also {event.get('also')} {event.get('evidence')}"
    return f"{event['fault']} {size} net {event['net']} cost {event['cost']} at {place} {rest}"
