"""Whatever is pressed and whenever, over whatever stream: only a clean lap becomes the reference, and the sums hold."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.engine.engine import Engine
from coach.engine.references import CHOSEN
from coach.vocabulary.actions import ACTIONS, USE_LAP
from coach.vocabulary.events import Action, Answer, Event, Lap, Loss, Moment, Reference, record
from coach.vocabulary.sample import Sample
from tests.engine.drives import begin, learned, only, plain, told
from tests.properties.budget import examples
from tests.properties.test_engine_wild import RATE, finite, stream

presses = st.lists(
    st.tuples(st.floats(0.0, 1.0, exclude_max=True), st.sampled_from([*ACTIONS, *[USE_LAP] * 8, "dance"])), max_size=8
)
starts = st.sampled_from(["none", "file", "grip", "patchwork"])


def driven(samples: list[Sample], pressed: list[tuple[float, str]], start: str) -> list[Event]:
    """All events but the moments of a drive in which something is pressed at these shares of it."""
    engine = Engine(learned() if start == "file" else begin(choice=start if start in ("grip", "patchwork") else None))
    at = [(int(share * len(samples)), action) for share, action in pressed]
    events: list[Event] = []
    lap, place = 0, None
    for index, sample in enumerate(samples):
        events += engine.push(sample)
        for moment in only(events[-1:], Moment):
            lap, place = moment.lap, moment.distance
        for action in (action for when, action in at if when == index):
            events += engine.act(Action(sample.t, lap, action, place))
    return [event for event in events + engine.finish() if not isinstance(event, Moment)]


def check(events: list[Event], pressed: list[tuple[float, str]]) -> None:
    ended: list[Lap] = []
    for event in events:
        assert not event.logged or finite(record(event))
        if isinstance(event, Lap):
            ended.append(event)
        elif isinstance(event, Loss):
            assert ended[-1].lap == event.lap and ended[-1].delta is not None
            assert abs(sum(part.seconds for part in event.parts) - ended[-1].delta) < 1e-3
        elif isinstance(event, Reference) and event.origin == CHOSEN:
            alike = [lap for lap in ended if lap.lap == event.lap and lap.time is not None]
            assert any(lap.clean and abs(lap.time - event.time) < 5e-3 for lap in alike if lap.time is not None)
    chosen = [event for event in only(events, Reference) if event.origin == CHOSEN]
    answers = only(events, Answer)
    assert len(chosen) == sum(answer.done for answer in answers)
    assert len(answers) <= sum(action == USE_LAP for _, action in pressed)


@settings(deadline=None, max_examples=examples(6))
@given(presses, starts)
def test_presses_on_a_plain_drive(pressed: list[tuple[float, str]], start: str) -> None:
    events = driven(list(told(4, RATE)), pressed, start)
    check(events, pressed)
    assert [plain(event) for event in events] == [plain(event) for event in driven(list(told(4, RATE)), pressed, start)]
    if any(action == USE_LAP for _, action in pressed):
        assert only(events, Answer), "whoever asks is answered, at the end of the stream at the latest"


@settings(deadline=None, max_examples=examples(6))
@given(st.integers(0, 10**9), st.integers(1, 12), st.booleans(), presses, starts)
def test_presses_on_a_spoilt_stream(
    seed: int, spoilings: int, clock: bool, pressed: list[tuple[float, str]], start: str
) -> None:
    check(driven(stream(seed, spoilings, clock), pressed, start), pressed)
