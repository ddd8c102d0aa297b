"""An overlay in a process of its own, for the tests of its window: `python -m tests.overlay.child '{"kind": "edge"}'`.

The options are those of `open_overlay`, by name: `kind`, `remember`, `placing` and `look` as tables.

A thread takes the engine's part: it sends a moment 60 times a second and a delta ten times. Lines on standard input:
a number is the delta from now on, `lost` and `back` are said of the stream, `end` ends it.
"""

from __future__ import annotations

import json
import sys
import threading
import time
from pathlib import Path

from coach.overlay.look import Look
from coach.overlay.overlay import Overlay, open_overlay
from coach.overlay.placing import Placing
from coach.vocabulary.errors import WorkError
from coach.vocabulary.events import Delta, Moment, Reference, Stream
from tests.planner.made_circuit import lap_trace

RATE = 60


class Engine:
    """Stands in for it: the car stays in a corner, the delta is what was last asked for."""

    def __init__(self, overlay: Overlay) -> None:
        self._overlay = overlay
        self.delta: float | None = None
        self.ended = False

    def run(self) -> None:
        began, sample = time.monotonic(), 0
        self._overlay.take(Reference(0.0, 1, 40.0, "made", lap_trace()))
        while not self.ended:
            t = sample / RATE
            if self.delta is not None and sample % 6 == 0:
                self._overlay.take(Delta(t, 1, 500.0, self.delta, 40.0))
            self._overlay.take(Moment(t, 1, 500.0, 30.0, 0.2, 0.0, 15.0))
            sample += 1
            time.sleep(max(0.0, began + sample / RATE - time.monotonic()))

    def obey(self) -> None:
        """Until standard input closes or says `end`."""
        for line in sys.stdin:
            word = line.strip()
            if word == "end":
                break
            if word in ("lost", "back"):
                self._overlay.take(Stream(0.0, 1, word, 0.0, None))
            else:
                self.delta = float(word)
        self.ended = True


def main() -> None:
    options = json.loads(sys.argv[1])
    remember = Path(options["remember"]) if "remember" in options else None
    try:
        overlay = open_overlay(
            lambda line: print(line, flush=True),
            Look(**options.get("look", {})),
            Placing(**options.get("placing", {})),
            options.get("kind", "edge"),
            remember,
        )
    except WorkError as error:
        print(error, flush=True)
        return
    print("open", flush=True)
    engine = Engine(overlay)
    for work in (engine.run, engine.obey):
        threading.Thread(target=work, daemon=True).start()
    overlay.run(lambda: engine.ended)
    time.sleep(0.2)  # the session goes on for a while
    print("session still runs" if not engine.ended else "ended", flush=True)


if __name__ == "__main__":
    main()
