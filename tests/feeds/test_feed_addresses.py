"""Who may: addresses as they are named, and as sockets give them."""

from __future__ import annotations

import socket
from typing import Any
from unittest.mock import patch

import pytest

from coach.vocabulary.errors import InputError
from feeds.addresses import host_of, is_here, parts, written
from feeds.allowed import Allowed

# 192.0.2.0/24, 198.51.100.0/24 and 2001:db8::/32 are for documentation: RFC 5737, RFC 3849.
FOUR, SIX = ("198.51.100.20", 5000), ("2001:db8::20", 5000, 0, 0)
MAPPED = ("::ffff:198.51.100.20", 5000, 0, 0)  # an IPv4 address on a socket of IPv6: RFC 4291, section 2.5.5.2


@pytest.mark.parametrize(
    ("named", "address", "may"),
    [
        ("198.51.100.20", FOUR, True),
        (" 198.51.100.20 ", FOUR, True),
        ("198.51.100.20", MAPPED, True),
        ("::ffff:198.51.100.20", FOUR, True),
        ("::ffff:198.51.100.20", MAPPED, True),
        ("198.51.100.0/24", FOUR, True),
        ("198.51.100.99/24", MAPPED, True),
        ("::ffff:198.51.100.0/120", FOUR, True),
        ("198.51.100.21", FOUR, False),
        ("198.51.100.32/28", FOUR, False),
        ("2001:db8::20", SIX, True),
        ("[2001:db8::20]", SIX, True),
        ("2001:DB8:0:0::20", SIX, True),
        ("2001:db8::/64", SIX, True),
        ("2001:db8::/64", FOUR, False),
        ("2001:db8::21", SIX, False),
        ("198.51.100.20", SIX, False),
        ("fe80::20", ("fe80::20", 5000, 0, 7), True),
        ("fe80::20%lo", ("fe80::20", 5000, 0, 7), False),  # on another network card
        ("fe80::20%lo", ("fe80::20", 5000, 0, 1), True),
        ("198.51.100.20", ("no address", 0), False),
    ],
)
def test_who_is_named_may(named: str, address: tuple[Any, ...], may: bool) -> None:
    if "%lo" in named and socket.if_nametoindex("lo") != 1:
        pytest.skip("the loopback card of this computer has another number")
    allowed = Allowed([named], "--allow", own=True)
    assert allowed.admits(address) is may
    assert allowed.admits(address) is may  # remembered
    assert allowed.others


@pytest.mark.parametrize(
    "address", [("127.0.0.1", 1), ("127.8.9.10", 1), ("::1", 1, 0, 0), ("::ffff:127.0.0.1", 1, 0, 0)]
)
def test_loopback_is_this_computer(address: tuple[Any, ...]) -> None:
    assert Allowed([], "--allow", own=True).admits(address)
    assert not Allowed([], "--share-with").admits(address)
    assert Allowed(["127.0.0.1"], "--share-with").admits(address)
    assert not Allowed(["198.51.100.20"], "--share-with").admits(address)


def test_every_address_of_this_computer_is_this_computer() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(FOUR)  # of UDP: nothing is sent, but the system chooses whom to say it is from
        except OSError:
            pytest.skip("no network card but loopback")
        own = probe.getsockname()
    assert is_here(own[0])
    assert Allowed([], "--allow", own=True).admits(own)
    for one in ("localhost", own[0]):
        allowed = Allowed([one], "--share-with")
        assert allowed.admits(own) and allowed.admits(("127.0.0.1", 1))
        assert not allowed.others
        assert str(allowed) == "this computer"


@pytest.mark.parametrize("host", ["198.51.100.20", "2001:db8::20", "0.0.0.0", "::", "224.0.0.251", "ff02::fb", "x"])
def test_what_is_no_address_of_this_computer(host: str) -> None:
    assert not is_here(host)


def test_it_says_who_may() -> None:
    named = ["198.51.100.20", "127.0.0.1", "2001:db8::/64"]
    assert str(Allowed(named, "--allow", own=True)) == "this computer, 198.51.100.20 and 2001:db8::/64"
    assert str(Allowed([], "--allow", own=True)) == "this computer"
    assert not Allowed([], "--share-with")


