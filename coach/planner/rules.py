"""The numbers that decide when something may be said, each with where it comes from.

Row numbers point to the list of check values that this project was designed from: what a row rests on is named beside
it. `choice` marks a number that the source bounds but does not give.
"""

from __future__ import annotations

FULL = 0.95
"""Throttle that counts as full (common practice, as in the definition of the faults)."""
HELD = 0.3
"""s that full throttle must have lasted before a dip in it can count as the cut of a gear change (choice)."""
CUT = 0.3
"""s: a longer dip is a lift; gear changes and a traction aid dip for less (common practice)."""
EARLIEST = 0.5
LATEST = 1.5
"""s after full throttle between which a cue starts (2.10: feedback given at once keeps a learner from judging the
run without it, Swinnen 1990; the bounds are a choice, as more delay leaves no room before the next corner)."""
SETTLE = 0.2
"""s behind a corner's exit before a finding from further back may be spoken: what was found in the corner itself comes
with its exit, and goes first if it costs more (choice)."""
CALM = 0.2
"""s for which brake and lateral acceleration must have been low before a cue starts (choice)."""
MARGIN = 0.5
"""s between a cue's end and its deadline (choice, from 1.24: speech costs a driver who is busy with a hard stretch)."""
GAP = 2.0
"""s of silence between two cues (2.20, from 1.26 and 2.12: one thing at a time; the length is a choice)."""
SIGHT = 2.0
"""s before its brake point, at the reference's pace, where a corner is in sight again: what was found there last time
is then no longer said (choice; 1.39 puts reminders at 4 to 8 s before, so this is late enough to lose nothing)."""

REMIND_EARLIEST, REMIND_LATEST = 8.0, 4.0
"""s before the brake point between which a reminder begins (1.39: at 4 s speech still helped, Bella & Silvestri 2017;
1.30: what was heard 8 to 10 s before was still known to nine in ten, Simpson & Marchionda-Frost 1984)."""
REMIND_REST = 1.0
"""s between its end and the brake point at the least, where the straight allows no more (choice)."""
REMIND_SOON = 0.5
"""s of the latest beginning that are left when it no longer waits for a correction to come first (choice)."""

EVERYWHERE = 3
"""Corners of one fault that wait to be spoken of, from which one cue speaks of all: a list of names is not kept in mind
(1.26 to 1.28; the number is a choice)."""

QUIET_THROTTLE = 0.8
QUIET_BRAKE = 0.05
"""The reference is quiet with the throttle at least, the brake at most there (the design's deadline)."""
QUIET_LATERAL = 0.45
"""Share of the reference's 99th percentile of lateral acceleration up to which it is quiet: the design's half of the
greatest, on the safe side, and by percentile so that one noisy sample does not raise it (choice)."""
LATERAL_SHARE = 0.99
START_LATERAL = 0.9
"""Share of that bound which the driver's own lateral acceleration stays under when a cue starts: at a corner's exit it
swings, and what it does while the cue sounds is not known yet (choice)."""

SPREAD = 25.0
"""m behind the place where a driver ended full throttle last time, before going on counts as likely: nobody ends
it twice at one place (choice; a beginner's brake point scatters by some car lengths)."""

LOST = 0.5
"""s without a sample after which nothing is known of what the driver held (choice)."""

ROUNDING = 1e-6
"""s: two times nearer than this are one, so that where a clock begins does not change what is said."""

WORD_TIME = 0.058
WORD_BASE = 0.065
"""s a character, s: how long a common synthetic voice takes for a phrase at 175 words a minute (fitted to 60 cues)."""
WORD_DOUBT = 0.6
"""s, added so that an estimate errs long: over the phrases of the shipped table it was short by up to 0.55 s, for a
word like "exit" and for the pause at a comma (measured by voice.measure_lengths; rates by 1.31, 1.32)."""

UNITS = 4
"""Most units of information in a spoken message (1.26: up to 4, Gatling 1975, FHWA-RD-75-73)."""
LONGEST = 2.2
"""s: a longer wording gives way to a shorter one (choice, from 1.32)."""
