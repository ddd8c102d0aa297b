"""What stands in a playbook's file and in a language's: pydantic models. A playbook may leave any key out."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal, Self, TypeVar

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from coach.playbook import text
from coach.toml.words import did_you_mean
from coach.vocabulary.faults import FAULTS

SUMMARY_LEAST = 3
"""laps: a summary comes at most every third lap."""
UNITS = tuple(dict.fromkeys(kind.unit for kind in FAULTS.values()))
"""Units that sizes of faults have."""

PLACEHOLDERS: dict[str, tuple[str, ...]] = {
    "named": ("phrase", "corner"),
    "everywhere": ("phrase",),
    "reminder": ("phrase", "corner"),
    "focus": ("phrase",),
    "mended": ("topic",),
    "mended_gain": ("topic", "gain"),
    "costs": ("corner", "gain"),
    "best": ("gain",),
    "within": (),
    "fuel": ("number",),
    "fuel_one": (),
    "laps": ("number",),
    "laps_one": (),
    "minutes": ("number",),
    "minutes_one": (),
    "marked": (),
    "lap_used": (),
    "lap_unfit": (),
    "silent": (),
    "speaking": (),
    "clean_row": ("number",),
    "steadier_brake": ("corner",),
    "steadier_apex": ("corner",),
    "steadier_exit": ("corner",),
    "earned": (),
    "rehearsed": (),
    "steady": (),
    "uneven": (),
    "falls_off": (),
}
"""What may stand in braces in each of the sentences; praise may leave it out, the others may not."""
MAY_LACK = ("mended", "mended_gain", "best")


class Table(BaseModel):
    """Base of every table: nothing is converted, and a key that nobody knows is an error that names the likely one."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)

    @model_validator(mode="before")
    @classmethod
    def _knows_its_keys(cls, given: Any) -> Any:
        for key in given if isinstance(given, Mapping) else ():
            if key not in cls.model_fields:
                raise unknown(str(key), "no key is called", cls.model_fields)
        return given


def misplaced(key: str, message: str) -> PydanticCustomError:
    """The error for something deeper inside of what is checked; `key` goes on from where that stands."""
    return PydanticCustomError("misplaced", "{message}", {"message": message, "key": key})


def unknown(key: str, what: str, known: Any) -> PydanticCustomError:
    """The error for a key of a table that is none of those known."""
    message = f"{what} {key[: text.CHARACTERS]!r} here; {did_you_mean(key, known)}"
    return misplaced(dotted("", key), message)


def dotted(before: str, key: str) -> str:
    """The place of a key in a table, as TOML writes it."""
    short = key if len(key) <= text.CHARACTERS else f"{key[: text.CHARACTERS]}..."
    if re.fullmatch(r"[A-Za-z0-9_-]+", key):
        return f"{before}.{short}"
    return f"{before}.{json.dumps(short, ensure_ascii=not key.isprintable())}"


def _fault(given: str) -> str:
    if given not in FAULTS:
        raise ValueError(f"no fault is called {given[: text.CHARACTERS]!r}; {did_you_mean(given, FAULTS)}")
    return given


def _keyed_by_fault(given: Any) -> Any:
    return _keyed(given, FAULTS, "no fault is called")


def _keyed_by_unit(given: Any) -> Any:
    return _keyed(given, UNITS, "no fault is measured in")


def _keyed(given: Any, known: Any, what: str) -> Any:
    for key in given if isinstance(given, dict) else ():
        if key not in known:
            raise unknown(key, what, known)
    return given


def _words(words: int, *placeholders: str, needed: tuple[str, ...] = ()) -> Callable[[str], str]:
    return lambda given: text.checked(given, words, placeholders, needed)


def _sentence(name: str) -> Callable[[str], str]:
    placeholders = PLACEHOLDERS[name]
    return _words(text.SENTENCE_WORDS, *placeholders, needed=() if name in MAY_LACK else placeholders)


def _printable(given: str) -> str:
    if not given.isprintable():
        raise ValueError("has a line break or a control character: write it without")
    return given


def _summary(given: int) -> int:
    if 0 < given < SUMMARY_LEAST:
        raise ValueError(f"{given} laps: a summary comes every {SUMMARY_LEAST} laps or more, or 0 for none")
    return given