def test_what_is_remembered_is_bounded() -> None:
    allowed = Allowed(["198.51.100.0/24"], "--allow")
    for number in range(1000):
        assert allowed.admits((f"198.51.{number % 2 + 100}.{number % 250}", 5000)) is (number % 2 == 0)
    assert len(allowed._answers) <= 64


def test_a_flood_of_made_up_addresses_is_not_looked_up_one_by_one() -> None:
    """And whoever may, may all the while: one that is named, one of ours that was known, loopback."""
    clock = 100.0
    with (
        patch("feeds.allowed.is_here", side_effect=lambda host, card: host == "203.0.113.5") as looked,
        patch("feeds.allowed.monotonic", side_effect=lambda: clock),
    ):
        allowed = Allowed(["198.51.100.20"], "--allow", own=True)
        looked.reset_mock()
        assert allowed.admits(("203.0.113.5", 1))
        for number in range(3000):
            assert not allowed.admits((f"10.{number >> 8}.{number & 255}.1", 5000))
            if number % 100 == 0:
                assert allowed.admits(("203.0.113.5", 1)) and allowed.admits(FOUR) and allowed.admits(("127.0.0.1", 1))
        assert looked.call_count == 16
        assert len(allowed._answers) <= 64
        clock += 1.0
        assert not allowed.admits(("10.99.0.1", 5000))
        assert looked.call_count == 17


@pytest.mark.parametrize(
    "named",
    ["", " ", "%eth0", "nul\0byte", "no.such.host.invalid", "198.51.100.0/33", "2001:db8::/129", "a/24", "x" * 300,
     "198.51.100.20:26763", "line\nbreak", "-", "300.1.2.3"],
)  # fmt: skip
def test_what_is_no_address_is_one_line_that_names_the_option(named: str) -> None:
    # .invalid never resolves: RFC 6761, section 6.4
    with pytest.raises(InputError) as caught:
        Allowed([named], "--instructor")
    assert str(caught.value).startswith("--instructor: ")
    assert "\n" not in str(caught.value)
    assert "192.168.1.0/24" in str(caught.value)


@pytest.mark.parametrize("named", ["0.0.0.0/0", "::/0", "::ffff:0:0/96"])
def test_everyone_is_not_to_be_had(named: str) -> None:
    with pytest.raises(InputError, match="is everyone"):
        Allowed([named], "--allow")


def test_a_network_card_that_is_not_there_is_told() -> None:
    with pytest.raises(InputError, match="no network card 'nosuch0'"):
        Allowed(["fe80::1%nosuch0"], "--allow")


@pytest.mark.parametrize(
    ("address", "text"),
    [
        (FOUR, "198.51.100.20:5000"),
        (MAPPED, "198.51.100.20:5000"),
        (SIX, "[2001:db8::20]:5000"),
        (("fe80::1%eth0", 9, 0, 2), "[fe80::1]:9"),
        (("::ffff:0:1", 9, 0, 0), "[::ffff:0:1]:9"),
    ],
)
def test_an_address_is_written_with_its_port(address: tuple[Any, ...], text: str) -> None:
    assert written(address) == text
    assert host_of(address) in text


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("192.0.2.1", ("192.0.2.1", 7)),
        ("192.0.2.1:80", ("192.0.2.1", 80)),
        ("2001:db8::1", ("2001:db8::1", 7)),
        ("[2001:db8::1]", ("2001:db8::1", 7)),
        ("[fe80::1%eth0]:80", ("fe80::1%eth0", 80)),
        ("pc:80", ("pc", 80)),
    ],
)
def test_a_port_may_be_written_behind(text: str, expected: tuple[str, int]) -> None:
    assert parts(text, 7) == expected


@pytest.mark.parametrize("text", ["", ":80", "a:0", "a:65536", "a:x", "a:-1", "[]:80", "a:\N{SUPERSCRIPT TWO}"])
def test_what_is_no_address_with_a_port(text: str) -> None:
    with pytest.raises(InputError, match=r"is no address: give one as 192\.168\.1\.20:7$"):
        parts(text, 7)
