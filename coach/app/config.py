"""What the command line may ask for, checked once at the edge."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations, product
from pathlib import Path
from typing import Any, Self, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from coach.planner.start import read_focus
from coach.vocabulary.errors import InputError
from feeds.car.person import PERSONS
from feeds.car.spec import CARS
from feeds.paths import on_one_line
from feeds.udp import DEFAULT_PORT


class Options(BaseModel):
    """Base of every verb's options."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Listening(Options):
    """Where the stream comes in."""

    host: str = Field("127.0.0.1", description="an address of this computer")
    port: int = Field(DEFAULT_PORT, ge=0, le=65535, description="a UDP port, 0 to 65535")
    feed: str = Field("generic", description="the name of a feed")


class Coaching(Options):
    """What is coached, against which lap, and where the event log goes. `focus` empty means every fault."""

    events: str | None = None
    reference: str | None = None
    focus: tuple[str, ...] = ()

    @field_validator("focus", mode="before")
    @classmethod
    def _names(cls, given: Any) -> Any:
        return read_focus(given) if isinstance(given, str) else given or ()


class Presenting(Options):
    """What the driver sees and hears, and where it is written what the sound device did."""

    voice: bool = True
    overlay: bool = True
    sound_log: Path | None = None


class DriveOptions(Listening, Coaching, Presenting):
    """`drive`: live, and recorded beside it where `record` names a file."""

    record: Path | None = None

    @model_validator(mode="after")
    def _fits(self) -> Self:
        written = {"--events": self.events, "--record": self.record, "--sound-log": self.sound_log}
        _differ(written, {"--reference": self.reference})
        _sounds(self)
        return self


class RecordOptions(Listening):
    """`record`: the stream to a file."""

    file: Path


class ReplayOptions(Coaching, Presenting):
    """`replay`: a file through the same engine; `fast` without waiting for the clock."""

    file: Path
    fast: bool = False

    @model_validator(mode="after")
    def _fits(self) -> Self:
        written = {"--events": self.events, "--sound-log": self.sound_log}
        _differ(written, {"FILE": self.file, "--reference": self.reference})
        _sounds(self, self.fast)
        return self


class DemoOptions(Coaching, Presenting):
    """`demo`: the built-in car; `fast` as fast as it goes, without voice and overlay."""

    fast: bool = False
    driver: str = Field("steady", description=f"one of {', '.join(PERSONS)}")
    car: str = Field("Pellow R", description=f"one of {', '.join(CARS)}")
    laps: int = Field(3, ge=1, le=200, description="whole laps, 1 to 200")
    rate: int = Field(60, ge=20, le=360, description="datagrams a second, 20 to 360")
    seed: int = Field(1, description="a whole number")
    mistake: tuple[str, ...] | None = None

    @model_validator(mode="after")
    def _fits(self) -> Self:
        _differ({"--events": self.events, "--sound-log": self.sound_log}, {"--reference": self.reference})
        _sounds(self, self.fast)
        return self

    @field_validator("driver")
    @classmethod
    def _is_known(cls, given: str) -> str:
        return _one_of(given, PERSONS)

    @field_validator("car")
    @classmethod
    def _is_built(cls, given: str) -> str:
        return _one_of(given, CARS)


Kind = TypeVar("Kind", bound=Options)


def checked(kind: type[Kind], given: dict[str, Any]) -> Kind:
    """The options in `given`, None meaning not given. Raises InputError, one line, for the first that is wrong."""
    try:
        return kind(**{name: value for name, value in given.items() if value is not None})
    except ValidationError as error:
        first = error.errors()[0]
    name = str(first["loc"][0]).replace("_", "-")
    wanted = kind.model_fields[str(first["loc"][0])].description
    raise InputError(f"--{name}: needs {wanted or first['msg']}, not {first['input']!r}")


def _one_of(given: str, known: Iterable[str]) -> str:
    if given not in known:
        raise ValueError("unknown")
    return given


def _differ(written: dict[str, str | Path | None], read: dict[str, str | Path | None]) -> None:
    """Raises InputError where a file is to be written that is written, or read, for another option as well."""
    for (one, first), (other, second) in (*combinations(written.items(), 2), *product(written.items(), read.items())):
        if first is None or second is None or str(first) == "-":
            continue
        if Path(first).resolve() == Path(second).resolve():
            raise InputError(
                f"{one} and {other} are the same file, {on_one_line(first)}: writing one would destroy the other"
            )


def _sounds(options: Presenting, fast: bool = False) -> None:
    """Raises InputError for a sound log that would stay empty, or that is no file."""
    if options.sound_log is None:
        return
    if str(options.sound_log) == "-":
        raise InputError("--sound-log: needs a file, not standard output")
    if fast or not options.voice:
        silent = "--fast" if fast else "--no-voice"
        raise InputError(f"--sound-log: with {silent} nothing sounds, so there is nothing to write: leave one out")
