"""The file itself: every error in one line that names key, line and mend; what is written reads back the same."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from coach.vocabulary.errors import FormatError, InputError
from feeds.layout import Layout, layout_from_text, layout_of, layout_text, read_layout
from feeds.layout.explain import line_of

GOOD = """layout = 1
name = "Rig bridge"
byte_order = "big"
hold = 3

[[packet]]
name = "motion"
length = [300, 400]
match = [{ offset = 0, bytes = "43 57" }, { offset = 6, type = "u8", is = [3, 4] }, { offset = 2, text = "é" }]
closes = true
[packet.channels]
t = { offset = 8, type = "f32" }
speed = { offset = 12, type = "f32", convert = "km/h", absent = -1 }
gear = { offset = 20, type = "u8", bias = -1 }
throttle = { offset = 21, type = "u8", convert = "0..255" }
steer = { offset = 24, type = "f32", scale = -7.85 }
position = { offset = 32, type = "f32", axes = "y-up left-handed" }
wheel_speed = { offset = 100, type = "f32", order = ["RL", "RR", "FL", "FR"], radius = [0.33, 0.34] }
tyre_temp = { offset = 120, type = "u8", stride = 4, step = 16, across = ["left", "mid", "right"] }
on_track = { offset = 30, type = "u8", bit = 3, inverted = true }
track = { offset = 44, type = "text", length = 32, encoding = "latin-1" }
car_width = { constant = 1.94 }
car = { constant = "a \\u007f \\"b\\"" }
session_kind = { offset = 39, type = "u8", names = { 1 = "practice", 2 = "race" } }

[[packet]]
name = "cars"
length = 500
byte_order = "little"
hold = 20
[packet.channels]
t = { offset = 8, type = "f64" }
[packet.cars]
offset = 20
stride = 10
count = 20
index = { offset = 16, type = "i16", byte_order = "big" }
[packet.cars.channels]
lap = { offset = 4, type = "u16" }
yaw = { offset = 0, type = "i16", convert = "turns", scale = 1.52587890625e-05, positive = "right", zero = "north" }

