"""Recordings: what is written, what comes back, and what happens when the disk or the file is bad."""

from __future__ import annotations

import errno
import gzip
import json
import os
import subprocess
from pathlib import Path

import pytest

from coach.vocabulary.errors import FormatError, InputError, WorkError
from feeds.base import Datagram
from feeds.recording import ActionLine, Damage, EndLine, Item, RecalledLine, RecordingWriter, open_recording
from feeds.recording.split import LINE_LIMIT
from feeds.recording.zipped import MEMBER_HEAD

HEAD = {"source": "generic", "layout": None, "options": {"focus": ["late_throttle"]}, "car": "Hare 1200 \u6771"}
ITEMS: list[Item] = [
    Datagram(1000.0, b'{"t":0.0,"speed":1.5}'),
    Datagram(1000.016667, b'{"t":0.016,"track":"Rue\xc3\xa9 \xe6\x9d\xb1"}'),
    ActionLine(1000.02, "mute"),
    Datagram(1000.033333, bytes(range(256))),
    Datagram(1000.05, b""),
    Datagram(1000.066667, b'line\nbreak\r\n\x00"quoted"\\ \xe2\x80\xa8'),
    RecalledLine(1000.07, {"known": {"reference": {"time": [0.0, 0.1 + 0.2, 1e-300]}}, "stage": "Rue\xe9\n"}),
    Datagram(1001.5, b"\xed\xa0\x80"),  # half a surrogate pair: no UTF-8 (RFC 3629 section 3)
]
EXPECTED = [*ITEMS, EndLine(1002.0)]


def write(path: Path, items: list[Item], end: float | None = 1002.0) -> Path:
    with RecordingWriter(path, HEAD) as writer:
        for item in items:
            if isinstance(item, Datagram):
                writer.datagram(item.received, item.data)
            elif isinstance(item, ActionLine):
                writer.action(item.received, item.action)
            elif isinstance(item, RecalledLine):
                writer.recalled(item.received, item.recalled)
        writer.close(end)
    return path


def stream(seconds: float, rate: int = 50) -> list[Item]:
    """Datagrams as a source would send them."""
    times = [1000.0 + index / rate for index in range(int(seconds * rate))]
    return [Datagram(round(time, 6), f'{{"t":{time:.3f},"x":{hash_like(time)}}}'.encode()) for time in times]


def hash_like(time: float) -> int:
    """A number that does not compress to nothing."""
    return int(time * 1000) * 2_654_435_761 % 2**32


def members(path: Path) -> list[int]:
    """Where the gzip members begin."""
    data = path.read_bytes()
    places, place = [], data.find(MEMBER_HEAD)
    while place >= 0:
        places.append(place)
        place = data.find(MEMBER_HEAD, place + 1)
    return places


class TestRoundTrip:
    def test_everything_comes_back_as_it_was(self, tmp_path: Path) -> None:
        recording = open_recording(write(tmp_path / "a.cwrec", ITEMS))
        assert list(recording) == EXPECTED
        assert recording.truncated is None
        assert recording.headless is None
        assert recording.head is not None
        assert recording.head == {"format": "cornerword recording", "version": 1, **HEAD}

    def test_it_can_be_read_again(self, tmp_path: Path) -> None:
        recording = open_recording(write(tmp_path / "a.cwrec", ITEMS))
        assert list(recording) == list(recording) == EXPECTED

    def test_the_name_does_not_matter(self, tmp_path: Path) -> None:
        assert list(open_recording(write(tmp_path / "a.jsonl", ITEMS))) == EXPECTED

    def test_the_same_calls_give_the_same_bytes(self, tmp_path: Path) -> None:
        first, second = write(tmp_path / "a.cwrec", ITEMS), write(tmp_path / "b.cwrec", ITEMS)
        assert first.read_bytes() == second.read_bytes()

    def test_without_a_time_the_end_is_at_the_last_line(self, tmp_path: Path) -> None:
        assert list(open_recording(write(tmp_path / "a.cwrec", ITEMS, end=None)))[-1] == EndLine(1001.5)


