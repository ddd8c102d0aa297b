"""Buttons for property tests."""

from __future__ import annotations

from typing import get_args

from hypothesis import strategies as st

from coach.controls.bindings import Bindings
from coach.controls.button import DIRECTIONS, Button, Kind, plain
from coach.vocabulary.actions import ACTIONS

DEVICES = st.sampled_from(["0" * 32, "03000000" + "ab" * 12, "ff" * 16])
ANY_ACTION = st.sampled_from(list(ACTIONS))


@st.composite
def any_button(draw: st.DrawFn) -> Button:
    kind: Kind = draw(st.sampled_from(get_args(Kind)))
    name = plain(draw(st.text(max_size=100)))
    return Button(draw(DEVICES), kind, draw(st.integers(0, 3)), draw(st.sampled_from(DIRECTIONS[kind])), name)


ANY_BINDINGS = st.dictionaries(any_button(), ANY_ACTION, max_size=12).map(Bindings)
