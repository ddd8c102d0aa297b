"""Captures: what is in them is read from any usual link, damage and strangers are counted, nothing else is taken.

The files are made by hand from the formats' descriptions (`captures.py` names them); dpkt's own
writer is held against the reader as well.
"""

from __future__ import annotations

import io
import struct
import tracemalloc
from pathlib import Path

import pytest

from coach.vocabulary.errors import FormatError
from feeds.base import Datagram
from feeds.capture.packets import MOST_WAITING
from feeds.recording import CapturedRecording, open_recording
from tests.feeds.captures import (
    HERE,
    HERE_6,
    NS,
    US,
    block,
    ethernet,
    interface,
    ipv4,
    ipv6,
    option,
    packet,
    pcap,
    section,
    stream,
    udp,
)

PORT = 26763
DATA = b'{"t":1.5,"speed":40}'
SENT = udp(DATA, 40_000, PORT)
FROM = f"{HERE}:40000"


def opened(path: Path, content: bytes, port: int | None = None) -> CapturedRecording:
    path.write_bytes(content)
    recording = open_recording(path, port)
    assert isinstance(recording, CapturedRecording)
    return recording


def read(path: Path, content: bytes, port: int | None = None) -> list[Datagram]:
    """Its datagrams; nothing may be said to be missing."""
    recording = opened(path, content, port)
    items = list(recording)
    assert recording.truncated is None
    assert recording.head is None
    assert recording.is_closed
    return [item for item in items if isinstance(item, Datagram)]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "a.pcap"


class TestPcap:
    @pytest.mark.parametrize("order", ["<", ">"])
    @pytest.mark.parametrize("magic", [US, NS])
    def test_either_byte_order_and_resolution(self, path: Path, order: str, magic: tuple[int, int]) -> None:
        frames = stream([b"one", b"two", b""], begins=1_700_000_000.25)
        expected = [
            Datagram(pytest.approx(1_700_000_000.25, abs=1e-6), b"one", FROM),
            Datagram(pytest.approx(1_700_000_000.27, abs=1e-6), b"two", FROM),
            Datagram(pytest.approx(1_700_000_000.29, abs=1e-6), b"", FROM),
        ]
        assert read(path, pcap(frames, magic=magic, order=order)) == expected

    def test_a_check_sequence_behind_the_frames_is_no_part_of_the_link_type(self, path: Path) -> None:
        """Section 4: the upper 16 bits of the last field say how long it is."""
        content = bytearray(pcap([(1.0, ethernet(ipv4(SENT)) + b"\xde\xad\xbe\xef")]))
        content[20:24] = struct.pack("<I", 1 | 0x4400_0000)
        assert [item.data for item in read(path, bytes(content))] == [DATA]

    def test_it_can_be_read_again(self, path: Path) -> None:
        recording = opened(path, pcap(stream([b"one", b"two"])))
        assert list(recording) == list(recording)
        assert len(list(recording)) == 2

    @pytest.mark.parametrize("length", [1, 15, 16, 77])
    def test_cut_short_it_gives_what_is_whole(self, path: Path, length: int) -> None:
        whole = pcap(stream([b"a" * 20, b"b" * 20]))
        first = 24 + 16 + 14 + 20 + 8 + 20
        recording = opened(path, whole[: first + length])
        assert [item.data for item in recording if isinstance(item, Datagram)] == [b"a" * 20]
        assert str(recording.truncated).startswith(f"{path} is cut short: 1 datagrams over 0.0 s were read")
        assert recording.damage[0].cut and recording.damage[0].after == 1000.0

    def test_a_length_that_makes_no_sense_ends_it(self, path: Path) -> None:
        content = pcap(stream([b"a"])) + struct.pack("<IIII", 2000, 0, 0xFFFF_FF00, 60) + b"x" * 1000
        recording = opened(path, content)
        assert [item.data for item in recording if isinstance(item, Datagram)] == [b"a"]
        assert str(recording.truncated).startswith(f"{path} is damaged in 1 place, left out: 1 datagrams")

    def test_what_the_capture_cut_off_is_counted(self, path: Path) -> None:
        frames = [*stream([b"short"]), *stream([b"x" * 100, b"y" * 30], begins=1001.0)]
        recording = opened(path, pcap(frames, snap=14 + 20 + 8 + 40))
        assert [item.data for item in recording if isinstance(item, Datagram)] == [b"short", b"y" * 30]
        assert recording.left_out == {"cut short by the capture": 1}
        assert "1 cut short by the capture" in str(recording.truncated)


