"""The guided steps, on packets of a made driver: what is asked, and when it counts as done. No clock, no socket."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import partial

import pytest
from app.made_driver import RATE, MadeDriver, Packets, Row

from coach.app.deciphering.guide import ASKS, DRIVE, Done, Guide
from coach.app.deciphering.motion import Kinds, Motion
from feeds.base import Datagram

Pack = Callable[[Row], list[bytes]]
BEFORE_THE_DRIVE = ASKS[:-1]


@dataclass
class Led:
    done: list[Done] = field(default_factory=list)
    packets: list[Datagram] = field(default_factory=list)

    @property
    def seen(self) -> list[str]:
        return [done.ask.name for done in self.done if done.seen]

    def took(self, name: str) -> float:
        return next(done.ends - done.begins for done in self.done if done.ask.name == name)


def led(driver: MadeDriver, pack: Pack, asks: tuple = BEFORE_THE_DRIVE, rate: int = RATE, most: float = 400.0) -> Led:
    """The driver does what the guide asks, on a clock that is counted; the packets come `rate` times a second."""
    guide, result, asked = Guide(1000.0, asks), Led(), ""
    for number, row in enumerate(driver.frames()):
        now = 1000.0 + number / RATE
        if guide.asking is None or now > 1000.0 + most:
            break
        if guide.asking.name != asked:
            asked = guide.asking.name
            driver.ask(asked)
        if number % (RATE // rate):
            continue
        for data in pack(row):
            result.packets.append(Datagram(now, data))
            guide.take(result.packets[-1])
    result.done = guide.done
    return result


def test_each_step_is_seen_by_its_bytes_and_none_is_waited_for_to_its_limit() -> None:
    result = led(MadeDriver(), Packets().of)
    assert result.seen == [ask.name for ask in BEFORE_THE_DRIVE]
    for done in result.done:
        assert done.ends - done.begins < done.ask.limit - 5.0


def test_what_is_asked_lies_in_the_span_of_its_step() -> None:
    """The made simulator's own pedals say when they moved."""
    driver, moved = MadeDriver(), dict[str, list[float]]()
    clock = iter(range(1_000_000))

    def pack(row: Row) -> list[bytes]:
        now = 1000.0 + next(clock) / RATE
        for channel in ("throttle", "brake", "steer"):
            if row[channel]:
                moved.setdefault(channel, []).append(now)
        return Packets().of(row)

    result = led(driver, pack)
    spans = {done.ask.name: (done.begins, done.ends) for done in result.done}
    for step, channel in (("rev", "throttle"), ("brake", "brake")):
        begins, ends = spans[step]
        assert begins < moved[channel][0] and moved[channel][-1] < ends
    assert spans["left"][0] < moved["steer"][0] and moved["steer"][-1] < spans["right"][1]


def test_what_is_not_done_is_not_seen_and_the_next_step_comes_at_its_limit() -> None:
    result = led(MadeDriver(ignores=("clutch", "gears")), Packets().of)
    assert result.seen == ["still", "rev", "brake", "left", "right"]
    for name in ("clutch", "gears"):
        limit = next(ask.limit for ask in ASKS if ask.name == name)
        assert result.took(name) == pytest.approx(limit, abs=0.5)


def test_a_driver_who_does_nothing_is_led_through_all_and_nothing_is_seen() -> None:
    result = led(MadeDriver(ignores=tuple(ask.name for ask in ASKS)), Packets().of)
    assert result.seen == ["still"] and len(result.done) == len(BEFORE_THE_DRIVE)


def test_a_stream_that_stops_does_not_stop_the_guide() -> None:
    guide = Guide(0.0, BEFORE_THE_DRIVE)
    guide.take(Datagram(0.1, b"only one"))
    for number in range(20 * 300):
        guide.tick(number / 20)
    assert guide.asking is None and len(guide.done) == len(BEFORE_THE_DRIVE)


def _wandering(row: Row, state: dict, pack: Pack, warming: bool) -> list[bytes]:
    """Other packets' fields: floats that drift for ever, or from the first revs on, in 200 bytes beside the others."""
    chance = state.setdefault("chance", random.Random(3))
    drift = state.setdefault("drift", [80.0] * 50)
    if row["throttle"] > 0.0:
        state["warm"] = True
    for place in range(len(drift)):
        if not warming or (state.get("warm") and place < 8):
            drift[place] += chance.gauss(0.0, 0.01)
    return [data + struct.pack("<50f", *drift) for data in pack(row)]


def _on_keys(row: Row, pack: Pack) -> list[bytes]:
    """Pedals that are buttons, all on or all off, and nothing else that follows them."""
    quiet = dict(row) | {"engine_speed": 950.0, "ax": 0.0}
    return pack(quiet | {name: round(row[name]) for name in ("throttle", "brake", "clutch")})


