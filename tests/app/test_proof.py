"""Packets read by a layout file: what they say, and what does not fit."""

from __future__ import annotations

import struct

from app.made_driver import LAYOUT, Packets, lap

from coach.app.deciphering.proof import checked, proof
from feeds.base import Datagram
from feeds.layout import Layout, layout_from_text


def layout(text: str = LAYOUT) -> Layout:
    return layout_from_text(text.encode(), "made.toml")


def sent(begin: int = 1500, count: int = 300) -> list[Datagram]:
    packets = Packets()
    rows = lap()[begin : begin + count]
    return [Datagram(1000.0 + n / 60, data) for n, row in enumerate(rows) for data in packets.of(row)]


def test_a_right_layout_agrees_with_itself_and_shows_the_values_of_the_row() -> None:
    lines = proof(layout(), sent())
    assert lines[-1] == "  all of this agrees with each other"
    row = lap()[1799]
    assert lines[0].startswith(f"  speed          {row['speed'] * 3.6:.0f} km/h (")
    assert f"  gear           {row['gear']}" in "\n".join(lines)


def test_a_wrong_unit_and_a_wrong_side_are_named() -> None:
    wrong = LAYOUT.replace(', convert = "km/h"', "").replace("t = { offset = 12", "t = { scale = 0.5, offset = 12")
    lines = proof(layout(wrong), sent())
    assert "  - the clock t runs 0.5 times as fast as time: it is meant in s" in lines
    assert any("speed is" in line and "times what x and y say" in line for line in lines)


def test_packets_that_fit_nothing_are_counted_and_values_that_cannot_be_named() -> None:
    lines = proof(layout(), [Datagram(1.0, b"short"), Datagram(1.1, b"")])
    assert lines[0] == "  no packet gave a sample" and "2 packets passed over" in lines[1]
    packet = '[[packet]]\nname = "a"\nlength = 4\n[packet.channels]\nt = { offset = 0, type = "f32" }\n'
    few = layout(f'layout = 1\nname = "few"\n{packet}')
    assert proof(few, [Datagram(1.0, struct.pack("<f", 2.0))]) == [
        "  1 sample, with none of the main channels",
    ], "nothing is there that could agree"
    assert checked(layout(), []) == [
        "  nothing came: start the simulator's drive again, and look with cornerword checkup"
    ]
