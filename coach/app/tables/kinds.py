"""Tables for other programs, written row by row in bounded memory: CSV, NumPy, MDF4, Parquet."""

from __future__ import annotations

import csv
import importlib
import tempfile
import warnings
import zipfile
from abc import ABC, abstractmethod
from array import array
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path
from types import ModuleType
from typing import IO, Any

import numpy as np

from coach.app.tables.columns import Cell, Column
from coach.vocabulary.errors import InputError

BLOCK = 4096
"""Rows that are held before they are handed on (choice): at sixty columns some megabytes."""

_NAN = float("nan")
_EXTRA = 'install it with `pip install "cornerword[export]"`, or write .csv or .npz'


class Table(ABC):
    """One file that takes rows. `labels`: of each column of text the values that will come, in order."""

    def __init__(self, path: Path, columns: Sequence[Column], labels: Sequence[Sequence[str]]) -> None:
        self.path = path
        self.columns = columns
        self.labels = labels
        self.opened = ExitStack()
        """what must be closed in any case"""

    @abstractmethod
    def add(self, cells: Sequence[Cell]) -> None:
        """One more row."""

    @abstractmethod
    def finish(self) -> None:
        """All rows have come: the file is whole behind this."""

    def close(self) -> None:
        """Let go of what is open; the file is whole only if `finish` was called before."""
        self.opened.close()


class Csv(Table):
    """RFC 4180: a head of names and units, rows ended by CR LF, quotes where they are needed. UTF-8; an absent value
    is empty, a flag 1 or 0; of assists the names with a blank between."""

    def __init__(self, path: Path, columns: Sequence[Column], labels: Sequence[Sequence[str]]) -> None:
        super().__init__(path, columns, labels)
        file = self.opened.enter_context(path.open("x", encoding="utf-8", newline=""))
        self._rows = csv.writer(file)
        self._rows.writerow(column.title for column in columns)

    def add(self, cells: Sequence[Cell]) -> None:
        """One more row."""
        self._rows.writerow(int(cell) if cell is True or cell is False else cell for cell in cells)

    def finish(self) -> None:
        """All rows have come."""
        self.close()


class Blocks(Table):
    """A table that takes blocks of columns: numbers as float64, NaN where absent; text by its place in `labels`."""

    def __init__(self, path: Path, columns: Sequence[Column], labels: Sequence[Sequence[str]]) -> None:
        super().__init__(path, columns, labels)
        self.rows = 0
        self._waiting = [array("d") for _ in columns]
        self._places = [
            {label: float(place) for place, label in enumerate(of)} if column.is_text else None
            for column, of in zip(columns, labels, strict=True)
        ]

    def add(self, cells: Sequence[Cell]) -> None:
        """One more row."""
        for waiting, places, cell in zip(self._waiting, self._places, cells, strict=True):
            if cell is None:
                waiting.append(_NAN)
            elif places is None:
                waiting.append(float(cell))
            else:
                waiting.append(places[str(cell)])
        self.rows += 1
        if self.rows % BLOCK == 0:
            self.flush()

    def flush(self) -> None:
        """Hand on what waits."""
        if self._waiting and self._waiting[0]:
            self.put([np.frombuffer(waiting, dtype=np.float64).copy() for waiting in self._waiting])
            self._waiting = [array("d") for _ in self.columns]

    @abstractmethod
    def put(self, block: list[np.ndarray[Any, np.dtype[np.float64]]]) -> None:
        """Take one array of equal length for each column."""


class Npz(Blocks):
    """NumPy's own archive, compressed: one float64 array a column, NaN where absent, and text arrays that need no
    pickle: `columns` with all names, `units` with their units, and for each column of text `<name>_labels`, to which
    its numbers point.

    The columns wait in files without a name, since an archive holds one array after the other.
    """

    def __init__(self, path: Path, columns: Sequence[Column], labels: Sequence[Sequence[str]]) -> None:
        super().__init__(path, columns, labels)
        self._archive = self.opened.enter_context(zipfile.ZipFile(path, "x", zipfile.ZIP_DEFLATED, compresslevel=4))
        self._parts = [self._part() for _ in columns]

    def put(self, block: list[np.ndarray[Any, np.dtype[np.float64]]]) -> None:
        """Keep them for later."""
        for part, values in zip(self._parts, block, strict=True):
            part.write(values.astype("<f8").tobytes())

    def finish(self) -> None:
        """Write the archive."""
        self.flush()
        self._text("columns", [column.name for column in self.columns])
        self._text("units", [column.unit for column in self.columns])
        for column, labels in zip(self.columns, self.labels, strict=True):
            if column.is_text:
                self._text(f"{column.name}_labels", labels)
        for column, part in zip(self.columns, self._parts, strict=True):
            with self._archive.open(f"{column.name}.npy", "w", force_zip64=True) as file:
                head = {"descr": "<f8", "fortran_order": False, "shape": (self.rows,)}
                np.lib.format.write_array_header_1_0(file, head)
                part.seek(0)
                while piece := part.read(1 << 16):
                    file.write(piece)
        self.close()

    def _part(self) -> IO[bytes]:
        """A file beside the archive, where there is room."""
        return self.opened.enter_context(tempfile.TemporaryFile(dir=self.path.parent))

    def _text(self, name: str, texts: Sequence[str]) -> None:
        with self._archive.open(f"{name}.npy", "w") as file:
            np.lib.format.write_array(file, np.array(list(texts), dtype=np.str_), allow_pickle=False)