def _unsteady(row: Row, chance: random.Random, pack: Pack) -> list[bytes]:
    """Hands that hold the wheel: it is never quite at rest."""
    return pack(row | {"steer": row["steer"] + chance.gauss(0.0, 0.002)})


def _one_length(row: Row, state: dict, pack: Pack) -> list[bytes]:
    """All kinds of packet as long as each other, told apart by a byte."""
    return [data.ljust(400, b"\0") for data in pack(row)]


@pytest.mark.parametrize(
    ("name", "make"),
    [
        ("drift", lambda: partial(_wandering, state={}, pack=Packets().of, warming=False)),
        ("warming", lambda: partial(_wandering, state={}, pack=Packets().of, warming=True)),
        ("keys", lambda: partial(_on_keys, pack=Packets().of)),
        ("hands", lambda: partial(_unsteady, chance=random.Random(4), pack=Packets().of)),
        ("kinds", lambda: partial(_one_length, state={}, pack=Packets().of)),
    ],
)
def test_steps_are_seen_in_streams_that_are_never_quite_still(name: str, make: Callable[[], Pack]) -> None:
    result = led(MadeDriver(seed=5), make())
    assert result.seen == [ask.name for ask in BEFORE_THE_DRIVE], name
    late = [done.ask.name for done in result.done if done.ends - done.begins >= done.ask.limit]
    assert len(late) <= 1, f"{name}: waited to the limit for {late}"


def test_steps_are_seen_in_a_slow_stream() -> None:
    assert led(MadeDriver(), Packets().of, rate=20).seen == [ask.name for ask in BEFORE_THE_DRIVE]


def test_the_drive_ends_where_the_car_stands_again() -> None:
    driver = MadeDriver()
    result = led(driver, Packets().of, (ASKS[0], ASKS[-1]))
    drive = result.done[-1]
    assert drive.ask.name == DRIVE and drive.seen and driver.ended
    lap = 100.0
    assert lap < drive.ends - drive.begins < lap + 25.0


def test_the_drive_ends_where_nothing_comes_any_more() -> None:
    driver, guide, now = MadeDriver(), Guide(0.0, (ASKS[0], ASKS[-1])), 0.0
    packets, asked = Packets(), ""
    for number, row in enumerate(driver.frames()):
        now = number / RATE
        if guide.asking is not None and guide.asking.name != asked:
            asked = guide.asking.name
            driver.ask(asked)
        if now > 90.0:
            break
        for data in packets.of(row):
            guide.take(Datagram(now, data))
    assert guide.asking is not None
    while guide.asking is not None and now < 120.0:
        now += 0.05
        guide.tick(now)
    assert guide.asking is None and guide.done[-1].seen and now < 96.0


def test_enter_ends_a_step_and_r_begins_it_anew() -> None:
    guide = Guide(0.0, BEFORE_THE_DRIVE)
    assert guide.number == 1
    still = guide.skip(3.0)
    assert still is not None and still.ask.name == "still"
    assert guide.asking is not None and guide.asking.name == "rev" and guide.number == 2
    guide.again(5.0)
    skipped = guide.skip(6.0)
    assert skipped is not None and not skipped.seen and (skipped.begins, skipped.ends) == (5.0, 6.0)


def test_whatever_comes_the_guide_comes_to_its_end() -> None:
    chance, guide, now = random.Random(11), Guide(0.0), 0.0
    while guide.asking is not None and now < 5000.0:
        now += chance.choice((0.001, 0.02, 0.1, 7.0))
        guide.take(Datagram(now, chance.randbytes(chance.choice((0, 1, 40, 40, 300, 5000)))))
        guide.tick(now)
    assert [done.ask for done in guide.done] == list(ASKS)
    assert all(done.begins <= done.ends for done in guide.done)


def test_kinds_are_told_apart_by_the_byte_that_sorts_them() -> None:
    def packets() -> Iterable[Datagram]:
        for number in range(200):
            kind = number % 2
            body = bytes([7, kind, number % 256]) + (b"first of them" if kind else b"other content")
            yield Datagram(number / 60, body)

    assert Kinds.of(packets()).places == {16: 1}
    assert Kinds.of(Datagram(n / 60, bytes([n % 256, 1, 2])) for n in range(200)).places == {}
    assert Kinds.of([]).key(b"abc") == (3, -1)


def test_bytes_of_any_length_and_none_are_survived() -> None:
    chance = random.Random(9)
    motion = Motion(Kinds(), 0.0)
    for number in range(3000):
        motion.take(Datagram(number / 100, chance.randbytes(chance.randrange(0, 300))))
    motion.rest(4)
    assert motion.tick(60.0)
