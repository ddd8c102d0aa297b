"""Who is a beginner, and topics that lie on no corner."""

from coach.planner.focus import Focus
from coach.planner.playbook import BEGINNER
from coach.planner.record import Record
from coach.vocabulary.events import Event, Fault, Lap, Moment, Run
from tests.planner.made_circuit import drive, fault, knowing, lap_trace, planner, playbook
from tests.planner.session import advice, cues, late, practise

TRACE = lap_trace()


def straights(laps: int, *hits: int) -> list[Event]:
    """Laps with a late shift up on the long straight on some of them, found at 1600 m."""
    plan = planner(book=playbook(summary_every=0, focus=False))
    plan.push(Run(100.0, 0, "1", "made", "made", "made", None, "made"))
    knowing(plan, TRACE)
    out: list[Event] = []
    before: Moment | None = None
    for moment in drive(TRACE, laps=laps, rate=25.0):
        if before is not None and moment.lap != before.lap:
            out += plan.push(Lap(moment.t, before.lap, TRACE.time[-1], None, True, (), 0.1, TRACE.time[-1]))
        if before is not None and moment.lap in hits and (before.distance or 0.0) < 1600.0 <= (moment.distance or 0.0):
            out += plan.push(Fault(moment.t, moment.lap, "late_upshift", None, 1500.0, net=0.2, cost=0.2))
        out += plan.push(moment)
        before = moment
    return out + plan.finish()


def test_a_topic_without_a_corner_is_worked_on_and_mended_by_laps() -> None:
    events = straights(8, 1, 2, 3)
    assert advice(events) == ["working on late upshift: 0.20 s a lap", "late upshift is mended"]
    assert [cue.lap for cue in cues(events, "correction")] == [1, 2, 3]


def test_one_lap_that_went_wrong_makes_no_beginner() -> None:
    """The median of the last three says so, of fewer where there are no more yet."""
    focus = Focus(playbook(), (), Record())
    laps = ((0.01, False), (0.01, False), (0.1, False), (0.1, True), (0.01, True), (0.01, False), (None, False))
    for slower, beginner in laps:
        focus.lap_over(1, slower)
        assert focus.is_beginner() is beginner


def test_without_a_reference_nobody_is_a_beginner_unless_the_playbook_says_so() -> None:
    focus = Focus(playbook(), (), Record())
    for _ in range(5):
        focus.lap_over(1, None)
    assert not focus.is_beginner()
    assert playbook().pupil != BEGINNER


def test_a_topic_that_got_better_is_not_stuck() -> None:
    """In three corners at first, in one from lap 5 on; told on six laps by lap 8, another habit waits."""
    found: dict[tuple[int, int], str | Fault] = {
        **late(1, 2, 3, 4),
        **late(1, 2, 3, 4, corner=2),
        **late(*range(1, 10), corner=3),
        **{(lap, 1): fault("coasting", net=0.1, cost=0.1) for lap in range(5, 10)},
    }
    book = playbook(reminders=False, summary_every=0, focus=False, praise=False, fade=False)
    assert len(advice(practise(planner(book=book), 9, found))) == 1