def _numbered(given: Any) -> Any:
    for key in given if isinstance(given, dict) else ():
        if not re.fullmatch(r"[1-9][0-9]{0,2}", key):
            raise misplaced(dotted("", key), 'a corner\'s number is needed, 1 to 999, for example 4 = "the hairpin"')
    return given


def _gain_words(given: str) -> str:
    return given and text.checked(given, text.SIZE_WORDS)


Fault = Annotated[str, AfterValidator(_fault)]
Say = Annotated[str, AfterValidator(_words(text.SAY_WORDS, "size"))]
Short = Annotated[str, AfterValidator(_words(text.SHORT_WORDS))]
Topic = Annotated[str, AfterValidator(_words(text.TOPIC_WORDS))]
SizeWords = Annotated[str, AfterValidator(_words(text.SIZE_WORDS))]
GainWords = Annotated[str, AfterValidator(_gain_words)]
CornerName = Annotated[str, AfterValidator(_words(text.CORNER_WORDS))]
Turn = Annotated[str, AfterValidator(_words(text.CORNER_WORDS, "number", needed=("number",)))]
Label = Annotated[str, Field(min_length=1, max_length=100), AfterValidator(_printable)]
Positive = Annotated[float, Field(gt=0)]


class SizeStep(Table):
    """One step of a scale; the last has no `below`."""

    words: SizeWords
    below: Positive | None = None


class GainStep(Table):
    """The same for seconds; without words for so few that they are not worth one."""

    words: GainWords
    below: Positive | None = None


Step = TypeVar("Step", SizeStep, GainStep)


def _ascends(given: list[Step]) -> list[Step]:
    before = 0.0
    for place, step in enumerate(given):
        is_last = place == len(given) - 1
        if is_last and step.below is not None:
            raise misplaced(f"[{place}].below", "the last step holds for all that is larger: leave `below` out")
        if not is_last and step.below is None:
            raise misplaced(f"[{place}]", "only the last step goes without `below`: say up to where it holds")
        if step.below is not None and step.below <= before:
            raise misplaced(
                f"[{place}].below", f"{step.below:g} follows {before:g}, but a scale ascends: put it in order"
            )
        before = step.below or before
    return given


Sizes = Annotated[list[SizeStep], Field(min_length=1), AfterValidator(_ascends)]
Gains = Annotated[list[GainStep], Field(min_length=1), AfterValidator(_ascends)]


class WordingTable(Table):
    """How one fault is spoken of."""

    say: Annotated[list[Say], Field(min_length=1, max_length=5)] | None = None
    short: Short | None = None
    topic: Topic | None = None


class SentencesTable(Table):
    """Everything else that is said."""

    named: Annotated[str, AfterValidator(_sentence("named"))] | None = None
    everywhere: Annotated[str, AfterValidator(_sentence("everywhere"))] | None = None
    reminder: Annotated[str, AfterValidator(_sentence("reminder"))] | None = None
    focus: Annotated[str, AfterValidator(_sentence("focus"))] | None = None
    mended: Annotated[str, AfterValidator(_sentence("mended"))] | None = None
    mended_gain: Annotated[str, AfterValidator(_sentence("mended_gain"))] | None = None
    costs: Annotated[str, AfterValidator(_sentence("costs"))] | None = None
    best: Annotated[str, AfterValidator(_sentence("best"))] | None = None
    within: Annotated[str, AfterValidator(_sentence("within"))] | None = None
    fuel: Annotated[str, AfterValidator(_sentence("fuel"))] | None = None
    fuel_one: Annotated[str, AfterValidator(_sentence("fuel_one"))] | None = None
    laps: Annotated[str, AfterValidator(_sentence("laps"))] | None = None
    laps_one: Annotated[str, AfterValidator(_sentence("laps_one"))] | None = None
    minutes: Annotated[str, AfterValidator(_sentence("minutes"))] | None = None
    minutes_one: Annotated[str, AfterValidator(_sentence("minutes_one"))] | None = None
    marked: Annotated[str, AfterValidator(_sentence("marked"))] | None = None
    lap_used: Annotated[str, AfterValidator(_sentence("lap_used"))] | None = None
    lap_unfit: Annotated[str, AfterValidator(_sentence("lap_unfit"))] | None = None
    silent: Annotated[str, AfterValidator(_sentence("silent"))] | None = None
    speaking: Annotated[str, AfterValidator(_sentence("speaking"))] | None = None
    clean_row: Annotated[str, AfterValidator(_sentence("clean_row"))] | None = None
    steadier_brake: Annotated[str, AfterValidator(_sentence("steadier_brake"))] | None = None
    steadier_apex: Annotated[str, AfterValidator(_sentence("steadier_apex"))] | None = None
    steadier_exit: Annotated[str, AfterValidator(_sentence("steadier_exit"))] | None = None
    earned: Annotated[str, AfterValidator(_sentence("earned"))] | None = None
    rehearsed: Annotated[str, AfterValidator(_sentence("rehearsed"))] | None = None
    steady: Annotated[str, AfterValidator(_sentence("steady"))] | None = None
    uneven: Annotated[str, AfterValidator(_sentence("uneven"))] | None = None
    falls_off: Annotated[str, AfterValidator(_sentence("falls_off"))] | None = None