[[packet]]
name = "chat"
match = [{ offset = 0, text = "chat" }]
"""


def test_a_layout_is_the_same_after_json_and_after_toml() -> None:
    layout = layout_from_text(GOOD.encode())
    assert layout_of(json.loads(json.dumps(layout.to_json()))) == layout
    text = layout_text(layout, {"speed": "of the\nground", "cars": "all of them"}, ["made by hand", ""])
    assert layout_from_text(text.encode()) == layout
    assert text.startswith("# made by hand\n#\n")
    assert "\n# of the ground\nspeed = " in text
    assert "\n# all of them\n[[packet]]" in text
    assert "length = [300, 400]\n" in text
    assert 'gear = { offset = 20, type = "u8", bias = -1 }\n' in text


def test_only_what_is_not_usual_is_kept() -> None:
    text = 'layout = 1\n[[packet]]\nname = "a"\nlength = 8\n[packet.channels]\nt = { offset = 0, type = "f64" }'
    plain = layout_from_text(text.encode()).to_json()
    assert plain == {
        "layout": 1,
        "packet": [{"name": "a", "length": [8], "channels": {"t": {"offset": [0], "type": "f64"}}}],
    }


MISTAKES: list[tuple[str, str, str, int | None, str]] = [
    ("layout = 1", "layout = 2", "layout", 1, "this program reads version 1 of the format: write layout = 1"),
    ("layout = 1\n", "", "layout", None, "it is missing: write layout = 1 at the top"),
    ("hold = 3", "hold = -3", "hold", 4, "a number of 0 or more is needed, not -3"),
    ("hold = 3", "hold = nan", "hold", 4, "a finite number is needed, not nan"),
    ("hold = 3", "holds = 3", "holds", 4, "there is no such key here; did you mean hold?"),
    (
        'byte_order = "big"\nhold',
        'byte_order = "bog"\nhold',
        "byte_order",
        3,
        "'bog' is none of its values; did you mean big?",
    ),
    ("[300, 400]", "[400, 300]", "packet[1].length", 8, "write one length, or [least, most]"),
    ("[300, 400]", "0", "packet[1].length", 8, "a whole number from 1 to 65507 is needed, or [least, most]"),
    (
        'bytes = "43 57"',
        'bytes = "43 5"',
        "packet[1].match[1].bytes",
        9,
        "'43 5' are no bytes: write two hexadecimal digits",
    ),
    ("is = [3, 4]", "is = [3, 256]", "packet[1].match[2].is", 9, "u8 holds 0 to 255, not 256"),
    (
        'offset = 2, text = "é"',
        'offset = 399, text = "é"',
        "packet[1].match[3].offset",
        9,
        "it ends at byte 401, and the shortest packet has 300",
    ),
    (', text = "é"', "", "packet[1].match[3]", 9, "say what stands there by one of them"),
    ("closes = true", "closes = 1", "packet[1].closes", 10, "true or false is needed, without quotes, not 1"),
    ("speed =", "sped =", "packet[1].channels.sped", 13, "no channel is called so; did you mean speed?"),
    (
        "speed = { offset = 12",
        "speed = { offset = 297",
        "packet[1].channels.speed.offset",
        13,
        "it ends at byte 301, and the shortest packet has 300",
    ),
    (
        "speed = { offset = 12",
        "speed = { ofset = 12",
        "packet[1].channels.speed.ofset",
        13,
        "there is no such key here; did you mean offset?",
    ),
    (
        "speed = { offset = 12,",
        "speed = {",
        "packet[1].channels.speed.offset",
        13,
        "it is missing: write `offset` and `type` or `constant`",
    ),
    (
        "speed = { offset = 12",
        "speed = { offset = -12",
        "packet[1].channels.speed.offset",
        13,
        "a number of 0 or more is needed, not -12",
    ),
    (
        "speed = { offset = 12",
        "speed = { offset = [12, 16]",
        "packet[1].channels.speed.offset",
        13,
        "speed has 1 value: write one offset, or 1",
    ),
    (
        'convert = "km/h"',
        'convert = "psi"',
        "packet[1].channels.speed.convert",
        13,
        "'psi' is no unit of speed; choose from m/s, km/h",
    ),
    (
        "absent = -1",
        'absent = "no"',
        "packet[1].channels.speed.absent",
        13,
        "'no' is never read as f32: write such a value",
    ),
    (
        "absent = -1",
        "absent = true",
        "packet[1].channels.speed.absent",
        13,
        "a number or text is needed, or a list of them, not true",
    ),
    (
        "absent = -1",
        "bit = 1",
        "packet[1].channels.speed.bit",
        13,
        "it means nothing for speed; choose from offset, type",
    ),
    ("bias = -1", 'bias = "x"', "packet[1].channels.gear.bias", 14, "a number is needed, not 'x'"),
    ("bias = -1", "bias = -1, constant = 2", "packet[1].channels.gear.offset", 14, "a constant stands in no packet"),
    (
        'convert = "0..255"',
        'convert = "0-255"',
        "packet[1].channels.throttle.convert",
        15,
        "'0-255' is no unit of throttle; did you mean 0..255?",
    ),
    ("scale = -7.85", "scale = 0", "packet[1].channels.steer.scale", 16, "0 makes all values equal"),
    (
        'axes = "y-up left-handed"',
        'axes = "up up north"',
        "packet[1].channels.position.axes",
        17,
        "'up up north' has one axis twice",
    ),
    ('axes = "y-up left-handed"', 'axes = "left"', "packet[1].channels.position.axes", 17, "'left' are no axes here"),
    (
        '"RL", "RR", "FL", "FR"',
        '"RL", "RR", "FL", "FL"',
        "packet[1].channels.wheel_speed.order",
        18,
        "name each wheel once",
    ),
    (
        "[0.33, 0.34]",
        "[0.33, 0.34, 0.35]",
        "packet[1].channels.wheel_speed.radius",
        18,
        "one radius is needed, or [front, rear]",
    ),
    ("[0.33, 0.34]", "0", "packet[1].channels.wheel_speed.radius", 18, "a number above 0 is needed, not 0"),
    (
        '"left", "mid", "right"',
        '"left", "mid", "out"',
        "packet[1].channels.tyre_temp.across",
        19,
        "name each value once",
    ),
    ("bit = 3", "bit = 8", "packet[1].channels.on_track.bit", 20, "u8 has the bits 0 to 7"),
    ("bit = 3", "bit = 3, is = 2", "packet[1].channels.on_track.is", 20, "`bit` and `is` are two ways to read a flag"),
    ("length = 32", "length = 0", "packet[1].channels.track.length", 21, "a number of 1 or more is needed, not 0"),
    ("length = 32, ", "", "packet[1].channels.track.length", 21, "it is missing: write how many bytes the text has"),
    (
        'type = "text", length = 32, encoding = "latin-1"',
        'type = "f32"',
        "packet[1].channels.track.type",
        21,
        "track is a label: choose text",
    ),
    (
        "constant = 1.94",
        'constant = "wide"',
        "packet[1].channels.car_width.constant",
        22,
        "'wide' is no car_width: write a number under 1e12",
    ),
    (
        '2 = "race"',
        '2 = "rally"',
        "packet[1].channels.session_kind.names.2",
        24,
        "'rally' is no session_kind: write one of practice, qualifying, race",
    ),
    ('2 = "race"', '300 = "race"', "packet[1].channels.session_kind.names.300", 24, "u8 holds 0 to 255, not 300"),
    (
        '2 = "race"',
        'two = "race"',
        "packet[1].channels.session_kind.names.two",
        24,
        "a whole number is needed before the `=`",
    ),
    (
        "lap = {",
        "speed = {",
        "packet[2].cars.channels.speed",
        39,
        "the packet 'motion' gives it already: leave one out",
    ),
    ("lap = {", "t = {", "packet[2].cars.channels.t", 39, "it stands in the packet's `channels` too: leave one out"),
    ("count = 20", "count = 60", "packet[2].cars.count", 36, "it ends at byte 616, and the shortest packet has 500"),
    ("index = { offset = 16", "index = { offset = 499", "packet[2].cars.index.offset", 37, "it ends at byte 501"),
    ("index = { offset = 16, type", "index = { type", "packet[2].cars.index.offset", 37, "it is missing: write it"),
    ('name = "chat"', 'name = "cars"', "packet[3].name", 43, "another packet has this name: give each its own"),
    (
        'name = "chat"',
        'name = "a\\nb"',
        "packet[3].name",
        43,
        "has a line break or a control character: write it in one line without",
    ),
    (
        'match = [{ offset = 0, text = "chat" }]',
        "",
        "packet[3].length",
        42,
        "say by `length` or `match` how this kind of packet is known",
    ),
    (
        'text = "chat" }]',
        'text = "chat" }]\ncloses = true',
        "packet[3].closes",
        45,
        "only one packet closes, leave it out of the others",
    ),
    ("[0.33, 0.34]", "[0.33, 0]", "packet[1].channels.wheel_speed.radius[2]", 18, "a number above 0 is needed, not 0"),
    (
        "radius = [0.33, 0.34]",
        'convert = "rpm"',
        "packet[1].channels.wheel_speed.convert",
        18,
        "'rpm' is no unit of wheel_speed; write the wheels' `radius` too, then it is",
    ),
    ('order = ["RL", "RR", "FL", "FR"]', 'order = "RL"', "packet[1].channels.wheel_speed.order", 18, "a list in [ ]"),
    ("bit = 3", "is = 256", "packet[1].channels.on_track.is", 20, "u8 holds 0 to 255, not 256"),
    ("bit = 3", "bit = 3, absent = 256", "packet[1].channels.on_track.absent", 20, "u8 holds 0 to 255, not 256"),
    ("bit = 3", "bit = 3, absent = 0.5", "packet[1].channels.on_track.absent", 20, "0.5 is never read as u8"),
    ("absent = -1", "absent = 1e39", "packet[1].channels.speed.absent", 13, "1e+39 is never read as f32"),
    ("absent = -1", "absent = nan", "packet[1].channels.speed.absent", 13, "what is not finite is absent by itself"),
    (
        ', names = { 1 = "practice", 2 = "race" }',
        "",
        "packet[1].channels.session_kind.names",
        24,
        "a number is no session_kind by itself: write which number stands for one of practice, qualifying, race",
    ),
    ('"latin-1"', '"utf-16", absent = 1979-05-27', "packet[1].channels.track.absent", 21, "a number or text is needed"),
    ("hold = 3", 'clock = "received"', "packet[1].channels.t", 12, 'with clock = "received" the time is not read'),
]
"""What is written in place of what; the key and the line that are named, and how the message begins."""


@pytest.mark.parametrize(("good", "bad", "key", "line", "message"), MISTAKES)
def test_a_mistake_is_named_with_its_key_its_line_and_the_mend(
    good: str, bad: str, key: str, line: int | None, message: str
) -> None:
    where = key if line is None else f"{key} (line {line})"
    assert GOOD.count(good) >= 1
    with pytest.raises(FormatError) as caught:
        layout_from_text(GOOD.replace(good, bad, 1).encode(), "layout rig.toml")
    assert str(caught.value).startswith(f"layout rig.toml: {where}: {message}")
    assert str(caught.value).isprintable()


WHOLE_FILES = [
    ("", "layout: it is missing: write layout = 1 at the top"),
    ("layout = 1", "packet: it is missing: write a table [[packet]] for each kind of packet"),
    ("layout = 1\npacket = []", "packet (line 2): at least 1 must stand in it"),
    ("layout = 1\npacket = 3", "packet (line 2): a list in [ ] is needed, not 3"),
    ("layout = 1\n[packet]\nname = 1", "packet (line 2): each kind of packet is one of a list: write [[packet]]"),
    ("a = " + "[" * 3000, "not TOML: tables or lists nested too deep; mend it there"),
    ("a = " + "9" * 5000, "not TOML: Exceeds the limit (4300 digits) for integer string conversion: "),
    ('layout = 1\n[[packet]]\nname = "a"\nlength = 8', "packet: no packet gives a channel: write some"),
    (
        'layout = 1\n[[packet]]\nname = "a"\nlength = 8\n[packet.channels]\nx = { offset = 0, type = "f32" }',
        'packet: no packet has `t`, the source\'s time: write its place, or clock = "received" at the top',
    ),
    (
        'layout = 1\n[[packet]]\nname = "a"\nlength = 24\n[packet.channels]\nt = { offset = 0, type = "f32" }\n'
        'velocity = { offset = 4, type = "f32", axes = "east north up" }',
        "packet[1].channels.velocity.axes (line 7): to turn it into the car's frame `yaw` is needed beside it",
    ),
    (
        'layout = 1\n[[packet]]\nname = "a"\nlength = 24\n[packet.channels]\nt = { offset = 0, type = "f32" }\n'
        'velocity = { offset = 4, type = "f32" }\nvx = { offset = 4, type = "f32" }',
        "packet[1].channels.vx (line 8): `velocity` gives it already: leave one out",
    ),
    ("layout = ", "not TOML: "),
    ("layout = 1\nlayout = 1", "not TOML: "),
]


@pytest.mark.parametrize(("text", "message"), WHOLE_FILES)
def test_a_file_that_is_no_layout_is_one_line(text: str, message: str) -> None:
    with pytest.raises(FormatError) as caught:
        layout_from_text(text.encode(), "layout rig.toml")
    assert str(caught.value).startswith(f"layout rig.toml: {message}")
    assert str(caught.value).isprintable()


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"cannot be read \(No such file"):
        read_layout(tmp_path / "none.toml")
    with pytest.raises(InputError, match="cannot be read"):
        read_layout(tmp_path)
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * 1_000_001)
    with pytest.raises(FormatError, match="over 1 MB"):
        read_layout(large)
    latin = tmp_path / "latin.toml"
    latin.write_bytes(b'layout = 1\nname = "\xe9"')
    with pytest.raises(FormatError, match="not UTF-8 text at byte 19"):
        read_layout(latin)


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    assert read_layout(path) == layout_from_text(GOOD.encode())


@pytest.mark.parametrize("plain", [None, 3, [], {}, {"layout": 1, "packet": [{}]}, "text"])
def test_a_head_that_holds_no_layout_is_one_line(plain: object) -> None:
    with pytest.raises(FormatError, match="is this the head of a recording") as caught:
        layout_of(plain)
    assert str(caught.value).isprintable()


def test_every_line_of_a_file_is_found() -> None:
    """Each key of the file at the line where a person finds it, by searching the text."""
    plain = tomllib.loads(GOOD)
    lines = GOOD.split("\n")
    for place, packet in enumerate(plain["packet"]):
        start = [number for number, line in enumerate(lines) if line == "[[packet]]"][place]
        for name in packet.get("channels", {}):
            number = next(n for n, line in enumerate(lines) if n > start and line.startswith(f"{name} ="))
            assert line_of(GOOD, ["packet", place, "channels", name, "offset"]) == number + 1
    assert line_of(GOOD, ["nothing"]) is None
    assert line_of(GOOD, []) is None


def test_the_reference_of_the_format_names_every_key() -> None:
    from feeds.layout import model
    from feeds.layout.channel import Channel
    from feeds.layout.packet import Cars, Match, Packet

    for table in (Channel, Cars, Match, Packet, Layout):
        for name, entry in table.model_fields.items():
            assert (entry.alias or name) in (model.__doc__ or ""), name
