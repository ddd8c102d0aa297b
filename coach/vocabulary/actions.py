"""What a driver, or an instructor, can press: the closed set of actions, each with what it does."""

from __future__ import annotations

from coach.vocabulary.faults import FAULTS

QUIET = "quiet"
SPEAK = "speak"
QUIET_OR_SPEAK = "quiet_or_speak"
REPEAT = "repeat"
NEXT_TOPIC = "next_topic"
STATUS = "status"
USE_LAP = "use_lap"
MARK = "mark"
TOPIC = "topic"
"""Written with the fault behind it: `topic late_throttle`. Not on a button: an instructor's."""

DRIVER, INSTRUCTOR = "driver", "instructor"
"""By whom."""

ACTIONS: dict[str, str] = {
    QUIET_OR_SPEAK: "be quiet, or speak again: one button for both",
    REPEAT: "say the last thing once more",
    MARK: "mark this moment, to be found again",
    USE_LAP: "make this lap the reference; shortly after the line, the lap that has just ended",
    NEXT_TOPIC: "leave this topic and work on the next",
    STATUS: "say what is left of fuel, laps and time",
    QUIET: "say nothing until asked to speak again",
    SPEAK: "speak again, in a race too",
}
"""Every action by its name, as they are asked for: what is used most comes first. Others may stand in a log or a
recording of a later version; they do nothing here."""

INSTRUCTORS: dict[str, str] = {
    TOPIC: "work on this fault with the pupil from now on: `topic late_throttle`",
    NEXT_TOPIC: "leave the topic and work on the next",
    QUIET: ACTIONS[QUIET],
    SPEAK: ACTIONS[SPEAK],
    MARK: ACTIONS[MARK],
}
"""What an instructor who follows may ask for, where the driver allows it."""


def topic_of(action: str) -> str | None:
    """The fault that an action asks to be worked on; None where it is another action, or none that there is."""
    name, _, fault = action.partition(" ")
    return fault if name == TOPIC and fault in FAULTS else None
