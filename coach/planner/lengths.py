"""How long a phrase takes to say."""

from __future__ import annotations

from collections.abc import Mapping

from coach.planner import rules


class PhraseLengths:
    """A table of measured lengths (phrase -> s), and an estimate that errs long for a phrase that is not in it."""

    def __init__(self, table: Mapping[str, float]) -> None:
        self._table = table

    def of(self, phrase: str) -> float:
        """s from the first sound to the last."""
        measured = self._table.get(phrase)
        if measured is not None:
            return measured
        return rules.WORD_TIME * len(phrase) + rules.WORD_BASE + rules.WORD_DOUBT
