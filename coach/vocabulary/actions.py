"""What a driver, or an instructor, can press: the closed set of actions, each with what it does."""

from __future__ import annotations

QUIET = "quiet"
SPEAK = "speak"
QUIET_OR_SPEAK = "quiet_or_speak"
REPEAT = "repeat"
NEXT_TOPIC = "next_topic"
STATUS = "status"
USE_LAP = "use_lap"
MARK = "mark"

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
