"""A pupil that hears: the stated model. It is no evidence about people; its numbers are in `traits.py`.

A *habit* is a kind of mistake at some corners. What shows of it is what is not unlearned, less what a cue that is still
fresh holds back. Being told holds it back at once, and wears off; unlearning is slower, and faster on laps on which the
pupil works on it without being told. Both suffer where much is on the mind at once.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from dataclasses import dataclass, field

from .table import Losses
from .traits import HASTY_WITHIN, Range, Traits, draw

HABITS = (4, 7)
"""Habits of a pupil, least and most (choice)."""
WIDE = (1, 4)
"""Corners of a habit (choice)."""
CHANCE = (0.5, 0.95)
"""How often a habit comes up at first (choice)."""
SIZE = (0.5, 1.0)
"""Its size at first, of the largest that was driven (choice)."""
VARIES = 0.15
"""by which the size of one time lies around it, as a share (choice)"""
REMEMBERED = 20
"""Corners driven, and cues, that a cue is compared with."""


@dataclass(frozen=True, slots=True)
class Said:
    """What a pupil hears: `about` a fault or nothing that can be done, `corner` the one it speaks of. `named`: the
    words name it, or say that it is the next. `kind` as of a cue. Times in s."""

    kind: str
    about: str | None
    corner: int | None
    named: bool
    starts: float
    ends: float


@dataclass(frozen=True, slots=True)
class Made:
    """A mistake that was made; `size` in the fault's unit, `net` and `cost` s, `found`: the engine could see it."""

    kind: str
    size: float
    net: float
    cost: float
    found: bool


@dataclass(slots=True)
class Habit:
    """One habit. `chance` and `sizes` (by corner) are those of the start.

    `left`: share that is not unlearned; `held`: share of that which a cue holds back. `minded`: laps for which it is
    still on the mind. `told`, `hasty`: on this lap, and too soon.
    """

    kind: str
    chance: float
    sizes: dict[int, float]
    left: float = 1.0
    held: float = 0.0
    minded: float = 0.0
    told: bool = False
    hasty: bool = False

    @property
    def strength(self) -> float:
        """0..1, what shows of it: both its chance and its size go with the root, so that what it costs goes with it."""
        return self.left * (1.0 - self.held)


@dataclass(slots=True)
class Pass:
    """One corner driven. `braked`, `full`, `out` s: brake point, full throttle, exit."""

    corner: int
    braked: float
    full: float
    out: float


