"""What becomes of one packet's bytes: every type, scale, names, flags, arrays, texts, cars."""

from __future__ import annotations

import math
import struct
from dataclasses import replace

import pytest
from layout.packing import decoded, one, packet

from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import Sample
from feeds.layout import LayoutFeed, layout_from_text
from feeds.layout.entries import ENOUGH, Lookup

TYPES = {
    **{"u8": ("B", 200), "u16": ("H", 51_966), "u32": ("I", 3_405_691_582), "u64": ("Q", 2**39 + 1)},
    **{"i8": ("b", -100), "i16": ("h", -20_000), "i32": ("i", -1_234_567_890), "i64": ("q", -(2**39) - 1)},
    **{"f16": ("e", -1.5), "f32": ("f", 1234.5), "f64": ("d", 0.1), "bool": ("?", True)},
}
"""Of each type its character of Python's `struct` and a value that no other type or byte order would read so."""


@pytest.mark.parametrize("order", ["little", "big"])
@pytest.mark.parametrize("type_", TYPES)
def test_every_type_in_both_byte_orders(type_: str, order: str) -> None:
    code, value = TYPES[type_]
    data = packet((11, ("<" if order == "little" else ">") + code, value))
    sample = decoded(one(f'x = {{ offset = 11, type = "{type_}" }}', top=f'byte_order = "{order}"'), data)
    assert sample == Sample(1.5, x=float(value))
    assert type(sample.x) is float


def test_the_bytes_of_known_numbers() -> None:
    """IEEE 754-2019, table 3.5: 1.0 is 3c00, 3f800000, 3ff0000000000000; two's complement: -2 is fe."""
    data = bytes.fromhex("3c00 3f800000 3ff0000000000000 fe 0102".replace(" ", ""))
    layout = one(
        """x = { offset = 8, type = "f16" }
        y = { offset = 10, type = "f32" }
        z = { offset = 14, type = "f64" }
        ax = { offset = 22, type = "i8" }
        ay = { offset = 23, type = "u16" }""",
        length=25,
        top='byte_order = "big"',
    )
    assert decoded(layout, packet(length=8) + data) == Sample(1.5, x=1.0, y=1.0, z=1.0, ax=-2.0, ay=258.0)


def test_a_channel_and_a_packet_have_a_byte_order_of_their_own() -> None:
    layout = one(
        """x = { offset = 8, type = "u16", byte_order = "little" }
        y = { offset = 8, type = "u16" }
        z = { offset = 10, type = "u16", byte_order = "little" }""",
        packet='byte_order = "big"',
    )
    sample = decoded(layout, packet((8, ">H", 0x0102), (10, ">H", 0x0304)))
    assert (sample.x, sample.y, sample.z) == (0x0201, 0x0102, 0x0403)


def test_fields_may_overlap_in_any_way() -> None:
    layout = one(
        """x = { offset = 8, type = "u32" }
        y = { offset = 9, type = "u32" }
        z = { offset = 10, type = "u8" }
        ax = { offset = 8, type = "u32" }
        ay = { offset = 8, type = "u32", scale = 2 }"""
    )
    sample = decoded(layout, packet((8, "5B", (1, 2, 3, 4, 5))))
    assert (sample.x, sample.y, sample.z) == (0x04030201, 0x05040302, 3)
    assert (sample.ax, sample.ay) == (0x04030201, 2.0 * 0x04030201)


def test_scale_and_bias_come_before_the_conversion() -> None:
    layout = one('speed = { offset = 8, type = "u16", scale = 0.1, bias = -10, convert = "km/h" }')
    assert decoded(layout, packet((8, "<H", 1900))).speed == pytest.approx(180.0 / 3.6, rel=1e-12)


