"""What the command line may ask for, checked once at the edge."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations, product
from pathlib import Path
from typing import Any, Self, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from coach.app.skip import LEAD, Place
from coach.planner.start import read_focus
from coach.vocabulary.errors import InputError
from coach.vocabulary.stages import STAGES
from feeds.car.person import PERSONS
from feeds.car.spec import CARS
from feeds.paths import on_one_line
from feeds.registry import LAYOUT
from feeds.udp import DEFAULT_PORT
from voice.espeak import RATES


class Options(BaseModel):
    """Base of every verb's options."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Receiving(Options):
    """Where a stream comes in, and from which addresses beside this computer's own."""

    host: str = Field("127.0.0.1", description="an address of this computer")
    port: int = Field(DEFAULT_PORT, ge=0, le=65535, description="a UDP port, 0 to 65535")
    allow: tuple[str, ...] = ()


class Made(Options):
    """What a stream is made of: a feed by name, or the packets of a layout file. None: the generic stream, or what a
    recording's head says."""

    feed: str | None = Field(None, min_length=1, description="the name of a feed")
    layout: Path | None = None

    @model_validator(mode="after")
    def _is_one(self) -> Self:
        if self.feed is not None and self.layout is not None and self.feed != LAYOUT:
            raise InputError("--feed and --layout both say what the stream is made of: leave one out")
        return self


class Listening(Receiving, Made):
    """A stream that comes in, and what it is made of."""


class Reading(Made):
    """A file that was recorded or captured; `port`: of a capture, where the datagrams went that are meant."""

    file: Path
    port: int | None = Field(None, ge=0, le=65535, description="a UDP port, 0 to 65535")


class Remembered(Options):
    """In which file the memory is; None: the user's own."""

    memory: Path | None = None


class Judging(Remembered):
    """Against which lap, a file or one that the memory holds, and what is coached; `focus` empty: every fault."""

    reference: str | None = None
    focus: tuple[str, ...] = ()

    @field_validator("focus", mode="before")
    @classmethod
    def _names(cls, given: Any) -> Any:
        return read_focus(given) if isinstance(given, str) else given or ()


class Judged(Reading, Judging):
    """A file, and how it is judged."""


class Keeping(Remembered):
    """Whether a drive is kept, and begins from what was kept before."""

    keep: bool = True

    @model_validator(mode="after")
    def _is_kept(self) -> Self:
        if self.memory is not None and not self.keep:
            raise InputError("--memory: with --no-memory nothing is kept: leave one out")
        return self


class Whose(Options):
    """Which sessions are meant; None: those of the session kept last."""

    driver: str | None = None
    car: str | None = None
    track: str | None = None


class Coaching(Judging):
    """By which playbook and at which stage besides, and where the event log goes."""

    stage: str | None = Field(None, description=f"one of {', '.join(STAGES)}")
    events: str | None = None
    playbook: str | None = None
    alternate: bool = False

    @field_validator("stage")
    @classmethod
    def _is_a_stage(cls, given: str | None) -> str | None:
        return None if given is None else _one_of(given, STAGES)


class Presenting(Options):
    """What the driver sees and hears, and where it is written what the sound device did. None: as it is set in the
    file of settings, `settings` or the user's own."""

    voice: bool = True
    overlay: bool = True
    sound_log: Path | None = None
    settings: Path | None = None
    volume: float | None = Field(default=None, ge=0.0, le=1.0, description="a number from 0 to 1")
    words_a_minute: int | None = Field(
        default=None,
        ge=RATES.start,
        le=RATES.stop - 1,
        description=f"words a minute, {RATES.start} to {RATES.stop - 1}",
    )
    speaker: str | None = Field(default=None, min_length=1, description="the name of one of the synthesiser's voices")
    sound_device: str | None = Field(
        default=None, min_length=1, description="the name of a sound device, or a part of it"
    )
    text: bool | None = None
    times: bool | None = None
    window: bool = False
    full_screen: bool = False
    monitor: str | None = Field(default=None, min_length=1, description="the name of a monitor")


class Pressing(Options):
    """Whether the buttons are listened to that `cornerword buttons` has bound."""

    buttons: bool = True


class Driving(Coaching, Presenting):
    """A drive that is coached as it happens, and recorded beside it where `record` names a file."""

    record: Path | None = None

    @model_validator(mode="after")
    def _fits(self) -> Self:
        written = {"--events": self.events, "--record": self.record, "--sound-log": self.sound_log}
        _differ(written, {"--reference": self.reference})
        _sounds(self)
        _shows(self)
        return self


