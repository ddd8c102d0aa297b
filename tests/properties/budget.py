"""How many examples the properties try: few in the suite, `LONG_RUN` times as many where that is set.

`LONG_RUN=50 python -m pytest tests/properties` is the long run.
"""

from __future__ import annotations

import os

TIMES = int(os.environ.get("LONG_RUN", "1"))


def examples(number: int) -> int:
    """`number` in the suite."""
    return number * TIMES