def test_a_bias_on_a_raw_float_and_a_sign_alone() -> None:
    layout = one(
        """x = { offset = 8, type = "f32", bias = 2.5 }
        y = { offset = 12, type = "f32", scale = -1 }
        z = { offset = 16, type = "f32", scale = -1, bias = 1 }"""
    )
    sample = decoded(layout, packet((8, "<3f", (1.0, 2.0, 3.0))))
    assert (sample.x, sample.y, sample.z) == (3.5, -2.0, -2.0)


def test_a_bias_is_turned_round_and_rolls_with_the_rest() -> None:
    layout = one(
        """steer = { offset = 8, type = "f32", scale = 2, bias = 1, positive = "right" }
        yaw = { offset = 12, type = "f32", bias = 90, convert = "degrees", positive = "right", zero = "north" }
        wheel_speed = { offset = 16, type = "f32", bias = 1, radius = 0.5 }
        acceleration = { offset = 32, type = "f32", bias = -9.81, axes = "left forward down" }"""
    )
    sample = decoded(layout, packet((8, "<9f", (1.5, 0.0, 1.0, 2.0, 3.0, 4.0, 0.0, 0.0, 0.0))))
    assert (sample.steer, sample.yaw) == (-4.0, 0.0)
    assert sample.wheel_speed == (1.0, 1.5, 2.0, 2.5)
    assert (sample.ax, sample.ay, sample.az) == pytest.approx((-9.81, -9.81, 9.81))


@pytest.mark.parametrize(
    ("type_", "code", "extra", "raw", "gear"),
    [
        ("i8", "b", "", -1, -1),
        ("u8", "B", "bias = -1", 0, -1),
        ("f32", "<f", "", 4.0, 4),
        ("u8", "B", "names = { 82 = -1, 78 = 0, 49 = 1 }", ord("R"), -1),
        ("u8", "B", "names = { 82 = -1, 78 = 0, 49 = 1 }", ord("?"), None),
        ("u8", "B", "names = { 00 = -1, 01 = 0 }", 0, -1),
        ("f32", "<f", "names = { 10 = -1, 0 = 0 }", 10.0, -1),
        ("f32", "<f", "names = { 10 = -1, 0 = 0 }", float("nan"), None),
        ("u16", "<H", "absent = 65535", 65535, None),
        ("text", "2s", 'length = 2, names = { "R" = -1, N = 0, "10" = 10 }', b"10", 10),
    ],
)
def test_a_gear_is_whole_however_it_is_sent(type_: str, code: str, extra: str, raw: object, gear: int | None) -> None:
    keys = f", {extra}" if extra else ""
    sample = decoded(one(f'gear = {{ offset = 8, type = "{type_}"{keys} }}'), packet((8, code, raw)))
    assert sample == Sample(1.5, gear=gear)
    assert gear is None or type(sample.gear) is int


def test_flags_are_bits_values_or_their_opposites() -> None:
    layout = one(
        """on_track = { offset = 8, type = "u32", bit = 31 }
        in_pit = { offset = 8, type = "u32", bit = 30 }
        paused = { offset = 12, type = "i8", is = [-2, 3] }
        lap_valid = { offset = 12, type = "i8", is = 3, inverted = true }
        blue_flag = { offset = 13, type = "bool" }
        yellow_flag = { offset = 14, type = "f32" }"""
    )
    first = decoded(layout, packet((8, "<I", 1 << 31), (12, "b", -2), (13, "B", 7), (14, "<f", 1.0)))
    assert (first.on_track, first.in_pit, first.paused, first.lap_valid) == (True, False, True, True)
    assert (first.blue_flag, first.yellow_flag) == (True, True)
    second = decoded(layout, packet((8, "<I", 1 << 30), (12, "b", 3)))
    assert (second.on_track, second.in_pit, second.paused, second.lap_valid) == (False, True, True, False)
    assert (second.blue_flag, second.yellow_flag) == (False, False)


