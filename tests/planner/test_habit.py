from coach.planner.habit import Habit
from coach.planner.windows import Stretch

LENGTH = 1000.0
STRAIGHT = Stretch(0, 100.0, 500.0)
OVER_THE_LINE = Stretch(1, 800.0, 1050.0)


def drive(habit: Habit, stretch: Stretch, *pieces: tuple[float, float, bool]) -> None:
    """Full throttle (True) or none from m to m, in steps of 10 m, on that stretch."""
    for begin, end, full in pieces:
        place = begin
        while place < end:
            on = stretch.start <= place < stretch.end
            habit.update(stretch if on else None, place % LENGTH, full, full)
            place += 10.0


def test_a_stretch_ends_where_the_driver_ended_it_last_time() -> None:
    habit = Habit()
    assert habit.end(STRAIGHT, 200.0, LENGTH) == 500.0
    drive(habit, STRAIGHT, (100.0, 400.0, True), (400.0, 600.0, False))
    assert habit.end(STRAIGHT, 200.0, LENGTH) == 390.0


def test_past_that_place_the_reference_holds_again() -> None:
    habit = Habit()
    drive(habit, STRAIGHT, (100.0, 200.0, True), (200.0, 250.0, False), (250.0, 520.0, True))
    assert habit.end(STRAIGHT, 150.0, LENGTH) == 190.0
    assert habit.end(STRAIGHT, 200.0, LENGTH) == 200.0, "it may be ending right now"
    assert habit.end(STRAIGHT, 300.0, LENGTH) == 500.0


def test_a_pass_held_to_the_end_takes_the_habit_back() -> None:
    habit = Habit()
    drive(habit, STRAIGHT, (100.0, 400.0, True), (400.0, 600.0, False))
    drive(habit, STRAIGHT, (100.0, 520.0, True), (520.0, 600.0, False))
    assert habit.end(STRAIGHT, 200.0, LENGTH) == 500.0


def test_a_stretch_over_the_line_is_one() -> None:
    habit = Habit()
    drive(habit, OVER_THE_LINE, (800.0, 1020.0, True), (1020.0, 1100.0, False))
    assert habit.end(OVER_THE_LINE, 900.0, LENGTH) == 1010.0
    assert habit.end(OVER_THE_LINE, 5.0, LENGTH) == 10.0


def test_a_car_that_was_moved_leaves_no_habit() -> None:
    habit = Habit()
    drive(habit, STRAIGHT, (100.0, 300.0, True))
    habit.reset()
    drive(habit, STRAIGHT, (600.0, 700.0, False))
    assert habit.end(STRAIGHT, 200.0, LENGTH) == 500.0
