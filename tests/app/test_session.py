"""A session whose disk fails: the recording ends, the coaching goes on."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from make_stream import Drive

from coach.app.console import Console
from coach.app.session import Session, ended
from coach.app.source import Source
from coach.app.start import fresh
from coach.app.summary import Summary
from coach.vocabulary.errors import WorkError
from feeds.base import Datagram
from feeds.generic import GenericFeed
from feeds.passon import PassOn
from feeds.recording import RecordingWriter


class FullDisk(RecordingWriter):
    """Fails at the third datagram, as the writer does: once."""

    left = 2

    def datagram(self, received: float, data: bytes) -> None:
        if self.left == 0:
            self.close()
            raise WorkError(f"the recording {self.path} stops here, disk full: make room on the disk")
        self.left -= 1
        super().datagram(received, data)


def coached(drive: Drive, session: Session) -> None:
    feed = GenericFeed()
    with ended(session, lambda: 1000.0):
        for row, data in zip(drive.rows[:50], drive.datagrams()[:50], strict=True):
            session.keep(Datagram(row["t"], data))
            session.coach(feed.decode(data), row["t"])
            session.tick(row["t"], idle=True)


def test_a_full_disk_ends_the_recording_and_is_told_once(practice: Drive, tmp_path: Path) -> None:
    start, told, summary = fresh(Source(), None, ()), io.StringIO(), Summary()
    session = Session(start, [summary], FullDisk(tmp_path / "a.cwrec", start.head()), Console(told))
    coached(practice, session)
    assert told.getvalue().splitlines() == [
        f"the recording {tmp_path / 'a.cwrec'} stops here, disk full: make room on the disk; "
        "the session goes on without it"
    ]
    assert session.recorded == 2
    assert summary.text().startswith("loop-a, car-a\n")


def test_what_cannot_be_passed_on_is_told_and_ends_nothing(practice: Drive) -> None:
    start, told, summary = fresh(Source(), None, ()), io.StringIO(), Summary()
    with PassOn(["127.0.0.1"]) as passing:
        passing.send(bytes(70_000))  # more than a datagram can hold
        coached(practice, Session(start, [summary], None, Console(told), passing=passing))
    (line,) = told.getvalue().splitlines()
    assert line.startswith("datagram not passed on: to 127.0.0.1:26763 (")
    assert summary.text().startswith("loop-a, car-a\n")


def test_a_full_disk_is_the_failure_of_a_session_that_only_records(practice: Drive, tmp_path: Path) -> None:
    start, told = fresh(Source(), None, ()), io.StringIO()
    session = Session(start, [], FullDisk(tmp_path / "a.cwrec", start.head()), Console(told))
    coached(practice, session)
    assert told.getvalue() == ""
    assert session.failure is not None and session.failure.exit_code == 1


def test_an_exception_on_the_way_still_closes_the_recording(practice: Drive, tmp_path: Path) -> None:
    start = fresh(Source(), None, ())
    recorder = RecordingWriter(tmp_path / "a.cwrec", start.head())
    session = Session(start, [Summary()], recorder, Console(io.StringIO()))
    with pytest.raises(ZeroDivisionError), ended(session, lambda: 5.0):
        session.keep(Datagram(1.0, practice.datagrams()[0]))
        raise ZeroDivisionError
    assert not recorder.is_open


def test_a_recording_that_fails_with_nothing_else_to_do_is_the_end(practice: Drive, tmp_path: Path) -> None:
    start = fresh(Source(), None, ())
    alone = Session(start, [], FullDisk(tmp_path / "a.cwrec", start.head()), Console(io.StringIO()))
    beside = Session(start, [Summary()], FullDisk(tmp_path / "b.cwrec", start.head()), Console(io.StringIO()))
    assert not alone.over
    coached(practice, alone)
    coached(practice, beside)
    assert alone.over and not beside.over
