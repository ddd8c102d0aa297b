"""What the driver holds: for how long full throttle, for how long a calm car."""

from __future__ import annotations

from coach.planner import rules
from coach.vocabulary.events import Moment


class Driver:
    """Fed one Moment a sample. Times in s of the source; None = not so now.

    `full_since`: since when the throttle is full; the cut of a gear change does not end it, brakes do. `full`: it is
    full at this very sample. `calm_since`: since when brake and lateral acceleration are low. A channel that is not
    known counts as low: the throttle and the reference then speak for it. Throttle that is not known is not full.
    """

    def __init__(self) -> None:
        self.reset()

    def reset(self) -> None:
        """Forget what was held: after a gap or a jump nothing is known of it."""
        self.full = False
        self.full_since: float | None = None
        self.calm_since: float | None = None
        self._full_last = 0.0
        self._t: float | None = None

    def update(self, moment: Moment, bound: float | None) -> None:
        """Take one sample; `bound` m/s^2 is the lateral acceleration that ends quiet, None where there is none."""
        t = moment.t
        if self._t is not None and not 0 <= t - self._t <= rules.LOST:
            self.reset()
        self._t = t
        braking = moment.brake is not None and not moment.brake <= rules.QUIET_BRAKE
        lateral = None if bound is None else moment.lateral
        cornering = lateral is not None and bound is not None and not abs(lateral) <= rules.START_LATERAL * bound
        self.full = moment.throttle is not None and moment.throttle >= rules.FULL and not braking
        if braking:
            self.full_since = None
        elif self.full:
            self.full_since = t if self.full_since is None else self.full_since
            self._full_last = t
        elif self.full_since is not None and not self._is_cut(t, self.full_since):
            self.full_since = None
        if braking or cornering:
            self.calm_since = None
        elif self.calm_since is None:
            self.calm_since = t

    def _is_cut(self, t: float, full_since: float) -> bool:
        held, dipped = self._full_last - full_since, t - self._full_last
        return held >= rules.HELD - rules.ROUNDING and dipped <= rules.CUT + rules.ROUNDING