class TestPcapng:
    @pytest.mark.parametrize("order", ["<", ">"])
    def test_blocks_of_either_byte_order(self, path: Path, order: str) -> None:
        stamp = 1_700_000_000_250_000
        content = section(order) + interface(order=order) + packet(stamp, ethernet(ipv4(SENT)), order=order)
        assert read(path, content) == [Datagram(pytest.approx(1_700_000_000.25, abs=1e-6), DATA, FROM)]

    @pytest.mark.parametrize(
        ("options", "stamp", "seconds"),
        [
            (b"", 2_500_000, 2.5),
            (option(9, b"\x06"), 2_500_000, 2.5),
            (option(9, b"\x09"), 2_500_000_000, 2.5),
            (option(9, b"\x03") + option(14, struct.pack("<q", 100)), 2_500, 102.5),
            (option(9, b"\x8a"), 2_560, 2.5),  # 2 to the power of -10
            (option(2, b"lo") + option(9, b"\x00") + option(0, b""), 7, 7.0),
            (option(0, b"") + option(9, b"\x00"), 2_500_000, 2.5),  # behind the end of the options
        ],
    )
    def test_times_are_in_the_interfaces_own_unit(self, path: Path, options: bytes, stamp: int, seconds: float) -> None:
        """if_tsresol and if_tsoffset, section 4.2."""
        content = section() + interface(options=options) + packet(stamp, ethernet(ipv4(SENT)))
        assert [item.received for item in read(path, content)] == [pytest.approx(seconds)]

    def test_each_interface_has_its_own_link_and_unit(self, path: Path) -> None:
        content = section() + interface() + interface(link=101, options=option(9, b"\x03"))
        content += packet(1_000_000, ethernet(ipv4(udp(b"one", 40_000, PORT))))
        content += packet(1_500, ipv4(udp(b"two", 40_000, PORT)), number=1)
        assert [(item.received, item.data) for item in read(path, content)] == [(1.0, b"one"), (1.5, b"two")]

    def test_a_second_section_begins_anew(self, path: Path) -> None:
        content = section() + interface() + packet(1_000_000, ethernet(ipv4(SENT)))
        content += section(">") + interface(link=101, order=">") + packet(2_000_000, ipv4(SENT), order=">")
        assert [item.received for item in read(path, content)] == [1.0, 2.0]

    def test_other_blocks_are_passed_over_and_older_ones_read(self, path: Path) -> None:
        frame = ethernet(ipv4(SENT))
        simple = block(3, struct.pack("<I", len(frame)) + frame)
        old = block(2, struct.pack("<HHIIII", 0, 0, 0, 3_000_000, len(frame), len(frame)) + frame)
        content = section() + block(4, b"names") + interface() + packet(2_000_000, frame) + simple
        content += block(0x0BAD, b"\xff" * 33) + old + block(5, bytes(12))
        assert [item.received for item in read(path, content)] == [2.0, 2.0, 3.0], "a simple packet has no time"

    def test_a_frame_without_an_interface_is_none(self, path: Path) -> None:
        content = section() + interface() + packet(1_000_000, ethernet(ipv4(SENT)), number=7)
        content += packet(2_000_000, ethernet(ipv4(SENT)))
        assert [item.received for item in read(path, content)] == [2.0]

    @pytest.mark.parametrize("what", ["trailer", "length", "too short"])
    def test_a_damaged_block_ends_it(self, path: Path, what: str) -> None:
        good = section() + interface() + packet(1_000_000, ethernet(ipv4(SENT)))
        bad = bytearray(packet(2_000_000, ethernet(ipv4(SENT))))
        if what == "trailer":
            bad[-1] ^= 1
        else:
            bad[4:8] = struct.pack("<I", 0xFFFF_FFFC if what == "length" else 8)
        recording = opened(path, good + bytes(bad) + packet(3_000_000, ethernet(ipv4(SENT))))
        assert [item.received for item in recording] == [1.0]
        assert "is damaged in 1 place" in str(recording.truncated)

    def test_cut_short_anywhere_it_never_fails(self, path: Path) -> None:
        whole = section() + interface() + packet(1_000_000, ethernet(ipv4(SENT))) + packet(2_000_000, ethernet(b"x"))
        first = len(whole) - len(packet(2_000_000, ethernet(b"x")))
        for length in range(first, len(whole)):
            recording = opened(path, whole[:length])
            assert [item.received for item in recording] == [1.0]
            assert (recording.truncated is not None) == (length > first)


