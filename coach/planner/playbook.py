"""What an instructor decides beforehand: what is coached in which order, how much is said, and in which words.

Plain values without files: `coach.playbook` reads them from TOML and checks them, and a recording's head carries them.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from fnmatch import fnmatchcase
from typing import Any

AUTO, BEGINNER, EXPERIENCED = PUPILS = ("auto", "beginner", "experienced")


@dataclass(frozen=True, slots=True)
class Step:
    """The words for a size under `below` (the last step of a scale has None: any size)."""

    words: str
    below: float | None = None


@dataclass(frozen=True, slots=True)
class Wording:
    """How one fault is spoken of.

    `say`: whole wordings, the next one where a first did not help; `{size}` in one stands for the size in words.
    `short`: where only that fits, and where the corner has to be named. `topic`: what it is about, as a noun.
    """

    say: tuple[str, ...]
    short: str
    topic: str


@dataclass(frozen=True, slots=True)
class Sentences:
    """Everything else that is said. In braces: {phrase} a wording, {corner} its name, {topic} a noun, {gain} seconds in
    words, {number} a number in words."""

    named: str
    """a correction that names its corner: {phrase}, {corner}"""
    everywhere: str
    """one correction for several corners: {phrase}"""
    reminder: str
    """before the corner: {phrase}, {corner}"""
    focus: str
    """the next topic: {phrase}"""
    mended: str
    """{topic}"""
    mended_gain: str
    """{topic}, {gain}"""
    costs: str
    """where the seconds are: {corner}, {gain}"""
    best: str
    """{gain}"""
    within: str
    """nothing to say: all lies within the driver's own band"""
    fuel: str
    fuel_one: str
    laps: str
    laps_one: str
    minutes: str
    minutes_one: str
    """{number} of laps of fuel, laps or minutes left; the form for one has none"""
    marked: str = ""
    """a button was pressed: this moment is marked"""
    lap_used: str = ""
    lap_unfit: str = ""
    """the lap that was asked for is the reference now, or cannot be, as it was not clean"""
    silent: str = ""
    speaking: str = ""
    """asked to be silent, or to speak again"""
    clean_row: str = ""
    """so many clean laps in a row: {number}, two or more"""
    steadier_brake: str = ""
    steadier_apex: str = ""
    steadier_exit: str = ""
    """the mark that scatters most: {corner}"""
    earned: str = ""
    rehearsed: str = ""
    """the next stage of practice is earned; of the last one, that it has all that it asks"""
    steady: str = ""
    uneven: str = ""
    falls_off: str = ""
    """of a stint: its laps are alike, are not, or grow slower. Where one of these is empty, as in the recordings of
    before there were such sentences, nothing is said."""


@dataclass(frozen=True, slots=True)
class Language:
    """Words of one language. `code` as in BCP 47; `voice`: the synthesiser's voice for it, None for its default.

    `sizes`: by unit of the fault, scales in ascending order. `gains`: seconds in words. `numbers`: from nought up.
    """

    code: str
    voice: str | None
    turn: str
    numbers: tuple[str, ...]
    wordings: dict[str, Wording]
    sizes: dict[str, tuple[Step, ...]]
    gains: tuple[Step, ...]
    sentences: Sentences


@dataclass(frozen=True, slots=True)
class Talk:
    """How much is said.

    `corrections`: most in a lap, beside which what is worked on has as many of its own. `one_off`: s that a mistake
    made once must have cost to be spoken of. `summary_every`:
    laps between two summaries, 0 for none. `fade`: told less often as it improves. `alternate`: every other lap
    without a word.
    """

    corrections: int = 4
    one_off: float = 0.05
    reminders: bool = True
    focus: bool = True
    praise: bool = True
    summary_every: int = 3
    fade: bool = True
    alternate: bool = False


@dataclass(frozen=True, slots=True)
class Silence:
    """When nothing is said: in a race, on the first laps of a run (how many), and for how long (s) after an incident.

    In the pits, off the road, under a yellow flag and beside another car there is silence whatever is written here.
    """

    race: bool = True
    first_laps: int = 0
    after_incident: float = 3.0


@dataclass(frozen=True, slots=True)
class CarClass:
    """Cars by name (patterns with * and ?), and what is too little to be spoken of in them.

    `least`: the size by fault, in the fault's unit; `net`: s that a corner must have lost.
    """

    name: str
    cars: tuple[str, ...]
    least: dict[str, float] = field(default_factory=dict)
    net: float | None = None

    def holds(self, car: str) -> bool:
        """Whether this class is that car's; capitals do not matter."""
        return any(fnmatchcase(car.casefold(), pattern.casefold()) for pattern in self.cars)


@dataclass(frozen=True, slots=True)
class Playbook:
    """The whole of it. `order`: groups of faults; what is in none is not coached. A beginner works on them group by
    group, others by what costs most. `first`: what comes before all else for everyone.

    `corners`: names by track and corner number. `stage`: of practice, None where that is left to the driver.
    """

    name: str
    language: Language
    order: tuple[tuple[str, ...], ...]
    first: tuple[str, ...]
    pupil: str = AUTO
    talk: Talk = Talk()
    silence: Silence = Silence()
    corners: dict[str, dict[int, str]] = field(default_factory=dict)
    cars: tuple[CarClass, ...] = ()
    stage: str | None = None

    def coaches(self, fault: str) -> bool:
        """Whether this fault is coached at all."""
        return fault in self.first or any(fault in group for group in self.order)

    def group(self, fault: str) -> int:
        """The place of the fault's group in the order; beyond the last for one that is in none."""
        return next((place for place, group in enumerate(self.order) if fault in group), len(self.order))

    def car_class(self, car: str | None) -> CarClass | None:
        """The first class that holds the car; None where there is none."""
        return next((one for one in self.cars if car and one.holds(car)), None)

    def to_json(self) -> dict[str, Any]:
        """Plain values for a recording's head; `coach.playbook` reads them back."""
        return asdict(self)