def test_driving_aids_are_gathered() -> None:
    layout = one(
        """assist_abs = { offset = 8, type = "u8", bit = 0 }
        assist_line = { offset = 8, type = "u8", bit = 1 }
        assist_gearbox = { offset = 9, type = "u8", is = 2 }"""
    )
    assert decoded(layout, packet((8, "BB", (3, 2)))).assists == ("abs", "gearbox", "line")
    assert decoded(layout, packet((8, "BB", (0, 1)))).assists == ()
    mixed = one(
        "assist_clutch = { constant = true }\nassist_line = { constant = false }\n"
        'assist_abs = { offset = 8, type = "bool" }'
    )
    assert decoded(mixed, packet((8, "B", 1))).assists == ("abs", "clutch")
    assert decoded(mixed, packet()).assists == ("clutch",)
    constant = one("assist_clutch = { constant = true }\nassist_abs = { constant = false }")
    assert decoded(constant, packet()).assists == ("clutch",)


@pytest.mark.parametrize(
    ("encoding", "raw", "text"),
    [
        ("utf-8", "Grüne Höhe".encode() + b"\0rest", "Grüne Höhe"),
        ("latin-1", "Grüne Höhe".encode("latin-1"), "Grüne Höhe"),
        ("utf-16", "Höhe".encode("utf-16-le"), "Höhe"),
        ("utf-8", b"  Hare \0", "Hare"),
        ("utf-8", b"", None),
        ("utf-8", b"a\nb\xff", "a b\N{REPLACEMENT CHARACTER}"),
    ],
)
def test_text_ends_at_a_nul_and_can_be_shown(encoding: str, raw: bytes, text: str | None) -> None:
    layout = one(f'car = {{ offset = 8, type = "text", length = 20, encoding = "{encoding}" }}')
    assert decoded(layout, packet((8, "20s", raw))) == Sample(1.5, car=text)


def test_utf_16_follows_the_byte_order() -> None:
    layout = one('car = { offset = 8, type = "text", length = 20, encoding = "utf-16" }', top='byte_order = "big"')
    assert decoded(layout, packet((8, "20s", "Höhe".encode("utf-16-be")))).car == "Höhe"


def test_labels_by_number() -> None:
    layout = one(
        """track = { offset = 8, type = "i16", names = { -1 = "", 3 = "Quarry Ring" } }
        car = { offset = 10, type = "u8" }
        session_kind = { offset = 11, type = "u8", names = { 0 = "practice", 5 = "race" } }
        beside = { offset = 12, type = "u8", names = { 0 = "", 1 = "left", 2 = "right", 3 = "both" } }"""
    )
    first = decoded(layout, packet((8, "<hBBB", (3, 17, 5, 1))))
    assert (first.track, first.car, first.session_kind, first.beside) == ("Quarry Ring", "17", "race", "left")
    other = decoded(layout, packet((8, "<hBBB", (4, 17, 9, 0))))
    assert (other.track, other.session_kind, other.beside) == ("4", None, "")


def test_wheels_in_any_order_stride_and_radius() -> None:
    rows = one('wheel_speed = { offset = 8, type = "f32", order = ["RL", "RR", "FL", "FR"], radius = [0.3, 0.35] }')
    data = packet((8, "<4f", (30.0, 40.0, 10.0, 20.0)))
    assert decoded(rows, data).wheel_speed == pytest.approx((3.0, 6.0, 10.5, 14.0))
    structures = one('tyre_pressure = { offset = 8, type = "u16", stride = 6, scale = 0.1 }')
    data = packet(*((8 + 6 * wheel, "<H", 1700 + wheel) for wheel in range(4)))
    assert decoded(structures, data).tyre_pressure == pytest.approx((170.0, 170.1, 170.2, 170.3))
    scattered = one('tyre_pressure = { offset = [20, 8, 16, 12], type = "f32", convert = "bar" }')
    data = packet((20, "<f", 1.0), (8, "<f", 2.0), (16, "<f", 3.0), (12, "<f", 4.0))
    assert decoded(scattered, data).tyre_pressure == (100.0, 200.0, 300.0, 400.0)