class TestFormat:
    def test_gzip_tools_read_it_as_json_lines(self, tmp_path: Path) -> None:
        path = write(tmp_path / "a.cwrec", ITEMS)
        text = subprocess.run(["gzip", "-dc", str(path)], capture_output=True, check=True).stdout
        lines = [json.loads(line) for line in text.decode().split("\n") if line]
        assert text == gzip.decompress(path.read_bytes())
        assert lines[0] == {"format": "cornerword recording", "version": 1, **HEAD}
        assert lines[1] == {"received": 1000.0, "text": '{"t":0.0,"speed":1.5}'}
        assert lines[3] == {"received": 1000.02, "action": "mute"}
        assert set(lines[4]) == {"received", "base64"}
        assert lines[-1] == {"received": 1002.0, "end": True}

    def test_there_is_a_member_for_about_each_second(self, tmp_path: Path) -> None:
        path = write(tmp_path / "a.cwrec", stream(10.0))
        assert 11 <= len(members(path)) <= 13  # the head's, and 10 s by at most a second each

    def test_what_waits_is_on_the_disk_within_a_second_of_any_datagram_or_tick(self, tmp_path: Path) -> None:
        path = tmp_path / "a.cwrec"
        writer = RecordingWriter(path, HEAD)
        for item in stream(5.0):
            assert isinstance(item, Datagram)
            writer.datagram(item.received, item.data)
            on_disk = [other.received for other in open_recording(path)]
            assert item.received - (on_disk[-1] if on_disk else 1000.0) < 1.0
        writer.tick(1005.2)
        assert len(list(open_recording(path))) < 250
        writer.tick(1005.5)
        assert len(list(open_recording(path))) == 250
        size = path.stat().st_size
        writer.tick(1100.0)
        assert path.stat().st_size == size, "a tick with nothing waiting writes nothing"
        writer.close()

    def test_a_flood_within_a_second_goes_to_the_disk_in_parts(self, tmp_path: Path) -> None:
        path = tmp_path / "a.cwrec"
        writer = RecordingWriter(path, HEAD)
        for _ in range(150):
            writer.datagram(1000.0, b"x" * 60_000)
        assert len(members(path)) == 3  # the head's, and two of 4 MB of the 9 MB that came
        writer.close()

    def test_a_clock_that_goes_back_does_not_keep_lines_waiting(self, tmp_path: Path) -> None:
        path = tmp_path / "a.cwrec"
        writer = RecordingWriter(path, HEAD)
        writer.datagram(1000.0, b"a")
        writer.datagram(500.0, b"b")
        assert [item.received for item in open_recording(path)] == [1000.0]
        writer.close()

    def test_lines_and_keys_of_a_later_program_are_passed_over(self, tmp_path: Path) -> None:
        path = tmp_path / "later.cwrec"
        path.write_bytes(
            gzip.compress(
                b'{"format":"cornerword recording","version":1,"new":{"a":1}}\n'
                b'{"received":1.0,"text":"a","more":5}\n{"received":2.0,"heart":70}\n{"note":"x"}\n'
                b'{"received":3.0,"end":true}\n'
            )
        )
        recording = open_recording(path)
        assert list(recording) == [Datagram(1.0, b"a"), EndLine(3.0)]
        assert recording.truncated is None

    def test_unzipped_it_is_still_a_recording(self, tmp_path: Path) -> None:
        path = tmp_path / "plain.txt"
        path.write_bytes(gzip.decompress(write(tmp_path / "a.cwrec", ITEMS).read_bytes()))
        assert list(open_recording(path)) == EXPECTED