TAG = struct.pack("!HH", 0x8100, 42)


class TestLinks:
    @pytest.mark.parametrize(
        ("link", "frame"),
        [
            (1, ethernet(ipv4(SENT))),
            (1, ethernet(ipv4(SENT) + bytes(40))),  # padded to the least length of a frame
            (1, ethernet(ipv4(SENT), tags=TAG)),
            (1, ethernet(ipv4(SENT), tags=struct.pack("!HH", 0x88A8, 7) + TAG)),
            (113, struct.pack("!HHH8sH", 4, 772, 6, bytes(8), 0x0800) + ipv4(SENT)),
            (276, struct.pack("!HHIHBB8s", 0x0800, 0, 1, 772, 4, 6, bytes(8)) + ipv4(SENT)),
            (0, struct.pack("<I", 2) + ipv4(SENT)),
            (0, struct.pack(">I", 2) + ipv4(SENT)),
            (108, struct.pack(">I", 2) + ipv4(SENT)),
            (101, ipv4(SENT)),
            (12, ipv4(SENT)),
            (228, ipv4(SENT)),
            (101, ipv4(SENT, options=b"\x94\x04\x00\x00")),  # router alert, RFC 2113
        ],
    )
    def test_every_usual_link_gives_the_datagram(self, path: Path, link: int, frame: bytes) -> None:
        assert read(path, pcap([(1.0, frame)], link)) == [Datagram(1.0, DATA, FROM)]

    @pytest.mark.parametrize(
        ("link", "frame"),
        [
            (1, ethernet(ipv6(SENT), 0x86DD)),
            (1, ethernet(ipv6(SENT), 0x86DD, tags=TAG)),
            (0, struct.pack("<I", 30) + ipv6(SENT)),
            (101, ipv6(SENT)),
            (229, ipv6(SENT)),
            (101, ipv6(b"\x2b\x00" + bytes(6) + b"\x3c\x01" + bytes(14) + b"\x11\x00" + bytes(6) + SENT, following=0)),
            (101, ipv6(b"\x11\x04" + bytes(22) + SENT, following=51)),  # RFC 4302: (4 + 2) words of 32 bits
        ],
    )
    def test_ipv6_with_the_headers_that_may_stand_between(self, path: Path, link: int, frame: bytes) -> None:
        assert read(path, pcap([(1.0, frame)], link)) == [Datagram(1.0, DATA, f"[{HERE_6}]:40000")]

    @pytest.mark.parametrize(
        "frame",
        [
            b"",
            b"\x00" * 13,
            ethernet(b""),
            ethernet(b"\x45"),
            ethernet(ipv4(b"x" * 20, protocol=6)),  # TCP
            ethernet(b"x" * 28, kind=0x0806),  # ARP
            ethernet(ipv6(b"x" * 20, following=58), kind=0x86DD),  # ICMPv6
            ethernet(b"\x75" + bytes(60)),
        ],
    )
    def test_other_traffic_is_passed_over(self, path: Path, frame: bytes) -> None:
        assert [item.data for item in read(path, pcap([(1.0, frame), *stream([b"good"])]))] == [b"good"]

    @pytest.mark.parametrize(
        "frame",
        [
            ethernet(b"\x41" + ipv4(SENT)[1:]),  # a head of four bytes
            ethernet(ipv4(SENT[:4] + struct.pack("!H", 7) + SENT[6:])),  # a datagram shorter than its own head
            ethernet(ipv4(SENT[:4] + struct.pack("!H", 5000) + SENT[6:])),
            ethernet(ipv4(SENT[:5])),
            ethernet(ipv6(b"\x11\xff" + bytes(6), following=0), kind=0x86DD),
        ],
    )
    def test_a_head_that_makes_no_sense_is_counted(self, path: Path, frame: bytes) -> None:
        recording = opened(path, pcap([*stream([b"good"]), (1001.0, frame)]))
        assert [item.data for item in recording if isinstance(item, Datagram)] == [b"good"]
        assert recording.left_out == {"its head makes no sense": 1}

    def test_a_link_that_is_not_known_is_named(self, path: Path) -> None:
        with pytest.raises(FormatError, match=r"no UDP datagram in it, and frames of link type 105, .*: capture the"):
            opened(path, pcap([(1.0, ethernet(ipv4(SENT)))], link=105))