class DriveOptions(Listening, Driving, Pressing, Keeping):
    """`drive`: live."""

    pass_on: tuple[str, ...] = ()
    share_with: tuple[str, ...] = ()
    instructor: tuple[str, ...] = ()


class RecordOptions(Listening):
    """`record`: the stream to a file."""

    file: Path


class ReplayOptions(Judged, Coaching, Presenting):
    """`replay`: a file through the same engine; `fast` without waiting for the clock."""

    fast: bool = False
    from_lap: int | None = Field(None, ge=0, description="a lap's number, 0 or more")
    from_corner: int | None = Field(None, ge=1, description="a corner's number, 1 or more")
    before_cue: int | None = Field(None, ge=1, description="a cue's number, counted from 1")
    before_mark: int | None = Field(None, ge=1, description="a mark's number, counted from 1")
    lead: float | None = Field(None, ge=0.0, allow_inf_nan=False, description="seconds, 0 or more")

    @property
    def place(self) -> Place | None:
        """Where it begins to be seen and heard; None at its beginning."""
        if (self.from_lap, self.from_corner, self.before_cue, self.before_mark) == (None,) * 4:
            return None
        lead = LEAD if self.lead is None else self.lead
        return Place(self.from_lap, self.from_corner, self.before_cue, lead, self.before_mark)

    @model_validator(mode="after")
    def _fits(self) -> Self:
        written = {"--events": self.events, "--sound-log": self.sound_log}
        _differ(written, {"FILE": self.file, "--reference": self.reference})
        _sounds(self, self.fast)
        _shows(self)
        _begins(self)
        return self


class DemoOptions(Coaching, Presenting, Pressing, Keeping):
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
        _shows(self)
        return self

    @field_validator("driver")
    @classmethod
    def _is_known(cls, given: str) -> str:
        return _one_of(given, PERSONS)

    @field_validator("car")
    @classmethod
    def _is_built(cls, given: str) -> str:
        return _one_of(given, CARS)


class CompareOptions(Judged):
    """`compare`: a recording under two playbooks; `lap`: the one of the picture, None for all."""

    playbook: tuple[str, ...] = ()
    picture: Path | None = None
    lap: int | None = Field(None, ge=0, description="a lap's number, 0 or more")

    @model_validator(mode="after")
    def _fits(self) -> Self:
        if not 1 <= len(self.playbook) <= 2:
            raise InputError(
                f"--playbook: {len(self.playbook) or 'none'} named: name the two to compare, or one beside the default"
            )
        if self.lap is not None and self.picture is None:
            raise InputError("--lap: chooses the lap of the picture: name its file with --picture as well")
        read: dict[str, str | Path | None] = {"FILE": self.file, "--reference": self.reference}
        for name in self.playbook:
            _differ({"--picture": self.picture}, read | {"--playbook": name})
        return self


class ButtonsOptions(Options):
    """`buttons`: ask for them (`add`: beside those that are bound), or `listed` or `clear` them."""

    listed: bool = False
    clear: bool = False
    add: bool = False

    @model_validator(mode="after")
    def _fits(self) -> Self:
        given = [name for name, on in {"--list": self.listed, "--clear": self.clear, "--add": self.add}.items() if on]
        if len(given) > 1:
            raise InputError(f"{given[0]} and {given[1]} are two things to do: leave one out")
        return self


class PlaceOptions(Options):
    """`place`: `placing` is the file that is written, the user's own if none is named; the others as in a drive."""

    placing: Path | None = None
    settings: Path | None = None
    playbook: str | None = None
    voice: bool = True


class PlaybookOptions(Options):
    """`playbook`: what is in an instructor's file, or in the built-in one."""

    file: str | None = None
    lengths: bool = False
    speak: bool = False


class LayoutOptions(Options):
    """`layout`: what a layout file gives."""

    file: Path


class DecipherOptions(Receiving):
    """`decipher`: find the layout of an unknown stream and write it to `file`; `recorded`: from a file, not live."""

    file: Path
    recorded: Path | None = None
    voice: bool = True


class CheckupOptions(Listening):
    """`checkup`: what arrives in so many `seconds`, and whether sound and window work."""

    seconds: float = Field(10.0, ge=1.0, le=600.0, description="seconds, 1 to 600")
    voice: bool = True
    overlay: bool = True
    settings: Path | None = None


class FollowOptions(Driving):
    """`follow`: a drive that another computer shares, by its `name` or `at` its address; neither: which there are."""

    name: str | None = None
    at: str | None = Field(None, min_length=1, description="an address, with its port")


class RecordingsOptions(Options):
    """`recordings`: those in a folder."""

    folder: Path = Path(".")