class TestWriterTrouble:
    def test_an_existing_file_is_not_overwritten(self, tmp_path: Path) -> None:
        path = write(tmp_path / "a.cwrec", ITEMS)
        before = path.read_bytes()
        with pytest.raises(InputError, match="exists already: choose another name"):
            RecordingWriter(path, HEAD)
        assert path.read_bytes() == before

    @pytest.mark.parametrize("name", ["no/such/folder/a.cwrec", "x" * 300 + ".cwrec", "nul\0.cwrec"])
    def test_a_place_that_does_not_work_is_one_line(self, tmp_path: Path, name: str) -> None:
        with pytest.raises(InputError, match="cannot record to") as caught:
            RecordingWriter(tmp_path / name, HEAD)
        assert "\n" not in str(caught.value)

    def test_a_full_disk_is_told_once_and_leaves_what_was_whole(self, tmp_path: Path) -> None:
        resource = pytest.importorskip("resource")
        path = tmp_path / "a.cwrec"
        items = stream(10.0)
        soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        told = []
        writer = RecordingWriter(path, HEAD)
        resource.setrlimit(resource.RLIMIT_FSIZE, (4000, hard))  # the kernel then refuses to let a file grow further
        try:
            for item in items:
                try:
                    writer.datagram(item.received, item.data if isinstance(item, Datagram) else b"")
                except WorkError as error:
                    told.append(str(error))
            writer.action(1010.0, "mute")
            writer.tick(1020.0)
            writer.close()
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        assert len(told) == 1
        assert told[0].startswith(f"the recording {path} stops here, ")
        assert not writer.is_open
        recording = open_recording(path)
        kept = list(recording)
        assert kept == items[: len(kept)]
        assert len(kept) > 50
        assert "was not closed in good order" in str(recording.truncated)
        assert gzip.decompress(path.read_bytes()).endswith(b"\n"), "the half member was taken back"

    def test_an_exception_in_the_session_keeps_what_waits_but_writes_no_end(self, tmp_path: Path) -> None:
        path = tmp_path / "a.cwrec"
        with pytest.raises(KeyError), RecordingWriter(path, HEAD) as writer:
            writer.datagram(1.0, b"a")
            raise KeyError
        recording = open_recording(path)
        assert list(recording) == [Datagram(1.0, b"a")]
        assert "was not closed in good order" in str(recording.truncated)


class TestWhoPressed:
    def test_an_instructors_action_comes_back_as_theirs(self, tmp_path: Path) -> None:
        with RecordingWriter(tmp_path / "a.cwrec", HEAD) as writer:
            writer.datagram(1.0, b"a")
            writer.action(1.5, "mute")
            writer.action(1.75, "mark", "instructor")
        read = list(open_recording(tmp_path / "a.cwrec"))
        assert read[1:3] == [ActionLine(1.5, "mute", "driver"), ActionLine(1.75, "mark", "instructor")]

    def test_what_was_recorded_before_it_was_kept_is_the_drivers(self, tmp_path: Path) -> None:
        """The lines of the first version: nothing says who pressed."""
        path = tmp_path / "old.cwrec"
        path.write_bytes(
            b'{"format":"cornerword recording","version":1,"source":"generic"}\n'
            b'{"received":1.0,"text":"a"}\n{"received":2.0,"action":"mute"}\n{"received":3.0,"end":true}\n'
        )
        assert list(open_recording(path)) == [Datagram(1.0, b"a"), ActionLine(2.0, "mute", "driver"), EndLine(3.0)]


