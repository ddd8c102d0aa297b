"""What a feed is: bytes in, samples out, nothing known of laps."""

from __future__ import annotations

from dataclasses import dataclass
from inspect import signature
from typing import Protocol

from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import Sample
from feeds.counts import Counts

__all__ = ["Counts", "Datagram", "Feed", "Guarded"]


@dataclass(slots=True)
class Datagram:
    """Bytes as they came. `received` s, wall clock that never goes back; `sender` "address:port", "" from a file."""

    received: float
    data: bytes
    sender: str = ""


class Feed(Protocol):
    """Turns the datagrams of one kind of source into samples.

    `left_out` counts the values that were of a wrong type and so treated as "channel absent"; the rest of their
    datagram was used.
    """

    left_out: Counts

    def decode(self, data: bytes, received: float = 0.0) -> Sample | None:
        """The sample that `data` holds, which came at `received` (s, wall clock).

        None: the datagram is good, and what it holds comes with a later sample. Any other bytes give a sample or raise
        one FormatError whose `cause` is fixed.
        """
        ...


class Guarded:
    """A feed of another package, held to the promise: whatever goes wrong inside it costs one datagram."""

    def __init__(self, feed: Feed, name: str) -> None:
        counts = getattr(feed, "left_out", None)
        self.left_out = counts if isinstance(counts, Counts) else Counts("channel left out")
        self._feed = feed
        self._name = name
        self._wants_time = _takes_two(feed)

    def decode(self, data: bytes, received: float = 0.0) -> Sample | None:
        """As the feed's own `decode`, but anything else than a sample or a FormatError becomes a FormatError."""
        try:
            sample = self._feed.decode(data, received) if self._wants_time else self._feed.decode(data)
        except FormatError:
            raise
        except Exception as error:
            what = " ".join(f"{type(error).__name__}: {error}".split())[:200]
            message = f'the feed "{self._name}" failed on a datagram with {what}: report it to its maker'
            raise FormatError(message, "the feed failed") from error
        if sample is not None and not isinstance(sample, Sample):
            message = f'the feed "{self._name}" returned {type(sample).__name__}, no Sample: report it to its maker'
            raise FormatError(message, "the feed failed")
        return sample


def _takes_two(feed: Feed) -> bool:
    """Whether its `decode` takes the receive time too: a feed that needs the bytes alone may leave it out."""
    try:
        signature(feed.decode).bind(b"", 0.0)
    except (TypeError, ValueError):
        return False
    return True
