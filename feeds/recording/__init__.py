"""Recordings: what came and when, written as it comes and read back.

A recording, version 1 (`*.cwrec`), is gzip of JSON lines, a new gzip member about each second. The first line is the
head: `format`, `version`, `source`, and whatever the caller must restore to say again what was said. Then one line a
datagram, `received` (s) with its bytes as `text` or `base64`; one for each `action`; `recalled` where a memory said
what it knows of the driver; `silence` where the stream was called lost; and `end` when it was closed.
Keys may be added, and lines of other kinds; a reader skips what it does not know.

`open_recording` also reads JSON lines of generic datagrams and packet captures, which have no head.
"""

from feeds.recording.captured import CapturedRecording
from feeds.recording.lines import FORMAT, VERSION, ActionLine, EndLine, Item, RecalledLine, SilenceLine
from feeds.recording.opening import open_recording
from feeds.recording.reader import Damage, Recording
from feeds.recording.writer import RecordingWriter

__all__ = [
    "FORMAT",
    "VERSION",
    "ActionLine",
    "CapturedRecording",
    "Damage",
    "EndLine",
    "Item",
    "RecalledLine",
    "Recording",
    "RecordingWriter",
    "SilenceLine",
    "open_recording",
]