class TestDamage:
    def test_a_file_cut_short_gives_what_is_whole_and_says_how_far(self, tmp_path: Path) -> None:
        items = stream(10.0)
        path = write(tmp_path / "a.cwrec", items, end=1010.0)
        os.truncate(path, members(path)[5] + 150)
        recording = open_recording(path)
        read = list(recording)
        assert read == items[: len(read)]
        assert 180 <= len(read) < 250
        span = read[-1].received - 1000.0
        assert recording.truncated == f"{path} is cut short: {len(read)} datagrams over {span:.1f} s were read"
        assert recording.damage == [Damage(read[-1].received, None, cut=True)]
        assert not recording.is_closed

    def test_a_damaged_second_is_left_out_whole_and_the_rest_read(self, tmp_path: Path) -> None:
        items = stream(10.0)
        path = write(tmp_path / "a.cwrec", items, end=1010.0)
        data = bytearray(path.read_bytes())
        data[members(path)[4] + 200] ^= 0x10
        path.write_bytes(data)
        recording = open_recording(path)
        read = list(recording)
        missing = [item for item in items if item not in read]
        start = items.index(missing[0])
        assert missing == items[start : start + len(missing)], "one stretch is missing"
        assert 0.8 < missing[-1].received - missing[0].received < 1.0
        assert read[-1] == EndLine(1010.0)
        assert recording.truncated is not None
        assert recording.truncated.startswith(f"{path} is damaged in 1 place, left out: ")
        before, behind = items[start - 1].received, items[start + len(missing)].received
        assert recording.damage == [Damage(before, behind, cut=False)]
        assert recording.is_closed

    def test_a_damaged_head_leaves_the_datagrams(self, tmp_path: Path) -> None:
        path = write(tmp_path / "a.cwrec", ITEMS)
        data = bytearray(path.read_bytes())
        data[30] ^= 0xFF
        path.write_bytes(data)
        recording = open_recording(path)
        assert recording.head is None
        assert recording.headless == (
            f"the head of {path} is lost, with it the reference, focus and feed it was recorded with; "
            "replaying the datagrams alone"
        )
        assert list(recording) == EXPECTED
        assert recording.truncated is not None

    def test_a_blank_head_is_told_too(self, tmp_path: Path) -> None:
        path = tmp_path / "a\n.cwrec"
        path.write_bytes(gzip.compress(b'\n{"received":1.0,"text":"a"}\n{"received":2.0,"end":true}\n'))
        recording = open_recording(path)
        assert list(recording) == [Datagram(1.0, b"a"), EndLine(2.0)]
        assert recording.headless is not None
        assert "a\\n.cwrec is lost" in recording.headless

    def test_reading_gives_up_on_a_file_that_is_damaged_all_over(self, tmp_path: Path) -> None:
        path = tmp_path / "a.cwrec"
        head = gzip.compress(b'{"format":"cornerword recording","version":1}\n')
        lost, good = MEMBER_HEAD + b"\xff" * 50, gzip.compress(b'{"received":1.0,"text":"a"}\n')
        member = MEMBER_HEAD + good[len(MEMBER_HEAD) :]
        path.write_bytes(head + lost * 50 + member)
        assert list(open_recording(path)) == [Datagram(1.0, b"a")]
        path.write_bytes(head + lost * 150 + member)
        recording = open_recording(path)
        assert list(recording) == []
        assert "is damaged in 100 places" in str(recording.truncated)

    def test_padding_behind_the_end_is_no_damage(self, tmp_path: Path) -> None:
        path = write(tmp_path / "a.cwrec", ITEMS)
        path.write_bytes(path.read_bytes() + bytes(512))
        recording = open_recording(path)
        assert list(recording) == EXPECTED
        assert recording.truncated is None

    def test_zeros_between_two_members_are_damage(self, tmp_path: Path) -> None:
        """A block of the disk that was never written, behind it what was."""
        path = write(tmp_path / "a.cwrec", ITEMS)
        data = path.read_bytes()
        second = data.find(MEMBER_HEAD, 1)
        path.write_bytes(data[:second] + bytes(4096) + data[second:])
        recording = open_recording(path)
        assert list(recording) == EXPECTED
        assert "is damaged in 1 place" in str(recording.truncated)

    @pytest.mark.parametrize("lost", [1, 60])
    def test_zeros_in_place_of_the_beginning_leave_the_datagrams(self, tmp_path: Path, lost: int) -> None:
        path = write(tmp_path / "a.cwrec", ITEMS)
        path.write_bytes(bytes(lost) + path.read_bytes()[lost:])
        recording = open_recording(path)
        assert recording.head is None and recording.headless is not None
        assert list(recording) == EXPECTED
        path.write_bytes(bytes(9000))
        with pytest.raises(FormatError, match="is not a recording"):
            open_recording(path)

    def test_another_programs_gzip_is_read_up_to_the_damage(self, tmp_path: Path) -> None:
        path = tmp_path / "a.jsonl.gz"
        items = stream(100.0)
        data = bytearray(gzip.compress(b"\n".join(item.data for item in items if isinstance(item, Datagram))))
        place = len(data) // 2
        data[place : place + 4] = b"\xff\xff\xff\xff"
        path.write_bytes(data)
        recording = open_recording(path)
        sent = {item.data for item in items if isinstance(item, Datagram)}
        read = [item for item in recording if isinstance(item, Datagram) and item.data in sent]
        assert len(items) * 0.4 < len(read)
        assert [item.data for item in read] == [item.data for item in items[: len(read)] if isinstance(item, Datagram)]
        assert "is damaged" in str(recording.truncated)

    def test_another_programs_gzip_with_a_wrong_check_sum_gives_all_its_lines(self, tmp_path: Path) -> None:
        path = tmp_path / "a.jsonl.gz"
        lines = [b'{"t":%d}' % index for index in range(20)]
        data = bytearray(gzip.compress(b"\n".join(lines) + b"\n"))
        data[-8] ^= 1  # RFC 1952 section 2.3.1: the last eight bytes are check sum and length
        path.write_bytes(data)
        recording = open_recording(path)
        assert [item.data for item in recording if isinstance(item, Datagram)] == lines
        assert "is damaged in 1 place" in str(recording.truncated)

    @pytest.mark.parametrize(
        "line",
        [
            b"[]", b"5", b"\xff", b'{"received":"now","text":"a"}', b'{"received":NaN,"text":"a"}',
            b'{"received":1.0,"text":5}', b'{"received":1.0,"text":"\\ud800"}', b'{"received":1.0,"base64":"?"}',
            b'{"received":true,"text":"a"}', b'{"received":' + b"9" * 400 + b',"text":"a"}', b"[" * 50_000,
        ],
    )  # fmt: skip
    def test_a_line_that_makes_no_sense_is_left_out_and_told(self, tmp_path: Path, line: bytes) -> None:
        path = tmp_path / "a.cwrec"
        head = b'{"format":"cornerword recording","version":1}'
        lines = [head, b'{"received":1,"text":"a"}', line, b'{"received":2,"end":1}']
        path.write_bytes(gzip.compress(b"\n".join(lines)))
        recording = open_recording(path)
        assert list(recording) == [Datagram(1.0, b"a"), EndLine(2.0)]
        assert "is damaged in 1 place" in str(recording.truncated)

    def test_an_endless_line_is_left_out_in_bounded_memory(self, tmp_path: Path) -> None:
        path = tmp_path / "a.jsonl.gz"
        path.write_bytes(gzip.compress(b'{"t":1}\n' + b" x" * LINE_LIMIT + b'\n{"t":2}\n', 1))
        recording = open_recording(path)
        assert [item.received for item in recording] == [1.0, 2.0]
        assert "is damaged in 1 place" in str(recording.truncated)