def test_an_angular_wheel_speed_times_the_radius() -> None:
    """v = omega x r; 1 rev/min is 2 pi / 60 rad/s (ISO 80000-3)."""
    layout = one('wheel_speed = { offset = 8, type = "f32", convert = "rpm", radius = [0.3, 0.31, 0.32, 0.33] }')
    speeds = decoded(layout, packet((8, "<4f", (600.0, 600.0, 600.0, 600.0)))).wheel_speed
    assert speeds == pytest.approx([20.0 * math.pi * radius for radius in (0.3, 0.31, 0.32, 0.33)])


def test_treads_as_arrays_of_structures_and_as_structures_of_arrays() -> None:
    numbers = tuple(float(number) for number in range(80, 92))
    rows = one('tyre_temp = { offset = 8, type = "f32" }')
    treads = ((80.0, 81.0, 82.0), (83.0, 84.0, 85.0), (86.0, 87.0, 88.0), (89.0, 90.0, 91.0))
    assert decoded(rows, packet((8, "<12f", numbers))).tyre_temp == treads
    arrays = one('tyre_temp = { offset = 8, type = "f32", stride = 4, step = 16 }')
    columns = tuple(treads[wheel][place] for place in range(3) for wheel in range(4))
    assert decoded(arrays, packet((8, "<12f", columns))).tyre_temp == treads


def test_a_tread_by_the_sides_of_the_car_has_its_inner_edge_towards_the_middle() -> None:
    layout = one(
        'tyre_temp = { offset = 8, type = "u8", across = ["left", "mid", "right"], order = ["FR", "FL", "RL", "RR"] }'
    )
    data = packet((8, "12B", tuple(range(12))))
    assert decoded(layout, data).tyre_temp == ((5, 4, 3), (0, 1, 2), (8, 7, 6), (9, 10, 11))


def test_constants_stand_in_every_sample() -> None:
    layout = one(
        'car_width = { constant = 1.94 }\ntrack = { constant = "Quarry Ring" }\ngear = { constant = 2 }\n'
        "tyre_pressure = { constant = [1, 2, 3, 4] }\non_track = { constant = true }"
    )
    expected = Sample(1.5, car_width=1.94, track="Quarry Ring", gear=2, tyre_pressure=(1, 2, 3, 4), on_track=True)
    assert decoded(layout, packet()) == expected


CARS = """
    layout = 1
    byte_order = "big"
    [[packet]]
    name = "cars"
    length = 130
    [packet.channels]
    t = { offset = 0, type = "f32" }
    [packet.cars]
    offset = 10
    stride = 12
    index = { offset = 5, type = "u8" }
    [packet.cars.channels]
    speed = { offset = 0, type = "f32" }
    gear = { offset = 11, type = "i8" }
    tyre_pressure = { offset = 4, type = "u8" }
"""


def test_the_players_car_is_picked_by_the_packets_own_index() -> None:
    layout = layout_from_text(CARS.encode())
    assert layout.packet[0].count == 10
    data = bytearray(130)
    struct.pack_into(">f", data, 0, 3.5)
    for car in range(10):
        struct.pack_into(">f4B3xb", data, 10 + 12 * car, 50.0 + car, *range(4 * car, 4 * car + 4), car)
    for car in (0, 3, 9):
        data[5] = car
        pressures = tuple(float(number) for number in range(4 * car, 4 * car + 4))
        assert decoded(layout, bytes(data)) == Sample(3.5, speed=50.0 + car, gear=car, tyre_pressure=pressures)
    feed = LayoutFeed(layout)
    data[5] = 10
    assert feed.decode(bytes(data)) == Sample(3.5)
    assert feed.left_out.by_cause() == {"cars.index must be 0 to 9": 1}


