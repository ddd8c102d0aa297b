"""Places for words, and lanes for strokes."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.debrief.labels import EM, Box, Places, Wanted, lanes, width_of

AREA = Box(0.0, 0.0, 800.0, 400.0)
UP = (0.0, -1.0)


def wanted(x: float, y: float, width: float = 120.0) -> Wanted:
    return Wanted([((x, y), UP)], width, 30.0)


def test_words_stand_straight_away_from_the_road_and_near_it() -> None:
    box = Places(AREA, []).take(wanted(400.0, 200.0)).box
    assert (box.left + box.width / 2, box.top + box.height) == (400.0, 190.0)


def test_a_leader_goes_round_a_mark_where_it_can() -> None:
    """A mark straight above: the words move aside, for their box would lie on it and their leader run over it."""
    placed = Places(AREA, [((400.0, 170.0), 20.0)]).take(wanted(400.0, 200.0))
    assert not placed.box.overlaps(Box(380.0, 150.0, 40.0, 40.0))
    assert placed.leader[0] == (400.0, 200.0)


def test_the_leader_may_run_over_its_own() -> None:
    own = [((x, 195.0), 4.0) for x in range(300, 500, 6)]
    around = Places(AREA, own).take(wanted(400.0, 200.0)).box
    through = Places(AREA, own).take(Wanted([((400.0, 200.0), UP)], 120.0, 30.0, [point for point, _ in own])).box
    assert through.left + through.width / 2 == 400.0 and through.top < 195.0
    assert around != through


@settings(deadline=None, max_examples=25)
@given(st.lists(st.tuples(st.floats(0, 800), st.floats(0, 400), st.floats(20, 300)), max_size=40))
def test_no_two_places_overlap_however_many_there_are(anchors: list[tuple[float, float, float]]) -> None:
    places = Places(AREA, [((400.0, float(y)), 10.0) for y in range(0, 400, 8)])
    boxes = [places.take(wanted(x, y, width)).box for x, y, width in anchors]
    for index, box in enumerate(boxes):
        assert box.inside(Box(0.0, 0.0, places.right, 400.0))
        assert not any(box.overlaps(other) for other in boxes[index + 1 :])


@given(
    st.lists(
        st.lists(st.tuples(st.floats(0, 5000), st.floats(0, 300)), min_size=1, max_size=3).map(
            lambda found: [(start, start + length) for start, length in found]
        ),
        max_size=12,
    )
)
def test_nothing_in_a_lane_is_nearer_than_asked_for(spans: list[list[tuple[float, float]]]) -> None:
    found = lanes(spans, 25.0)
    assert len(found) == len(spans)
    for index, lane in enumerate(found):
        for other in range(index):
            if found[other] == lane:
                gaps = [max(a - d, c - b) for a, b in spans[index] for c, d in spans[other]]
                assert min(gaps) >= 25.0
        assert lane == 0 or any(found[other] == lane - 1 for other in range(index)), "the lowest lane there is"


def test_wide_letters_take_twice_the_room() -> None:
    assert width_of("ab", 10.0) == 2 * EM * 10.0
    assert width_of("\u5de6", 10.0) == 10.0