class TestJsonLines:
    LINES = b'{"t":0.5,"lap":1}\n\n  {"lap":1,"t":0.75}  \r\n{"lap":2}\nnot json\n{"t":"x"}\n{"t":1.5e0}'
    EXPECTED = (
        Datagram(0.5, b'{"t":0.5,"lap":1}'), Datagram(0.75, b'{"lap":1,"t":0.75}'), Datagram(0.75, b'{"lap":2}'),
        Datagram(0.75, b"not json"), Datagram(0.75, b'{"t":"x"}'), Datagram(1.5, b'{"t":1.5e0}'),
    )  # fmt: skip

    @pytest.mark.parametrize("name", ["a.jsonl", "a.jsonl.gz", "a.cwrec", "a"])
    def test_each_line_is_a_datagram_timed_by_its_t(self, tmp_path: Path, name: str) -> None:
        for content in (self.LINES, gzip.compress(self.LINES), b"\xef\xbb\xbf" + self.LINES):
            path = tmp_path / name
            path.write_bytes(content)
            recording = open_recording(path)
            assert tuple(recording) == self.EXPECTED
            assert (recording.head, recording.headless, recording.truncated) == (None, None, None)

    def test_bad_lines_at_the_top_do_not_hide_the_good_ones(self, tmp_path: Path) -> None:
        path = tmp_path / "a.jsonl"
        path.write_bytes(b"hello\n[1]\n{}\n" + self.LINES)
        assert len(list(open_recording(path))) == 9


