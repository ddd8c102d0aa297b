"""What a driver, or an instructor, can press: the closed set of actions, each with what it does."""

from __future__ import annotations

QUIET = "quiet"
SPEAK = "speak"
REPEAT = "repeat"
NEXT_TOPIC = "next_topic"
STATUS = "status"

ACTIONS: dict[str, str] = {
    QUIET: "say nothing until asked to speak again",
    SPEAK: "speak again, in a race too",
    REPEAT: "say the last thing once more",
    NEXT_TOPIC: "leave this topic and work on the next",
    STATUS: "say what is left of fuel, laps and time",
}
"""Every action by its name. Others may stand in a log or a recording of a later version; they do nothing here."""
