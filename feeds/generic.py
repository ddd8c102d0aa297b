"""The generic stream, version 1: one JSON object a datagram, keys as the contract names them."""

from __future__ import annotations

import json
from typing import Any

import orjson

from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import Sample
from feeds.channels import CONVERTERS, LARGEST, LIMITS, Unfit, shown
from feeds.counts import Counts

MAX_BYTES = 65_507
"""The largest UDP payload over IPv4: 65,535 less 20 bytes of IP header (RFC 791) and 8 of UDP header (RFC 768)."""

_BOM = b"\xef\xbb\xbf"
_WHITE = " \t\r\n"
_MEND = "send one JSON object a datagram"


def _nothing(_: str) -> None:
    """What NaN, Infinity and -Infinity read as: channel absent."""


_raw_decode = json.JSONDecoder(parse_constant=_nothing).raw_decode


class GenericFeed:
    """Decodes the generic stream.

    Only `t` is needed. A key that is absent, null, NaN or infinite is an absent channel; unknown keys are ignored. A
    value of a wrong type or out of its range leaves that channel out, counted in `left_out`; the datagram is kept.
    """

    def __init__(self) -> None:
        self.left_out = Counts("channel left out")

    def decode(self, data: bytes, received: float = 0.0) -> Sample:
        """The sample in one datagram; FormatError where there is none."""
        found = _object(data)
        sample = Sample(_clock(found))
        for name, value in found.items():
            if type(value) is float and name in LIMITS:
                low, high = LIMITS[name]
                if low <= value <= high:
                    setattr(sample, name, value)
                    continue
            if value is not None and name in CONVERTERS:
                try:
                    setattr(sample, name, CONVERTERS[name].convert(value))
                except Unfit:
                    self.left_out.add(f"{name} must be {CONVERTERS[name].wants}", f"was {shown(value)}")
        return sample


def _object(data: bytes) -> dict[str, Any]:
    if len(data) > MAX_BYTES:
        raise FormatError(f"{len(data):,} bytes, more than the {MAX_BYTES:,} that a datagram may hold", "too long")
    try:
        found = orjson.loads(data)
    except orjson.JSONDecodeError:
        found = _patiently(data)
    if not isinstance(found, dict):
        raise FormatError(f"JSON, but {shown(found)} and no object: {_MEND}", "not an object")
    return found


def _patiently(data: bytes) -> Any:
    """What the quick reader refuses: NaN and its like, a byte order mark, lone surrogates; FormatError for the rest."""
    try:
        text = str(data.removeprefix(_BOM), "utf-8").strip(_WHITE)
        found, end = _raw_decode(text)
    except UnicodeDecodeError as error:
        raise FormatError(f"not UTF-8 at byte {error.start}: {_MEND}, encoded as UTF-8", "not UTF-8") from None
    except json.JSONDecodeError as error:
        raise FormatError(f"not JSON at character {error.pos} ({error.msg}): {_MEND}", "not JSON") from None
    except ValueError:
        # Python's guard against whole numbers that take long to read.
        message = "holds a whole number of thousands of digits: send numbers that a double can hold"
        raise FormatError(message, "not JSON") from None
    except RecursionError:
        message = "lists or objects nested too deep: send the channels at the top level of one object"
        raise FormatError(message, "nested too deep") from None
    if end != len(text):
        raise FormatError(f"more text after the JSON value, at character {end}: {_MEND}", "not JSON")
    return found


def _clock(found: dict[str, Any]) -> float:
    value: Any = found.get("t")
    kind = type(value)
    if (kind is float or kind is int) and -LARGEST <= value <= LARGEST:
        return float(value)
    mend = "send the session clock in seconds as the number `t`"
    if value is None:
        raise FormatError(f"`t` is missing, null or NaN: {mend}", "no t")
    if kind is float or kind is int:
        mend = f"{mend}, under 1e12"
    raise FormatError(f"`t` is {shown(value)}: {mend}", "t is no time")
