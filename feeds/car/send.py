"""Sends a drive's datagrams by UDP, at the pace of its clock or as fast as they are made."""

from __future__ import annotations

import json
import socket
import time
from collections.abc import Callable, Iterable
from contextlib import suppress

from coach.vocabulary.errors import WorkError
from feeds.car.drive import Row

LATE = 0.5
"""s that a sender that was held up makes good by hurrying; more is let go."""


def encode(row: Row) -> bytes:
    """One datagram of the generic stream, version 1."""
    return json.dumps(row, separators=(",", ":"), allow_nan=False).encode()


def send(rows: Iterable[Row], address: tuple[str, int], pace: float | None, stopped: Callable[[], bool]) -> int:
    """Send each row when its `t` comes, `pace` times as fast as it happened (None: at once); returns how many went.

    Ends early when `stopped` says so. Raises WorkError where nothing can be sent to `address`.
    """
    family = socket.AF_INET6 if ":" in address[0] else socket.AF_INET
    sent, began = 0, None
    with socket.socket(family, socket.SOCK_DGRAM) as out:
        for row in rows:
            if pace is not None:
                due = row["t"] / pace
                began = _wait(due, time.perf_counter() - due if began is None else began)
            if stopped():
                break
            try:
                with suppress(ConnectionError):  # nobody listens there now; somebody may later
                    out.sendto(encode(row), address)
                    sent += 1
            except OSError as error:
                raise WorkError(f"{address[0]} port {address[1]}: cannot be sent to ({error.strerror})") from error
    return sent


def _wait(due: float, began: float) -> float:
    """Wait until `due` s after `began`; returns the beginning, moved on where the sender is too late."""
    left = began + due - time.perf_counter()
    if left > 0.0:
        time.sleep(left)
    elif left < -LATE:
        return began - left
    return began
