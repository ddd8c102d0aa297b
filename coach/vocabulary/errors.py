"""Errors that reach a person. One tree; each message is one line that says what, where, and the mend.

    CornerwordError
      InputError    the command line or a file was wrong          (exit code 2)
        FormatError   a datagram, recording or file cannot be read
      WorkError     the work itself failed: a port, a disk        (exit code 1)

Anything else that escapes is a bug.
"""

from __future__ import annotations


class CornerwordError(Exception):
    """Base: `str(error)` is the one line that a person is shown."""

    exit_code = 1


class InputError(CornerwordError):
    """What the person gave cannot be used: an option, a path, a file's content."""

    exit_code = 2


class FormatError(InputError):
    """Bytes that are not what they should be. `cause` is a short fixed phrase, to count by."""

    def __init__(self, message: str, cause: str = "unreadable") -> None:
        super().__init__(message)
        self.cause = cause


class WorkError(CornerwordError):
    """The work failed although the input was right: a port in use, a disk full."""
