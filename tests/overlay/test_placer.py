"""Placing by hand, without a window: what each input does, and that nothing leaves the monitors."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.overlay.gestures import KEYS, Button, Drag, Drop, Grab, Input, Key, Pad, Stick, Tick, Wheel
from coach.overlay.monitors import Monitor
from coach.overlay.placer import (
    DEAD,
    DONE_BUTTON,
    DOUBLE,
    HOLD,
    LARGER_BUTTON,
    LEAP,
    LEAVE_BUTTON,
    NEXT_BUTTON,
    NUDGE,
    RESET_BUTTON,
    SMALLER_BUTTON,
    SNAP,
    SPEED,
    STEP,
    STILL,
    Placer,
    Rect,
    Size,
)
from coach.overlay.placing import LARGEST, LEAST, Placing

MAIN = Monitor("main", 0, 0, 1920, 1080, 0.25, True)
RIGHT = Monitor("right", 1920, 200, 2560, 1440, 0.2, False)
LEFT = Monitor("left", -1280, -100, 1280, 720, 0.3, False)
ALL = (LEFT, MAIN, RIGHT)


def plate(monitor: Monitor, size: float) -> Size:
    """As a drawing has it: in proportion to the size, and to how fine the monitor is."""
    pitch = monitor.pitch or 0.25
    return round(200 * size / 30 * 0.25 / pitch), round(172 * size / 30 * 0.25 / pitch)


def placer(placing: Placing | None = None, monitors: tuple[Monitor, ...] = (MAIN,)) -> Placer:
    return Placer(monitors, plate, placing or Placing())


def after(given: Placer, *inputs: Input) -> Placing:
    for one in inputs:
        given.take(one)
    return given.placing


def is_on(rect: Rect, monitor: Monitor) -> bool:
    across = monitor.left <= rect.left and rect.left + rect.width <= monitor.left + monitor.width
    return across and monitor.top <= rect.top and rect.top + rect.height <= monitor.top + monitor.height


def held(given: Placer, seconds: float, rate: int) -> None:
    for _ in range(round(seconds * rate)):
        given.take(Tick(1.0 / rate))


# where it stands


def test_it_begins_where_it_was_left() -> None:
    given = placer(Placing("right", 1.0, 0.0, 40.0), ALL)
    assert given.monitor is RIGHT
    width, height = plate(RIGHT, 40.0)
    assert given.rect == (1920 + 2560 - width, 200, width, height)
    assert given.placing == Placing("right", 1.0, 0.0, 40.0)


@pytest.mark.parametrize("name", [None, "unplugged"])
def test_a_monitor_that_is_not_there_is_the_main_one(name: str | None) -> None:
    given = placer(Placing(name, 0.0, 0.0), ALL)
    assert given.monitor is MAIN
    assert given.rect[:2] == (0, 0)
    assert given.placing.monitor is None


def test_a_size_that_does_not_fit_is_the_largest_that_does() -> None:
    low = Monitor("low", 0, 0, 800, 400, None, True)
    given = placer(Placing(size=120.0), (low,))
    assert given.placing.size == 68.0
    assert plate(low, 68.0)[1] <= 400 < plate(low, 70.0)[1]


def test_a_size_that_coarse_pixels_cannot_form_letters_of_is_the_next_that_they_can() -> None:
    coarse = Monitor("coarse", 1920, 0, 1280, 720, 0.8, False)
    given = Placer((MAIN, coarse), plate, Placing(size=24.0), lambda monitor, size: monitor is MAIN or size >= 35.0)
    assert given.placing.size == 24.0
    assert after(given, Key("tab")).size == 36.0
    assert after(given, Key("-")).size == 36.0
    assert after(given, Key("+")).size == 38.0
    assert after(given, Key("-")).size == 36.0


# by mouse


def test_it_goes_along_with_the_hand() -> None:
    given = placer()
    left, top, width, height = given.rect
    x, y = left + 30, top + 40
    after(given, Grab(x, y, 1.0), Drag(x + 100, y + 60), Drag(x + 211, y + 321))
    assert given.rect == (left + 211, top + 321, width, height)
    after(given, Drop(), Drag(0, 0))
    assert given.rect == (left + 211, top + 321, width, height), "let go, it stays"


def test_a_hand_that_only_trembles_moves_nothing() -> None:
    given = placer(Placing(across=0.3, down=0.3))
    before = given.placing
    left, top = given.rect[:2]
    assert after(given, Grab(left + 5, top + 5, 1.0), Drag(left + 5 + STILL, top + 5), Drop()) == before


@pytest.mark.parametrize(
    ("beside", "share"), [(SNAP, 0.5), (-SNAP, 0.5), (0, 0.5), (SNAP + 1, None), (-SNAP - 1, None)]
)
def test_near_the_middle_it_goes_there_of_itself(beside: int, share: float | None) -> None:
    given = placer(Placing(across=0.2, down=0.2))
    left, top, width, height = given.rect
    middle = ((1920 - width) // 2, (1080 - height) // 2)
    after(given, Grab(left, top, 1.0), Drag(middle[0] + beside, middle[1] + beside))
    if share is None:
        assert given.rect[:2] == (middle[0] + beside, middle[1] + beside)
    else:
        assert (given.placing.across, given.placing.down) == (share, share)


def test_near_an_edge_it_goes_there_of_itself_and_never_beyond() -> None:
    given = placer(Placing(across=0.2, down=0.2))
    left, top, width, _ = given.rect
    assert after(given, Grab(left, top, 1.0), Drag(SNAP, -300)).across == 0.0
    assert given.placing.down == 0.0
    assert after(given, Drag(1920 - width - SNAP, 1079)).across == 1.0
    assert given.placing.down == 1.0


def test_dragged_across_it_is_on_the_monitor_under_the_hand() -> None:
    given = placer(monitors=ALL)
    left, top, width, height = given.rect
    placing = after(given, Grab(left + width // 2, top + height // 2, 1.0), Drag(2400, 900))
    assert given.monitor is RIGHT and placing.monitor == "right"
    new = given.rect
    assert (new.width, new.height) == plate(RIGHT, 30.0)
    assert abs(new.left + new.width / 2 - 2400) <= 1.5 and abs(new.top + new.height / 2 - 900) <= 1.5
    assert after(given, Drag(-700, 300)).monitor == "left"
    assert after(given, Drag(-700, 5000)).monitor == "left", "where there is no monitor it stays on the last"
    assert given.placing.down == 1.0


def test_a_size_that_a_small_monitor_did_not_take_comes_back() -> None:
    low = Monitor("low", 1920, 0, 800, 400, None, False)
    given = placer(Placing(size=90.0), (MAIN, low))
    left, top = given.rect[:2]
    assert after(given, Grab(left + 9, top + 9, 1.0), Drag(2200, 200)).size == 68.0
    assert after(given, Drag(900, 200)).size == 90.0


def test_what_was_asked_for_beyond_the_room_is_not_made_up_for_elsewhere() -> None:
    low = Monitor("low", 1920, 0, 800, 400, None, False)
    given = placer(Placing("low", size=68.0), (MAIN, low))
    assert after(given, Wheel(9)).size == 68.0
    assert after(given, Key("tab")).size == 68.0


def test_the_wheel_makes_it_larger_and_smaller_under_the_hand() -> None:
    given = placer()
    assert after(given, Wheel(1)).size == 30.0 + STEP
    assert after(given, Wheel(-3)).size == 30.0 - 2 * STEP
    assert after(given, Wheel(-99)).size == LEAST
    assert after(given, Wheel(99)).size == LARGEST
    assert after(given, Wheel(-1)).size == LARGEST - STEP, "what did not fit is not stored up"


def test_a_double_press_is_done() -> None:
    given = placer()
    after(given, Grab(960, 40, 1.0), Drop(), Grab(960 + STILL, 40, 1.0 + DOUBLE))
    assert given.outcome == "open", "not before it is let go"
    after(given, Drop())
    assert given.outcome == "done"


@pytest.mark.parametrize(
    "inputs",
    [
        (Grab(960, 40, 1.0), Drop(), Grab(960, 40, 1.01 + DOUBLE), Drop()),
        (Grab(960, 40, 1.0), Drop(), Grab(960 + STILL + 1, 40, 1.1), Drop()),
        (Grab(960, 40, 1.0), Drag(1060, 40), Drop(), Grab(960, 40, 1.1), Drop()),
        (Grab(960, 40, 1.0), Drop(), Grab(960, 40, 1.1), Drag(990, 40), Drop()),
        (Grab(960, 40, 1.0), Drop(), Drag(990, 40), Drag(960, 40), Grab(960, 40, 1.1), Drop()),
        (Grab(960, 40, 1.0), Drop(), Grab(960, 40, 0.9), Drop()),
    ],
)
def test_two_presses_that_are_no_double_press_are_not_done(inputs: tuple[Input, ...]) -> None:
    given = placer()
    after(given, *inputs)
    assert given.outcome == "open"


# by keyboard


@pytest.mark.parametrize(
    ("name", "right", "down"), [("left", -1, 0), ("right", 1, 0), ("up", 0, -1), ("down", 0, 1), ("f1", 0, 0)]
)
@pytest.mark.parametrize(("shift", "share"), [(False, NUDGE), (True, LEAP)])
def test_an_arrow_moves_by_a_share_of_the_free_room(
    name: str, right: int, down: int, shift: bool, share: float
) -> None:
    placing = after(placer(Placing(across=0.2, down=0.3)), Key(name, shift))
    assert (placing.across, placing.down) == pytest.approx((0.2 + right * share, 0.3 + down * share))


def test_arrows_stop_in_the_middle_and_at_the_edges() -> None:
    given = placer(Placing(across=0.485, down=0.013))
    assert [after(given, Key("right")).across for _ in range(3)] == pytest.approx([0.495, 0.5, 0.51])
    assert after(given, Key("left")).across == 0.5
    assert [after(given, Key("up")).down for _ in range(3)] == pytest.approx([0.003, 0.0, 0.0])
    assert [after(given, Key("down", True)).down for _ in range(25)][-1] == 1.0


def test_there_and_back_is_where_it_was() -> None:
    given = placer(Placing(across=0.37, down=0.02))
    for name, times in (("right", 60), ("left", 60), ("down", 9), ("up", 9)):
        for _ in range(times):
            after(given, Key(name))
    assert given.placing == Placing(across=0.37, down=0.02)


def test_tab_goes_round_the_monitors() -> None:
    given = placer(Placing(across=0.25, down=0.75), ALL)
    assert [after(given, Key("tab")) for _ in range(3)] == [
        Placing("right", 0.25, 0.75),
        Placing("left", 0.25, 0.75),
        Placing("main", 0.25, 0.75),
    ]
    assert after(given, Key("tab", True)).monitor == "left"


def test_with_one_monitor_tab_does_nothing() -> None:
    assert after(placer(), Key("tab")) == Placing()


@pytest.mark.parametrize("reset", [Key("home"), Button(RESET_BUTTON)])
def test_reset_is_as_it_comes(reset: Input) -> None:
    given = placer(Placing("right", 0.1, 0.9, 80.0), ALL)
    assert after(given, reset) == Placing()
    assert given.monitor is MAIN


@pytest.mark.parametrize(
    ("end", "outcome"),
    [
        (Key("return"), "done"),
        (Key("escape"), "left"),
        (Button(DONE_BUTTON), "done"),
        (Button(LEAVE_BUTTON), "left"),
    ],
)
def test_once_it_is_over_nothing_counts(end: Input, outcome: str) -> None:
    given = placer(monitors=ALL)
    before = after(given, Key("right"), Key("tab"))
    assert after(given, end, Key("left"), Key("tab"), Wheel(3), Key("escape"), Key("return")) == before
    assert given.outcome == outcome


# by controller


def test_shoulder_buttons_and_plus_and_minus_make_it_larger_and_smaller() -> None:
    given = placer()
    assert after(given, Button(LARGER_BUTTON)).size == 32.0
    assert after(given, Key("+")).size == 34.0
    assert after(given, Button(SMALLER_BUTTON), Key("-"), Key("-")).size == 28.0
    assert after(given, Button(97)) == Placing(size=28.0), "others do nothing"


def test_a_button_goes_to_the_next_monitor() -> None:
    assert after(placer(monitors=ALL), Button(NEXT_BUTTON)).monitor == "right"


@pytest.mark.parametrize("rate", [20, 30, 60, 240])
def test_a_held_stick_moves_at_a_steady_speed_whatever_the_frame_rate(rate: int) -> None:
    given = placer(Placing(across=0.0, down=0.0))
    after(given, Stick(1.0, 0.0))
    held(given, 1.0, rate)
    assert abs(given.rect.left - SPEED * 1920) <= 1
    held(given, 1.0, rate)
    assert abs(given.rect.left - 2 * SPEED * 1920) <= 1
    assert given.rect.top == 0
    after(given, Stick(0.0, 0.5 + DEAD / 2))
    held(given, 1.0, rate)
    assert abs(given.rect.top - 0.5 * SPEED * 1920) <= 1, "half as far beyond its rest, half as quick"
    after(given, Stick(0.0, 0.0))
    stands = given.rect
    held(given, 1.0, rate)
    assert given.rect == stands


@pytest.mark.parametrize("rest", [(DEAD, -DEAD), (float("nan"), float("inf")), (0.1, -0.2)])
def test_a_stick_that_rests_beside_its_middle_moves_nothing(rest: tuple[float, float]) -> None:
    given = placer()
    after(given, Stick(*rest))
    held(given, 2.0, 60)
    assert given.placing == Placing()


def test_after_a_standstill_of_the_program_it_does_not_jump() -> None:
    given = placer(Placing(across=0.0))
    after(given, Stick(1.0, 0.0), Tick(30.0), Tick(-1.0))
    assert given.rect.left <= 0.1 * SPEED * 1920 + 1


@pytest.mark.parametrize("rate", [20, 60])
def test_a_d_pad_moves_one_step_and_held_on_by_itself(rate: int) -> None:
    given = placer(Placing(across=0.2, down=0.5))
    assert after(given, Pad(1, 0)).across == pytest.approx(0.21)
    held(given, HOLD - 0.1, rate)
    assert given.placing.across == pytest.approx(0.21)
    begins = given.rect.left
    held(given, 1.1, rate)
    assert abs(given.rect.left - begins - SPEED * 1920) <= 1
    after(given, Pad(0, 0))
    stands = given.placing
    held(given, 1.0, rate)
    assert given.placing == stands
    assert after(given, Pad(0, -1)).down == pytest.approx(0.49)


# whatever comes

POSITIONS = st.integers(-3000, 6000)
DEFLECTIONS = st.floats(-1.5, 1.5) | st.just(float("nan"))
INPUTS = st.one_of(
    st.builds(Grab, POSITIONS, POSITIONS, st.floats(0.0, 10.0)),
    st.builds(Drag, POSITIONS, POSITIONS),
    st.just(Drop()),
    st.builds(Wheel, st.integers(-60, 60)),
    st.builds(Key, st.sampled_from([name for name in KEYS if name not in ("return", "escape")]), st.booleans()),
    st.builds(Button, st.integers(-1, 12).filter(lambda number: number not in (DONE_BUTTON, LEAVE_BUTTON))),
    st.builds(Pad, st.integers(-2, 2), st.integers(-2, 2)),
    st.builds(Stick, DEFLECTIONS, DEFLECTIONS),
    st.builds(Tick, st.floats(-1.0, 2.0)),
)
SIDES = st.integers(400, 4000)


PLACINGS = st.builds(
    Placing,
    st.none() | st.sampled_from("0123x"),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
    st.floats(LEAST, LARGEST),
)


@st.composite
def desktops(draw: st.DrawFn) -> tuple[Monitor, ...]:
    """One to four monitors side by side, at any height, one of them or none the main one."""
    left, found = draw(st.integers(-5000, 0)), []
    for number in range(draw(st.integers(1, 4))):
        width = draw(SIDES)
        main = draw(st.booleans())
        pitch = draw(st.none() | st.floats(0.15, 0.5))
        found.append(Monitor(f"{number}", left, draw(st.integers(-500, 500)), width, draw(SIDES), pitch, main))
        left += width + draw(st.integers(0, 200))
    return tuple(found)


@given(monitors=desktops(), placing=PLACINGS, inputs=st.lists(INPUTS, max_size=40))
def test_whatever_a_hand_does_it_is_wholly_on_one_monitor(
    monitors: tuple[Monitor, ...], placing: Placing, inputs: list[Input]
) -> None:
    given = placer(placing, monitors)
    for one in (None, *inputs):
        if one is not None:
            given.take(one)
        now = given.placing
        assert is_on(given.rect, given.monitor)
        assert 0.0 <= now.across <= 1.0 and 0.0 <= now.down <= 1.0 and LEAST <= now.size <= LARGEST
        assert now.monitor is None or now.monitor == given.monitor.name
        assert placer(now, monitors).rect == given.rect, "kept and opened again it stands there"
    assert given.outcome in ("open", "done")
