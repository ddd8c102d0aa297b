"""At which stage a session was, whether the next is earned, and which stage the data say. Pure."""

from __future__ import annotations

from coach.practice.evidence import Evidence
from coach.review.model import KeptSession
from coach.review.results import StageVerdict
from coach.vocabulary.stages import STAGES, following


def stage_verdict(session: KeptSession) -> StageVerdict | None:
    """The verdict of the session's own stage; None where no lap ended, which says nothing.

    Advised is the first stage that the laps have not earned: what comes before it is there already.
    """
    if not session.laps:
        return None
    evidence = evidence_of(session)
    own = session.stage if session.stage in STAGES else next(iter(STAGES))
    verdict = evidence.verdict(own)
    names = list(STAGES)
    advised = next((stage for stage in names[:-1] if not evidence.verdict(stage).earned), names[-1])
    return StageVerdict(own, verdict.earned, verdict.evidence, following(own), advised)


def evidence_of(session: KeptSession) -> Evidence:
    """What the stages look at, given the session's laps in their order."""
    evidence = Evidence()
    before = None
    for lap in session.laps:
        if before is not None and lap.number <= before:
            evidence.new_run()
        before = lap.number
        for passed in lap.passes:
            evidence.passed(passed)
        for fault in lap.faults:
            evidence.found(fault)
        evidence.lap_over(lap.time, lap.clean, lap.why_not, lap.fuel)
    for fault in session.loose_faults:
        if session.laps and fault.t > session.laps[-1].t:  # in the lap that was running at the end
            evidence.found(fault)
    return evidence
