"""What the two sides of a shared drive say: JSON lines over TCP.

The driver's computer speaks first, so that one that is refused reads why:

    driver                                                  follower
    {"share":1,"id":"...","name":"...","instructor":false,"begun":true}
                                                            {"follow":1}
    the head and then the lines of a recording              {"alive":true}
    {"alive":true}  {"missed":12}                           {"ask":"topic late_throttle"}
    {"taken":"mark"}  {"refused":"..."}

The stream is a recording that is read while it is written: datagrams, actions, silences and what was recalled in one
order, each with the driver's receive time, so that the follower's engine says what the driver's says. Who joins later
is given what was recalled last right behind the head.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from coach.vocabulary.actions import INSTRUCTORS, NEXT_TOPIC, TOPIC, topic_of
from coach.vocabulary.errors import FormatError
from coach.vocabulary.faults import FAULTS

VERSION = 1
"""Of what is said here. A follower of another version is refused."""
LONGEST_ASKED = 1024
"""bytes of a follower's line; what it may ask for takes a tenth of that."""
HELP = "help"
"""What an instructor types to have the others listed."""
SHORT_NAMES = {"next": NEXT_TOPIC}
"""What an instructor may type in place of an action's name."""


@dataclass(frozen=True, slots=True)
class Greeting:
    """The driver's computer's first line: which drive this is, its name, whether the follower may instruct, and whether
    some of the drive is over already, which it will not see."""

    id: str
    name: str
    instructor: bool
    begun: bool = False


@dataclass(frozen=True, slots=True)
class Missed:
    """So many datagrams were left out here: the follower, or the network, was too slow for them."""

    number: int


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of something that was asked for: `taken`, or refused, with the action or the reason."""

    taken: bool
    text: str


def line_of(**said: Any) -> bytes:
    """One line."""
    return json.dumps(said, separators=(",", ":")).encode() + b"\n"


def greeting_line(greeting: Greeting) -> bytes:
    """The driver's computer's first line."""
    who = {"id": greeting.id, "name": greeting.name, "instructor": greeting.instructor}
    return line_of(share=VERSION, **who, begun=greeting.begun)


def read(line: bytes) -> dict[str, Any]:
    """The object in a line. FormatError where there is none."""
    try:
        found = json.loads(str(line, "utf-8"))
    except (ValueError, RecursionError):
        raise FormatError("no line of a shared drive", "not JSON") from None
    if not isinstance(found, dict):
        raise FormatError("no line of a shared drive", "not an object")
    return found


def read_greeting(line: bytes) -> Greeting | Answer:
    """The first line, which may be a refusal. FormatError for what is neither, or of another version."""
    found = read(line)
    if "refused" in found:
        return Answer(False, str(found["refused"]))
    if "share" not in found:
        raise FormatError("no shared drive", "not a shared drive")
    if found["share"] != VERSION:
        raise FormatError("a shared drive of another version: install the same version on both computers", "version")
    may_instruct, begun = found.get("instructor") is True, found.get("begun") is True
    return Greeting(str(found.get("id", "")), str(found.get("name", "")), may_instruct, begun)


def read_aside(line: bytes) -> Missed | Answer | None:
    """What the driver's computer says beside the stream; None for what this version does not know. FormatError for
    bytes that are no line of it."""
    found = read(line)
    if type(found.get("missed")) is int:
        return Missed(found["missed"])
    if "taken" in found:
        return Answer(True, str(found["taken"]))
    if "refused" in found:
        return Answer(False, str(found["refused"]))
    return None


def read_asked(text: str) -> str:
    """The action that an instructor's words ask for, as it is logged: `topic late_throttle`. FormatError, with what
    there is to choose from, for words that ask for none."""
    name, *rest = text.split()[:3] or [""]
    name = SHORT_NAMES.get(name, name)
    action = " ".join([name, *rest])
    if name not in INSTRUCTORS:
        raise FormatError(f"choose one of {', '.join(INSTRUCTORS)}, or {HELP}", "no action")
    if name == TOPIC and topic_of(action) is None:
        raise FormatError(f"{TOPIC} needs one fault behind it: {', '.join(FAULTS)}", "no fault")
    if name != TOPIC and rest:
        raise FormatError(f"{name} stands alone", "more than an action")
    return action