class TestFragments:
    LONG = bytes(range(256)) * 12

    def parts(self, number: int, size: int = 1000, data: bytes = LONG) -> list[bytes]:
        whole = udp(data, 40_000, PORT)
        cuts = range(0, len(whole), size)
        return [ipv4(whole[at : at + size], number=number, part=at, more=at + size < len(whole)) for at in cuts]

    @pytest.mark.parametrize("order", [[0, 1, 2, 3], [3, 1, 0, 2], [2, 2, 3, 1, 0]])
    def test_they_are_put_together_in_any_order(self, path: Path, order: list[int]) -> None:
        """RFC 791 section 3.2: offsets are in units of 8 bytes."""
        parts = self.parts(5)
        frames = [(float(at), ethernet(parts[index])) for at, index in enumerate(order)]
        received = float(len(order) - 1)
        assert read(path, pcap(frames)) == [Datagram(received, self.LONG, FROM)]

    def test_those_of_ipv6_too(self, path: Path) -> None:
        """RFC 8200 section 4.5: next header, reserved, offset with the flag, identification."""
        whole = udp(self.LONG, 40_000, PORT)
        frames = []
        for at in range(0, len(whole), 1024):
            more = at + 1024 < len(whole)
            head = struct.pack("!BBHI", 17, 0, at | more, 99)
            frames.append((at / 1024, ipv6(head + whole[at : at + 1024], following=44)))
        assert [item.data for item in read(path, pcap(frames, link=101))] == [self.LONG]

    def test_a_number_that_is_used_again_is_another_packet(self, path: Path) -> None:
        """RFC 8200 section 4.5: after 60 s what came is given up."""
        other = bytes(len(self.LONG))
        frames = [(0.0, self.parts(5)[1]), *((61.0 + n, part) for n, part in enumerate(self.parts(5, data=other)))]
        recording = opened(path, pcap(frames, link=101))
        assert [item.data for item in recording if isinstance(item, Datagram)] == [other]
        assert recording.left_out == {"fragments of it are missing": 1}

    def test_what_is_not_whole_is_counted(self, path: Path) -> None:
        frames = [(float(n), ethernet(self.parts(n)[1])) for n in range(MOST_WAITING + 3)]
        recording = opened(path, pcap([*frames, *stream([b"good"])]))
        assert [item.data for item in recording if isinstance(item, Datagram)] == [b"good"]
        assert recording.left_out == {"fragments of it are missing": MOST_WAITING + 3}


