"""Columns of numbers as bytes and back, each number exactly as it was.

A column whose values have at most so many decimal digits (a grid's time has 6, its channels 4) is kept as whole
numbers, of which the first or second differences are small; what has more is kept as the doubles themselves. Bytes of
one weight stand together (as in Parquet's BYTE_STREAM_SPLIT encoding), which zlib makes less of.

The bytes: `MAGIC`, then zlib of: the head's length (4 bytes, little endian), the head (JSON: `about`, `rows`, and of
each column its name, digits, differences, width in bytes and how many negative zeros), and the columns' data.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Mapping
from typing import Any

import numpy as np
import orjson
from numpy.typing import NDArray

from coach.engine.lap import CHANNEL_DIGITS, TIME_DIGITS, GridLap
from coach.vocabulary.errors import FormatError

Floats = NDArray[np.float64]

MAGIC = b"CW\x01"
LEVEL = 6
"""zlib's: 9 takes four times as long for 8 % less (measured)."""
LARGEST = 1 << 28
"""bytes unpacked: an hour's lap of forty channels has half of it. A file may come from anybody."""
EXACT = 2.0**52
"""Whole numbers up to here are exact as doubles, and so are their differences as 64 bit integers."""
_RAW = -1
"""for digits: the column is doubles."""


def pack(columns: Mapping[str, Floats], about: Mapping[str, Any] | None = None, quick: bool = False) -> bytes:
    """Columns of equal length, and what is said about them (plain JSON). `quick`: larger, for what is soon replaced."""
    heads, data = [], []
    for name, column in columns.items():
        digits, order, whole = (_RAW, 0, None) if quick else _whole(column)
        if whole is None:
            heads.append([name, _RAW, 0, 8, 0])
            data.append(_split(column.astype("<f8")))
            continue
        minus = np.flatnonzero(np.signbit(column) & (column == 0.0)).astype("<i4")
        width = _width(whole)
        heads.append([name, digits, order, width, len(minus)])
        data += [_split(whole.astype(f"<i{width}")), _split(np.diff(minus, prepend=np.int32(0)).astype("<i4"))]
    rows = len(next(iter(columns.values()))) if columns else 0
    head = orjson.dumps({"about": about or {}, "rows": rows, "columns": heads})
    return MAGIC + zlib.compress(b"".join([struct.pack("<I", len(head)), head, *data]), 1 if quick else LEVEL)


def unpack(blob: bytes) -> tuple[dict[str, Floats], dict[str, Any]]:
    """The columns and what was said about them. Raises FormatError where they are damaged."""
    if not isinstance(blob, bytes) or not blob.startswith(MAGIC):
        raise _damaged("they begin with no known mark")
    try:
        unzip = zlib.decompressobj()
        flat = unzip.decompress(blob[len(MAGIC) :], LARGEST)
        if not unzip.eof:
            raise _damaged("they are cut short or too large")
        (size,) = struct.unpack_from("<I", flat)
        head = orjson.loads(flat[4 : 4 + size])
        rows, at, columns = int(head["rows"]), 4 + size, {}
        for name, digits, order, width, minus in head["columns"]:
            kind = "f8" if digits == _RAW else f"i{int(width)}"
            column, at = _joined(flat, at, rows, kind)
            if digits != _RAW:
                column = _values(column, digits, order)
                places, at = _joined(flat, at, minus, "i4")
                column[np.cumsum(places)] = -0.0
            columns[str(name)] = column
        return columns, dict(head["about"])
    except (zlib.error, struct.error, ValueError, KeyError, TypeError, IndexError, OverflowError) as error:
        raise _damaged(f"{error}") from None


def pack_grid(grid: GridLap) -> bytes:
    """A whole lap."""
    about = {"number": grid.number, "length": grid.length, "track": grid.track, "car": grid.car}
    columns = {"time": grid.time, "lateral": grid.lateral, **{f".{name}": c for name, c in grid.channels.items()}}
    return pack(columns, about)


def unpack_grid(blob: bytes) -> GridLap:
    """The lap that was packed. Raises FormatError where it is damaged."""
    columns, about = unpack(blob)
    channels = {name[1:]: column for name, column in columns.items() if name.startswith(".")}
    return GridLap.from_json(
        {**about, "time": columns.get("time"), "lateral": columns.get("lateral"), "channels": channels}
    )


def _whole(column: Floats) -> tuple[int, int, NDArray[np.int64] | None]:
    """Digits, order of the differences, and these; None where whole numbers would not give the column back."""
    for digits in (0, CHANNEL_DIGITS, TIME_DIGITS):
        scale = 10.0**digits
        with np.errstate(over="ignore", invalid="ignore"):
            scaled = np.rint(column * scale)
            same = bool((scaled / scale == column).all() and (np.abs(scaled) < EXACT).all())
        if same:
            numbers = scaled.astype(np.int64)
            once = np.diff(numbers, prepend=np.int64(0))
            twice = np.diff(once, prepend=np.int64(0))
            sizes = [int(np.abs(some[2:]).sum(dtype=np.float64)) for some in (numbers, once, twice)]
            order = sizes.index(min(sizes))
            return digits, order, (numbers, once, twice)[order]
    return _RAW, 0, None


def _values(differences: NDArray[Any], digits: int, order: int) -> Floats:
    numbers = differences.astype(np.int64)
    for _ in range(int(order)):
        numbers = np.cumsum(numbers)
    return numbers.astype(np.float64) / 10.0 ** int(digits)


def _width(whole: NDArray[np.int64]) -> int:
    most = int(np.abs(whole).max()) if len(whole) else 0
    return next(width for width in (1, 2, 4, 8) if most < 1 << (8 * width - 1))


def _split(column: NDArray[Any]) -> bytes:
    """All first bytes, then all second ones, and so on."""
    return column.view(np.uint8).reshape(len(column), column.itemsize).T.tobytes() if len(column) else b""


def _joined(flat: bytes, at: int, rows: int, kind: str) -> tuple[NDArray[Any], int]:
    form = np.dtype(f"<{kind}")
    size = form.itemsize * rows
    if rows < 0 or at + size > len(flat):
        raise _damaged("a column is cut short")
    apart = np.frombuffer(flat, dtype=np.uint8, count=size, offset=at).reshape(form.itemsize, rows)
    return np.ascontiguousarray(apart.T).reshape(-1).view(form).copy(), at + size


def _damaged(why: str) -> FormatError:
    return FormatError(f"kept channels cannot be read ({why}): the memory is damaged, go back to a copy of it")