class TestNotARecording:
    @pytest.mark.parametrize(
        "content",
        [
            b"hello", b"\x00" * 5000, b"[1,2]", b'{"type":"run"}\n' * 500, bytes(range(256)) * 50,
            gzip.compress(b"hello\n" * 1000, mtime=0), gzip.compress(b"", mtime=0),
            b"\x1f\x8b", b"\x1f\x8bnonsense" * 100, b"\n\n\n",
            b'{"format":"cornerword recording"}', b'{"format":"cornerword recording","version":"1"}', b"",
        ],
    )  # fmt: skip
    def test_other_content_is_one_line(self, tmp_path: Path, content: bytes) -> None:
        path = tmp_path / "file.cwrec"
        path.write_bytes(content)
        with pytest.raises(FormatError) as caught:
            open_recording(path)
        assert str(path) in str(caught.value)
        assert "\n" not in str(caught.value)

    @pytest.mark.parametrize("name", ["a.cwrec", "a.jsonl.gz"])
    def test_a_file_cut_inside_its_first_line_is_cut_short(self, tmp_path: Path, name: str) -> None:
        path = tmp_path / name
        if name == "a.cwrec":
            write(path, ITEMS)
        else:
            path.write_bytes(gzip.compress(b'{"t":1.0,"track":"loop-a"}\n' * 9))
        os.truncate(path, 30)
        with pytest.raises(FormatError) as caught:
            open_recording(path)
        assert str(caught.value) == f"{path} is cut short, before its first line ends: give another recording"
        assert caught.value.cause == "cut short"

    def test_other_gzip_that_is_cut_short_is_still_no_recording(self, tmp_path: Path) -> None:
        path = tmp_path / "a.gz"
        path.write_bytes(gzip.compress(b"".join(b"%d\n" % hash_like(index) for index in range(2000))))
        os.truncate(path, path.stat().st_size - 20)
        with pytest.raises(FormatError, match="is not a recording"):
            open_recording(path)

    def test_a_file_that_may_not_be_read_is_told_as_such(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        def refuse(*_: object, **__: object) -> None:
            raise PermissionError(errno.EACCES, "Permission denied")

        path = write(tmp_path / "a.cwrec", ITEMS)
        recording = open_recording(path)
        message = f"{path} cannot be read: Permission denied; give a file that you may read"
        for call in ("open", "stat"):  # patched, since the superuser may read everything
            with monkeypatch.context() as patch:
                patch.setattr(Path, call, refuse)
                with pytest.raises(InputError) as caught:
                    open_recording(path)
                assert str(caught.value) == message
        monkeypatch.setattr(Path, "open", refuse)
        with pytest.raises(InputError) as caught:
            list(recording)
        assert str(caught.value) == message

    @pytest.mark.parametrize("content", [b"hello", b"", None])
    def test_a_name_with_line_breaks_is_told_on_one_line(self, tmp_path: Path, content: bytes | None) -> None:
        path = tmp_path / "two\nlines\x1b[31m.cwrec"
        if content is not None:
            path.write_bytes(content)
        with pytest.raises(InputError, match=r"two\\nlines\\x1b\[31m\.cwrec") as caught:
            open_recording(path)
        assert str(caught.value).isprintable()

    def test_a_newer_version_says_so(self, tmp_path: Path) -> None:
        path = tmp_path / "file.cwrec"
        path.write_bytes(gzip.compress(b'{"format":"cornerword recording","version":2}\n'))
        with pytest.raises(FormatError, match="of version 2, and this program reads up to 1: update it"):
            open_recording(path)

    def test_a_missing_file_a_folder_and_a_pipe_are_one_line_each(self, tmp_path: Path) -> None:
        with pytest.raises(InputError, match=r"there is no file .*gone\.cwrec: check the name"):
            open_recording(tmp_path / "gone.cwrec")
        with pytest.raises(InputError, match="is a folder: give the recording in it"):
            open_recording(tmp_path)
        with pytest.raises(InputError, match="cannot read"):
            open_recording("nul\0byte")
        if hasattr(os, "mkfifo"):
            os.mkfifo(tmp_path / "pipe")
            with pytest.raises(InputError, match="is no ordinary file"):
                open_recording(tmp_path / "pipe")