class TestWhichStream:
    def test_the_busiest_port_is_taken_and_told(self, path: Path) -> None:
        other = [(1.0, ethernet(ipv4(udp(b"x", 40_000, 50_000)))) for _ in range(5)]
        recording = opened(path, pcap([*other, *stream([b"a" * 60, b"b" * 60])]))
        assert (recording.port, recording.sender) == (PORT, HERE)
        assert recording.headless == (
            f"{path} is a capture, without a head: reading the datagrams from {HERE} to port {PORT}, "
            "one of 2 ports in it; --port chooses another"
        )
        assert [item.data for item in recording if isinstance(item, Datagram)] == [b"a" * 60, b"b" * 60]

    def test_another_can_be_chosen(self, path: Path) -> None:
        content = pcap([*stream([b"a" * 60]), *stream([b"few"], port=50_000)])
        assert [item.data for item in read(path, content, port=50_000)] == [b"few"]

    def test_traffic_of_well_known_services_is_not_taken_for_telemetry(self, path: Path) -> None:
        """Below 1024: RFC 6335 section 6. A page that is loaded comes from such a port to a temporary one."""
        page = [(1.0, ethernet(ipv4(udp(b"x" * 1200, 443, 51_000)))) for _ in range(50)]
        name = [(1.0, ethernet(ipv4(udp(b"x" * 1200, 51_000, 53)))) for _ in range(50)]
        assert [item.data for item in read(path, pcap([*page, *name, *stream([b"a"])]))] == [b"a"]

    def test_no_port_that_fits_names_those_there_are(self, path: Path) -> None:
        content = pcap([*stream([b"a"]), *stream([b"b", b"c"], port=50_000)])
        with pytest.raises(FormatError) as caught:
            opened(path, content, port=9000)
        assert str(caught.value) == (
            f"{path} holds no datagram to port 9000: give the --port of one of these, with its datagrams: "
            f"50000 (2), {PORT} (1)"
        )

    def test_only_the_computer_that_sends_most_is_read(self, path: Path) -> None:
        """A simulator that is started again sends from another port of the same address."""
        stranger = (1000.01, ethernet(ipv4(udp(b"no", 40_000, PORT), source="198.51.100.1")))
        again = (1005.0, ethernet(ipv4(udp(b"again", 40_001, PORT))))
        recording = opened(path, pcap([*stream([b"one"]), stranger, again]))
        read = [(item.data, item.sender) for item in recording if isinstance(item, Datagram)]
        assert read == [(b"one", FROM), (b"again", f"{HERE}:40001")]
        assert recording.left_out == {"another computer sent it": 1}

    @pytest.mark.parametrize("content", [pcap([]), section(), section() + interface()])
    def test_one_with_nothing_in_it_is_one_line(self, path: Path, content: bytes) -> None:
        with pytest.raises(FormatError, match="is a capture with no UDP datagram in it: capture the simulator's port"):
            opened(path, content)


def test_memory_stays_bounded(path: Path) -> None:
    """8 MB of frames."""
    payloads = [bytes([n % 256]) * 1400 for n in range(6_000)]
    path.write_bytes(pcap(stream(payloads)))
    payloads.clear()
    recording = open_recording(path)
    tracemalloc.start()
    try:
        count = sum(1 for _ in recording)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert count == 6_000
    assert peak < 1_000_000


def test_it_agrees_with_what_another_library_writes(path: Path) -> None:
    import dpkt

    payloads = [bytes([n]) * (n + 1) for n in range(30)]
    file = io.BytesIO()
    writer = dpkt.pcap.Writer(file)
    for n, payload in enumerate(payloads):
        inside = dpkt.udp.UDP(sport=40_000, dport=PORT, data=payload, ulen=8 + len(payload))
        packet_ = dpkt.ip.IP(src=b"\xc0\x00\x02\x07", dst=b"\xc0\x00\x02\x09", p=17, data=inside)
        packet_.len = len(packet_)
        writer.writepkt(dpkt.ethernet.Ethernet(data=packet_), ts=1000 + n / 8)
    assert read(path, file.getvalue()) == [Datagram(1000 + n / 8, data, FROM) for n, data in enumerate(payloads)]