def test_what_is_looked_up_is_worked_out_once_and_does_not_pile_up() -> None:
    asked: list[object] = []

    def convert(raw: object) -> str:
        asked.append(raw)
        return str(raw)

    table = Lookup(convert)
    assert [table[raw] for raw in (1, 2, 1, 1, 2)] == ["1", "2", "1", "1", "2"]
    assert asked == [1, 2]
    for _ in range(3):
        assert table[math.nan] == "nan"
    assert len(table) == 2
    for raw in range(3 * ENOUGH):
        assert table[raw] == str(raw)
    assert len(table) <= ENOUGH


NAN, INF = float("nan"), float("inf")


@pytest.mark.parametrize("raw", [NAN, INF, -INF])
def test_what_is_not_finite_is_an_absent_channel(raw: float) -> None:
    layout = one(
        """speed = { offset = 8, type = "f32", convert = "km/h" }
        x = { offset = 12, type = "f64" }
        gear = { offset = 20, type = "f32" }
        lap_valid = { offset = 24, type = "f32" }
        tyre_pressure = { offset = 32, type = "f32" }
        tyre_temp = { offset = [32, 36, 40, 44, 32, 36, 40, 44, 32, 36, 40, 44], type = "f32" }
        y = { offset = 48, type = "f32" }"""
    )
    feed = LayoutFeed(layout)
    data = packet((8, "<f", raw), (12, "<d", raw), (20, "<ff", (raw, raw)), (40, "<f", raw), (48, "<f", 7.0))
    assert feed.decode(data) == Sample(1.5, y=7.0)
    assert feed.left_out.total == 0


def test_wrong_values_are_left_out_and_counted_and_the_rest_is_used() -> None:
    layout = one(
        """x = { offset = 8, type = "f64" }
        throttle = { offset = 16, type = "f32" }
        brake = { offset = 20, type = "f32" }
        gear = { offset = 24, type = "i8" }
        lap = { offset = 25, type = "f32" }
        in_pit = { offset = 29, type = "u8" }
        y = { offset = 30, type = "f32" }
        tyre_pressure = { offset = 34, type = "f32" }"""
    )
    feed = LayoutFeed(layout)
    fields = [(8, "<d", 2e12), (16, "<ff", (1.5, 0.5)), (24, "b", -2), (25, "<f", 1.5), (29, "B", 2), (30, "<f", 4.0)]
    wrong = packet(*fields, (34, "<4f", (1.0, 2.0, 3e30, 4.0)))
    assert feed.decode(wrong) == Sample(1.5, brake=0.5, y=4.0)
    assert feed.left_out.by_cause() == {
        "x must be a number under 1e12": 1,
        "throttle must be a number from 0 to 1": 1,
        "tyre_pressure must be a number under 1e12": 1,
        "gear must be a whole number, -1 or more": 1,
        "lap must be a whole number": 1,
        "in_pit must be true or false": 1,
    }
    fine = packet((16, "<ff", (0.25, 0.5)))
    expected = Sample(1.5, x=0.0, throttle=0.25, brake=0.5, gear=0, lap=0, in_pit=False, y=0.0, tyre_pressure=(0,) * 4)
    assert feed.decode(fine) == expected
    assert feed.left_out.total == 6


def test_a_pedal_a_hair_outside_is_clamped() -> None:
    layout = one('throttle = { offset = 8, type = "f32" }\nbrake = { offset = 12, type = "i16", scale = 0.001 }')
    sample = decoded(layout, packet((8, "<f", 1.005), (12, "<h", -7)))
    assert (sample.throttle, sample.brake) == (1.0, 0.0)


