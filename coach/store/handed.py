"""What came with a lap that was handed on: its circuit's map, and its driver's habits there."""

from __future__ import annotations

import sqlite3
from dataclasses import replace

from coach.engine.circuit import Circuit
from coach.engine.known import Known
from coach.review.places import nearest
from coach.store.plain import text_of, value_of
from coach.vocabulary.errors import FormatError


def text_with(came: Known) -> str:
    """As it is kept beside the lap, which itself is among the channels."""
    return text_of(replace(came, reference=None).to_json())


def came_with(memory: sqlite3.Connection, lap: int) -> Known | None:
    """None for a lap of a session, and where it is damaged. May raise sqlite3.Error."""
    (text,) = memory.execute("SELECT came FROM lap WHERE id = ?", (lap,)).fetchone() or (None,)
    try:
        return None if text is None else Known.from_json(value_of(text))
    except FormatError:
        return None


def with_numbers_of(circuit: Circuit, came: Known) -> Known:
    """The habits under the numbers that the corners have in `circuit`; what came with the lap may number otherwise."""
    numbers = {} if came.circuit is None else nearest(came.circuit.marks, circuit.marks, circuit.length)
    usual = {(numbers.get(corner, corner), measure): value for (corner, measure), value in came.usual.items()}
    return replace(came, circuit=circuit, usual=usual)