class Words(Table):
    """What both kinds of file may say of words."""

    wordings: Annotated[dict[str, WordingTable], BeforeValidator(_keyed_by_fault)] = {}
    sentences: SentencesTable = SentencesTable()
    sizes: Annotated[dict[str, Sizes], BeforeValidator(_keyed_by_unit)] = {}
    gains: Gains | None = None


class LanguageFile(Words):
    """A whole language."""

    code: Annotated[str, Field(pattern="^[a-z]{2,3}(-[A-Za-z0-9]{2,8})*$")]
    voice: Label | None = None
    turn: Turn
    numbers: Annotated[list[Short], Field(min_length=100, max_length=1000)]


class TalkTable(Table):
    """How much is said; what is left out is the preset's."""

    corrections: Annotated[int, Field(ge=0, le=100)] | None = None
    one_off: Annotated[float, Field(ge=0)] | None = None
    reminders: bool | None = None
    focus: bool | None = None
    praise: bool | None = None
    summary_every: Annotated[int, Field(ge=0, le=1000), AfterValidator(_summary)] | None = None
    fade: bool | None = None
    alternate: bool | None = None


class SilenceTable(Table):
    """When nothing is said."""

    race: bool | None = None
    first_laps: Annotated[int, Field(ge=0, le=1000)] | None = None
    after_incident: Annotated[float, Field(ge=0, le=600)] | None = None


class CarTable(Table):
    """A class of cars."""

    name: Label
    cars: Annotated[list[Label], Field(min_length=1)]
    least: Annotated[dict[str, Positive], BeforeValidator(_keyed_by_fault)] = {}
    net: Annotated[float, Field(ge=0)] | None = None


class PlaybookFile(Words):
    """A playbook, or the part of one that differs from the default."""

    name: Label | None = None
    language: str | None = None
    pupil: Literal["auto", "beginner", "experienced"] | None = None
    order: list[Annotated[list[Fault], Field(min_length=1)]] | None = None
    first: list[Fault] | None = None
    stage: Literal["learn", "clean", "pace", "rehearse"] | None = None
    talkativeness: Literal["few", "some", "many"] | None = None
    talk: TalkTable = TalkTable()
    silence: SilenceTable = SilenceTable()
    corners: dict[Label, Annotated[dict[str, CornerName], BeforeValidator(_numbered)]] = {}
    cars: list[CarTable] = []

    @model_validator(mode="after")
    def _each_once(self) -> Self:
        seen: dict[str, str] = {}
        groups = {f"order[{place}]": group for place, group in enumerate(self.order or [])}
        for key, faults in groups.items():
            for place, fault in enumerate(faults):
                if fault in seen:
                    raise misplaced(f"{key}[{place}]", f"{fault} stands at {seen[fault]} already: leave it out here")
                seen[fault] = f"{key}[{place}]"
        for place, fault in enumerate(self.first or []):
            if fault in (self.first or [])[:place]:
                raise misplaced(f"first[{place}]", f"{fault} stands in it already: leave it out here")
        return self