def test_five_shares_are_looked_at_too() -> None:
    names = ("throttle", "brake", "clutch", "damage", "wetness")
    layout = one("\n".join(f'{name} = {{ offset = {8 + 4 * i}, type = "f32" }}' for i, name in enumerate(names)))
    assert decoded(layout, packet((8, "<5f", (0.0, 1.0, 0.5, 0.25, 1.0)))).wetness == 1.0
    feed = LayoutFeed(layout)
    sample = feed.decode(packet((8, "<5f", (0.0, 1.0, 0.5, 0.25, 1.5))))
    assert sample == Sample(1.5, throttle=0.0, brake=1.0, clutch=0.5, damage=0.25)
    assert feed.left_out.total == 1


def test_absent_values_make_absent_channels() -> None:
    layout = one(
        """last_lap_time = { offset = 8, type = "f32", absent = [-1, 0] }
        lap_time = { offset = 12, type = "u32", absent = 4294967295, convert = "ms" }
        track = { offset = 16, type = "text", length = 4, absent = "none" }
        lap = { offset = 20, type = "u8", absent = 255 }
        tyre_pressure = { offset = 24, type = "f32", absent = 0 }
        x = { offset = 40, type = "f32" }"""
    )
    fields = (8, "<fI4sB", (-1.0, 2**32 - 1, b"none", 255))
    assert decoded(layout, packet(fields, (24, "<4f", (1.0, 2.0, 0.0, 3.0)))) == Sample(1.5, x=0.0)
    full = decoded(layout, packet((8, "<fI4sB", (61.5, 1500, b"Ring", 3)), (24, "<4f", (1.0, 2.0, 1.0, 3.0))))
    values = Sample(1.5, last_lap_time=61.5, lap_time=1.5, track="Ring", lap=3, x=0.0)
    assert full == replace(values, tyre_pressure=(1.0, 2.0, 1.0, 3.0))


@pytest.mark.parametrize(("type_", "code"), [("f16", "<e"), ("f32", "<f"), ("f64", "<d")])
def test_an_absent_value_is_the_one_that_the_type_holds(type_: str, code: str) -> None:
    """IEEE 754 binary16 and binary32 hold no 0.1: what stands in the packet is the nearest that they hold."""
    layout = one(f'fuel = {{ offset = 8, type = "{type_}", absent = [-0.1, 0.1] }}')
    assert decoded(layout, packet((8, code, 0.1))) == decoded(layout, packet((8, code, -0.1))) == Sample(1.5)
    assert decoded(layout, packet((8, code, 0.25))) == Sample(1.5, fuel=0.25)


@pytest.mark.parametrize("raw", [NAN, INF, 2e12])
def test_a_packet_without_a_time_is_refused(raw: float) -> None:
    with pytest.raises(FormatError, match='`t` of the packet "all" is absent') as caught:
        LayoutFeed(one("")).decode(packet(t=raw))
    assert caught.value.cause == "no t"


def test_the_time_may_be_a_count_of_frames_or_of_milliseconds() -> None:
    text = b"""
    layout = 1
    [[packet]]
    name = "frame"
    length = 8
    [packet.channels]
    t = { offset = 4, type = "u32", scale = 0.016666666666666666 }
    """
    assert decoded(layout_from_text(text), struct.pack("<II", 9, 90)).t == pytest.approx(1.5)
    milliseconds = layout_from_text(text.replace(b"scale = 0.016666666666666666", b'convert = "ms"'))
    assert decoded(milliseconds, struct.pack("<II", 9, 90)).t == pytest.approx(0.09)


def test_a_source_without_time_gets_that_of_its_packets_arrival() -> None:
    text = b'layout = 1\nclock = "received"\n[[packet]]\nname = "a"\nlength = 4\n[packet.channels]\n'
    feed = LayoutFeed(layout_from_text(text + b'speed = { offset = 0, type = "f32" }'))
    assert feed.decode(struct.pack("<f", 3.0), 1_700_000_000.25) == Sample(1_700_000_000.25, speed=3.0)
    assert feed.decode(struct.pack("<f", NAN), 1_700_000_000.5) == Sample(1_700_000_000.5)
