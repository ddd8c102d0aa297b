"""What was learned today, and before it of what today has not shown often enough."""

from __future__ import annotations

from typing import Any

from coach.engine.scatter import USUAL
from coach.store.plain import text_of, value_of
from coach.vocabulary.errors import FormatError


def merged(kept: str | None, today: list[Any]) -> str:
    """`kept` (JSON) and `today`: rows of a corner, a feature and its values, or its one value. A corner's passes count
    from `USUAL` of them on; until then the day before knows more."""
    rows = {(corner, feature): value for corner, feature, value in today}
    try:
        for corner, feature, value in value_of(kept) or []:
            mine = rows.get((corner, feature))
            if mine is None or (isinstance(mine, list) and len(mine) < min(USUAL, len(value))):
                rows[corner, feature] = value
    except (FormatError, TypeError, ValueError):
        rows = {(corner, feature): value for corner, feature, value in today}  # what was kept is damaged
    return text_of([[corner, feature, value] for (corner, feature), value in rows.items()])