class Parquet(Blocks):
    """Columns of float64 and text, null where absent; the unit stands in a field's metadata as `unit`."""

    def __init__(self, path: Path, columns: Sequence[Column], labels: Sequence[Sequence[str]]) -> None:
        super().__init__(path, columns, labels)
        self._arrow = _library("pyarrow", ".parquet")
        parquet = _library("pyarrow.parquet", ".parquet")
        arrow = self._arrow
        self._schema = arrow.schema(
            [
                arrow.field(
                    column.name,
                    arrow.string() if column.is_text else arrow.float64(),
                    metadata={"unit": column.unit},
                )
                for column in columns
            ]
        )
        file = self.opened.enter_context(path.open("xb"))
        self._writer = self.opened.enter_context(parquet.ParquetWriter(file, self._schema, compression="zstd"))

    def put(self, block: list[np.ndarray[Any, np.dtype[np.float64]]]) -> None:
        """Write a group of rows."""
        arrays = []
        for column, labels, values in zip(self.columns, self.labels, block, strict=True):
            absent = np.isnan(values)
            if column.is_text:
                texts = [None if missing else labels[int(place)] for place, missing in zip(values, absent, strict=True)]
                arrays.append(self._arrow.array(texts, type=self._arrow.string()))
            else:
                arrays.append(self._arrow.array(values, mask=absent))
        self._writer.write_table(self._arrow.Table.from_arrays(arrays, schema=self._schema))

    def finish(self) -> None:
        """All rows have come."""
        self.flush()
        self.close()


class Mdf(Blocks):
    """ASAM MDF 4.10, one group whose master is `time` (s since the first row, never going back, though `t` may): each
    column a signal, NaN where absent, text as a number with its meaning beside it."""

    MOST = 1 << 17
    """rows that are handed to the library at once"""

    def __init__(self, path: Path, columns: Sequence[Column], labels: Sequence[Sequence[str]]) -> None:
        super().__init__(path, columns, labels)
        self._library = _library("asammdf", ".mf4")
        path.open("xb").close()  # its place is taken; the library replaces it
        self._mdf = self._library.MDF(version="4.10")
        self.opened.callback(self._mdf.close)
        self._clock = _Clock([column.name for column in columns])
        self._begun = False

    def put(self, block: list[np.ndarray[Any, np.dtype[np.float64]]]) -> None:
        """Write a group of rows; the library keeps them in a file of its own."""
        times = self._clock.times(block)
        if self._begun:
            self._mdf.extend(0, [(times, None), *((values, None) for values in block)])
            return
        self._begun = True
        signals = [
            self._library.Signal(
                samples=values,
                timestamps=times,
                name=column.name,
                unit=column.unit,
                conversion=_meanings(labels) if column.is_text else None,
            )
            for column, labels, values in zip(self.columns, self.labels, block, strict=True)
        ]
        self._mdf.append(signals, comment="samples", common_timebase=True)

    def finish(self) -> None:
        """Save it."""
        self.flush()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what the library says to its own programmers
            self._mdf.save(self.path, overwrite=True, compression=2)
        self.close()


def _meanings(labels: Sequence[str]) -> dict[str, Any]:
    """A conversion of the numbers to the labels."""
    table: dict[str, Any] = {"default": b""}
    for place, label in enumerate(labels):
        table |= {f"val_{place}": float(place), f"text_{place}": label.encode()}
    return table


class _Clock:
    """A time that never goes back: `t` while it goes on; over a new run the receive time, or it stands."""

    def __init__(self, names: Sequence[str]) -> None:
        self._t = names.index("t")
        self._received = names.index("received") if "received" in names else self._t
        self._last: tuple[float, float] | None = None
        self._now = 0.0

    def times(self, block: list[np.ndarray[Any, np.dtype[np.float64]]]) -> np.ndarray[Any, np.dtype[np.float64]]:
        """s since the first row of all, one for each row of the block."""
        times = np.empty(len(block[0]))
        for row, (t, received) in enumerate(zip(block[self._t], block[self._received], strict=True)):
            if self._last is not None:
                step, passed = t - self._last[0], received - self._last[1]
                self._now += step if step >= 0.0 else max(passed, 0.0)
            self._last = (t, received)
            times[row] = self._now
        return times


KINDS: dict[str, type[Table]] = {".csv": Csv, ".npz": Npz, ".mf4": Mdf, ".parquet": Parquet}
"""The kinds of table by the ending of the file's name."""


def _library(name: str, ending: str) -> ModuleType:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what other packages' imports say of each other
            return importlib.import_module(name)
    except ImportError as error:
        package = name.partition(".")[0]
        raise InputError(f"{ending} needs {package}, which cannot be imported ({error}): {_EXTRA}") from None
