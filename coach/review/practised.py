"""At which stage a session was, whether the next is earned, and which stage the data say. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from coach.practice.evidence import Evidence, Verdict
from coach.review.model import KeptSession
from coach.review.results import StageVerdict
from coach.vocabulary.stages import PACE, STAGES, following


def stage_verdict(session: KeptSession) -> StageVerdict | None:
    """The verdict of the session's own stage; None where no lap ended, which says nothing.

    A row of laps or a stint that earned it once in the session has earned it: the evidence is then that of the lap that
    did it. Advised is a stage before its own where the laps speak against that one, not where they were too few; else
    the first that they have not earned.
    """
    if not session.laps:
        return None
    names = list(STAGES)
    own = names.index(session.stage) if session.stage in STAGES else 0
    verdicts: dict[str, Verdict] = {}
    for evidence in _lap_by_lap(session):
        open_ones = [name for name in names if name == PACE or name not in verdicts or not verdicts[name].earned]
        verdicts |= {name: evidence.verdict(name) for name in open_ones}
    lacks = [stage for stage in names[:-1] if not verdicts[stage].earned]
    advised = next((stage for stage in lacks if names.index(stage) >= own or not verdicts[stage].early), names[-1])
    verdict = verdicts[names[own]]
    return StageVerdict(names[own], verdict.earned, verdict.evidence, following(names[own]), advised, verdict.lacking)


def _lap_by_lap(session: KeptSession) -> Iterator[Evidence]:
    """What the stages look at, after each lap. `topic` is what is worked on at the end of the session."""
    evidence = Evidence()
    evidence.topic = session.topic
    before = stores = None
    for lap in session.laps:
        if before is not None and lap.number <= before:
            evidence.new_run()
        before = lap.number
        for passed in lap.passes:
            evidence.passed(passed)
        for fault in lap.faults:
            evidence.found(fault)
        if lap.stores is not None and lap.stores != stores:  # else none came in this lap
            stores = lap.stores
            evidence.stores(stores)
        evidence.lap_over(lap.time, lap.clean, lap.why_not, lap.fuel)
        yield evidence