class InspectOptions(Reading):
    """`inspect`: what is in a recording, and whether it is whole."""


class CutOptions(Reading):
    """`cut`: the laps `laps` ("3", "2-4") of a recording to a new one, `to`."""

    to: Path
    laps: str


class ExportOptions(Reading):
    """`export`: a recording's channels to a table, of the kind that the name of `to` says."""

    to: Path
    laps: str | None = None


class SessionsOptions(Remembered, Whose):
    """`memory sessions`: which there are."""


class LapsOptions(Remembered):
    """`memory laps`: those of a session."""

    session: int | None = Field(None, ge=1, description="a session's number, 1 or more")


class NoteOptions(Remembered):
    """`memory note`: a free note to a session."""

    session: int = Field(ge=1, description="a session's number, 1 or more")
    text: str = Field(max_length=2000, description="a note of 2000 characters at most")


class SetupOptions(Remembered):
    """`memory setup`: a session's setup."""

    session: int = Field(ge=1, description="a session's number, 1 or more")
    label: str = Field(max_length=200, description="a name of 200 characters at most")


class NameOptions(Remembered):
    """`memory name`: a lap's name."""

    lap: str
    label: str = Field(max_length=200, description="a name of 200 characters at most")


class ForgetOptions(Remembered):
    """`memory forget`: one session, or one lap."""

    session: int | None = Field(None, ge=1, description="a session's number, 1 or more")
    lap: str | None = None


class ChooseOptions(Remembered, Whose):
    """`memory choose`: the reference from now on."""

    lap: str


class GiveOptions(Remembered):
    """`memory give`: a lap to a new file."""

    lap: str
    file: Path


class TakeOptions(Remembered, Reading):
    """`memory take`: a lap or a recording from a file; `name`: the lap's here."""

    name: str | None = Field(None, min_length=1, max_length=200, description="a name of 200 characters at most")


class CopyOptions(Remembered):
    """`memory copy`: the whole of it to a new file."""

    file: Path


class DebriefOptions(Remembered, Made):
    """`debrief`: `what` is a kept session's number or a recording; None: the session kept last. `port`: of a capture,
    where the datagrams went that are meant."""

    what: str | None = None
    port: int | None = Field(None, ge=0, le=65535, description="a UDP port, 0 to 65535")
    to: Path | None = None
    pictures: Path | None = None
    reference: str | None = None


class ProgressOptions(Remembered, Whose):
    """`progress`: the last so many `sessions`."""

    to: Path | None = None
    sessions: int = Field(7, ge=2, le=50, description="sessions, 2 to 50")


class PupilsOptions(Options):
    """`pupils`: several memories side by side."""

    files: tuple[Path, ...]
    to: Path | None = None
    track: str | None = None


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


def _begins(options: ReplayOptions) -> None:
    """Raises InputError for a start that is two places, none, or of no use."""
    places = {"--before-cue": options.before_cue, "--before-mark": options.before_mark}
    places |= {"--from-lap": options.from_lap, "--from-corner": options.from_corner}
    given = [name for name, number in places.items() if number is not None]
    if len(given) > 1 and given != ["--from-lap", "--from-corner"]:
        raise InputError(f"{given[0]} and {given[1]} are two places to begin at: leave one out")
    if options.lead is not None and given in ([], ["--from-lap"]):
        raise InputError(
            "--lead: needs a corner or a cue to come before: give --from-corner or --before-cue as well, or a mark: "
            "--before-mark"
        )
    if options.place is not None and options.fast and options.events is None:
        raise InputError("--fast: nothing is seen or heard to begin later: leave it out, or write a log with --events")


def _sounds(options: Presenting, fast: bool = False) -> None:
    """Raises InputError for a sound log that would stay empty, or that is no file."""
    if options.sound_log is None:
        return
    if str(options.sound_log) == "-":
        raise InputError("--sound-log: needs a file, not standard output")
    if fast or not options.voice:
        silent = "--fast" if fast else "--no-voice"
        raise InputError(f"--sound-log: with {silent} nothing sounds, so there is nothing to write: leave one out")


def _shows(options: Presenting) -> None:
    """Raises InputError for an overlay that is two kinds of window, or one that is not there."""
    if options.window and options.full_screen:
        raise InputError("--window and --full-screen are two kinds of window: leave one out")
    wanted = (("--window", options.window), ("--full-screen", options.full_screen), ("--monitor", options.monitor))
    for name, value in wanted:
        if value and not options.overlay:
            raise InputError(f"{name}: with --no-overlay there is no window: leave one out")