@dataclass(slots=True)
class Pupil:
    """One pupil. `name` seeds all chance, by lap and corner: two coaches meet the same pupil on the same day."""

    name: str
    traits: Traits
    habits: list[Habit]
    losses: Losses
    heard: int = 0
    heard_before: int = 0
    asides: int = 0
    _pending: list[Said] = field(default_factory=list)
    _recent: list[Said] = field(default_factory=list)
    _sounded: list[Said] = field(default_factory=list)
    _passes: list[Pass] = field(default_factory=list)
    _lap: int = 1
    _ear: random.Random = field(default_factory=random.Random)

    def __post_init__(self) -> None:
        self._ear = random.Random(f"{self.name} ear {self._lap}")

    def enter(self, corner: int, t: float) -> list[Made]:
        """At a corner's brake point: what was said until now is taken in, and the mistakes of this pass are made."""
        self._take_in(t)
        dice = random.Random(f"{self.name} {self._lap} {corner}")
        made = [mistake for habit in self.habits if (mistake := self._by_habit(habit, corner, dice))]
        chance, kind, part = dice.random(), dice.choice(self._kinds(corner)), dice.random()
        if chance < self.traits.one_off and all(mistake.kind != kind for mistake in made):
            made.append(self._one_off(kind, corner, part))
        return made

    def noise(self, corner: int) -> float:
        """s by which this pass is slower or quicker without a mistake."""
        return random.Random(f"{self.name} {self._lap} {corner} noise").gauss(0.0, self.traits.scatter)

    def hear(self, said: Said) -> None:
        """Something is being said."""
        self.heard += 1
        self._pending.append(said)
        self._sounded.append(said)
        self._recent = [*self._recent, said][-REMEMBERED:]

    def leave(self, passed: Pass) -> tuple[float, Made | None]:
        """A corner was driven: s that cues in it cost, and the mistake that they made, if any."""
        self._passes = [*self._passes, passed][-REMEMBERED:]
        sounded = sum(_overlap(said, passed) for said in self._sounded)
        self._sounded = [said for said in self._sounded if said.ends > passed.full]
        if sounded <= 0.0:
            return 0.0, None
        dice = random.Random(f"{self.name} {self._lap} {passed.corner} slip")
        chance, kind, part = dice.random(), dice.choice(self._kinds(passed.corner)), dice.random()
        slip = self._one_off(kind, passed.corner, part) if chance < self.traits.slips else None
        return self.traits.startled * sounded, slip

    def lap_over(self, t: float) -> None:
        """A lap ended: learning and forgetting."""
        self._take_in(t)
        traits, share = self.traits, self._share()
        for habit in self.habits:
            if habit.minded > 0.0:
                rate = traits.told if habit.told else traits.alone
                habit.left *= 1.0 - rate * share * min(1.0, habit.minded) * (traits.hasty if habit.hasty else 1.0)
                habit.minded = max(0.0, habit.minded - 1.0)
            else:
                habit.left += traits.forgets * (1.0 - habit.left)
            habit.left *= 1.0 - traits.finds
            if not habit.told:
                habit.held *= 1.0 - traits.fades
            habit.told = habit.hasty = False
        self.heard_before, self.heard, self.asides = self.heard, 0, 0
        self._lap += 1
        self._ear = random.Random(f"{self.name} ear {self._lap}")

    def chance_to_understand(self, said: Said) -> float:
        """Of a cue that no other one disturbed."""
        traits = self.traits
        strain = math.pow(1.0 - traits.strain, max(0.0, self.heard_before - traits.enough))
        chance = traits.understands * strain
        if any(_overlap(said, passed) > 0.0 for passed in self._passes):
            chance *= traits.busy
        if said.corner is not None and not said.named and not self._just_left(said):
            chance *= traits.far
        return chance

    def _take_in(self, t: float) -> None:
        """What has ended by now is understood or not; what still sounds waits."""
        over = [said for said in self._pending if said.ends <= t]
        self._pending = [said for said in self._pending if said.ends > t]
        for said in over:
            lost = any(other is not said and _gap(said, other) < self.traits.apart for other in self._recent)
            if self._ear.random() < self.chance_to_understand(said) and not lost:
                self._understand(said)

    def _understand(self, said: Said) -> None:
        if said.about is None:
            return
        about = [habit for habit in self.habits if habit.kind == said.about and said.corner in (None, *habit.sizes)]
        if not about:
            self.asides += 1
        for habit in about:
            habit.told, habit.minded = True, self.traits.works
            habit.hasty = habit.hasty or self._is_hasty(said)
            habit.held += self.traits.held * self._share() * (1.0 - habit.held)

    def _share(self) -> float:
        """What one thing on the mind gets of what it would get alone."""
        things = sum(habit.minded > 0.0 for habit in self.habits) + self.asides
        return min(1.0, math.pow(self.traits.things / things, self.traits.spread)) if things else 1.0

    def _just_left(self, said: Said) -> bool:
        driven = [passed for passed in self._passes if passed.out <= said.starts]
        return bool(driven) and driven[-1].corner == said.corner

    def _is_hasty(self, said: Said) -> bool:
        driven = [passed for passed in self._passes if passed.corner == said.corner and passed.out <= said.starts]
        return bool(driven) and said.starts - driven[-1].out < HASTY_WITHIN

    def _by_habit(self, habit: Habit, corner: int, dice: random.Random) -> Made | None:
        chance, part = dice.random(), dice.uniform(1.0 - VARIES, 1.0 + VARIES)
        root = math.sqrt(habit.strength)
        if corner not in habit.sizes or chance >= habit.chance * root:
            return None
        return self._made(habit.kind, corner, habit.sizes[corner] * root * part)

    def _one_off(self, kind: str, corner: int, part: float) -> Made:
        least, most = self.losses.least(kind, corner), self.losses.most(kind, corner)
        return self._made(kind, corner, least + part * (most - least))

    def _made(self, kind: str, corner: int, size: float) -> Made:
        step = self.losses.at(kind, corner, size)
        return Made(kind, size, step.net, step.cost, step.found)

    def _kinds(self, corner: int) -> list[str]:
        return [kind for kind, places in self.losses.table.items() if corner in places]


def make_pupil(losses: Losses, seed: int, number: int, changed: Mapping[str, Range]) -> Pupil:
    """Pupil `number` of a seed: traits and habits drawn; the same habits whatever `changed` says of the traits."""
    name = f"{seed} {number}"
    dice = random.Random(f"{name} habits")
    kinds = dice.sample(sorted(losses.table), dice.randint(*HABITS))
    habits = []
    for kind in kinds:
        places = sorted(losses.table[kind])
        corners = dice.sample(places, min(len(places), dice.randint(*WIDE)))
        sizes = {
            corner: max(losses.least(kind, corner), dice.uniform(*SIZE) * losses.most(kind, corner))
            for corner in sorted(corners)
        }
        habits.append(Habit(kind, dice.uniform(*CHANCE), sizes))
    return Pupil(name, draw(random.Random(f"{name} traits"), changed), habits, losses)


def _overlap(said: Said, passed: Pass) -> float:
    return max(0.0, min(said.ends, passed.full) - max(said.starts, passed.braked))


def _gap(one: Said, other: Said) -> float:
    """s between two cues; negative where they overlap."""
    first, second = sorted((one, other), key=lambda said: said.starts)
    return second.starts - first.ends
