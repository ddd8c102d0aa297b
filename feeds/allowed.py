"""Who may: the addresses that were named, and this computer's own."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Iterable
from time import monotonic
from typing import Any

from coach.vocabulary.errors import InputError
from feeds.addresses import host_of, is_here

_Network = ipaddress.IPv4Network | ipaddress.IPv6Network
_Address = ipaddress.IPv4Address | ipaddress.IPv6Address

_REMEMBERED = 64
"""addresses whose answer is kept; more than a home network has that send at once."""
_LOOKS = 16
"""a second at which addresses are this computer's own (choice). A look takes 50 us, and a flood whose sender makes up
its addresses would take all of the drive's time with them."""


class Allowed:
    """Answers whether a socket's address is one of those named: an address, a name, or a network as 192.168.1.0/24.

    All addresses of this computer are one computer: who names one of them names them all, and `own` does so without
    naming any. An IPv4 address that comes mapped into IPv6 (RFC 4291, 2.5.5.2) is that IPv4 address. Names are looked
    up once, here. InputError, naming `option`, for what is neither.
    """

    def __init__(self, named: Iterable[str], option: str, own: bool = False) -> None:
        self.named = tuple(named)
        self.own = own
        self._networks: list[tuple[_Network, int]] = []
        """each with the number of the network card that it holds on, 0 for any"""
        self._answers: dict[tuple[str, int], bool] = {}
        self._looked, self._looks = -1.0, 0
        for written in self.named:
            for network, card in _read(written, option):
                self._networks.append((network, card))
                if network.num_addresses == 1 and is_here(str(network.network_address), card):
                    self.own = True

    def __bool__(self) -> bool:
        """Whether there is anyone."""
        return self.own or bool(self._networks)

    def __str__(self) -> str:
        """For a person: "this computer and 192.168.1.20"."""
        *first, last = (["this computer"] if self.own else []) + [one for one in self.named if not _is_own(one)] or [""]
        return f"{', '.join(first)} and {last}" if first else last

    @property
    def others(self) -> bool:
        """Whether anyone is named who is not this computer."""
        return any(network.num_addresses > 1 or not is_here(str(network[0]), card) for network, card in self._networks)

    def admits(self, address: tuple[Any, ...]) -> bool:
        """Whether this address of a socket, (host, port) or (host, port, flow, card), may."""
        host, card = host_of(address), int(address[3]) if len(address) > 3 else 0
        known = self._answers.get((host, card))
        if known is None:
            known = self._is_named(host, card)
            if not known and self.own:
                if not self._may_look():
                    return False  # for now: the next time is asked anew
                known = is_here(host, card)
            self._remember((host, card), known)
        return known

    def _is_named(self, host: str, card: int) -> bool:
        try:
            address = ipaddress.ip_address(host)
        except ValueError:
            return False
        if address.is_loopback and self.own:
            return True
        return any(address in network and one in (0, card) for network, one in self._networks)

    def _may_look(self) -> bool:
        now = monotonic()
        if now - self._looked >= 1.0:
            self._looked, self._looks = now, 0
        self._looks += 1
        return self._looks <= _LOOKS

    def _remember(self, address: tuple[str, int], may: bool) -> None:
        """Those who may are kept where there is no more room: they are few, and they send."""
        if len(self._answers) >= _REMEMBERED:
            self._answers = {one: True for one, known in self._answers.items() if known}
        if len(self._answers) >= _REMEMBERED:
            self._answers.clear()
        self._answers[address] = may


def _is_own(written: str) -> bool:
    host = written.strip("[]").partition("%")[0]
    return host == "localhost" or is_here(host)


def _read(written: str, option: str) -> list[tuple[_Network, int]]:
    """The networks that a person's text names; an address is a network of one."""
    wrong = f"{option}: {written!r} is no address: give one as 192.168.1.20, a name, or a network as 192.168.1.0/24"
    host, _, card = written.strip().removeprefix("[").removesuffix("]").partition("%")
    if not host or not host.isprintable():
        raise InputError(wrong)
    try:
        network = ipaddress.ip_network(host, strict=False)
    except ValueError:
        if "/" in host or card:
            raise InputError(wrong) from None
        return [(ipaddress.ip_network(address), number) for address, number in _found(host, wrong)]
    network = _unmapped(network)
    if network.prefixlen == 0:
        raise InputError(f"{option}: {written} is everyone: name the addresses, or a network as 192.168.1.0/24")
    try:
        return [(network, socket.if_nametoindex(card) if card else 0)]
    except OSError:
        raise InputError(f"{option}: {written!r}: this computer has no network card {card!r}: check its name") from None


def _found(host: str, wrong: str) -> list[tuple[_Address, int]]:
    try:
        found = socket.getaddrinfo(host, None, type=socket.SOCK_DGRAM)
    except (OSError, ValueError):  # ValueError: a name with a NUL in it, or one that is no host name at all
        raise InputError(wrong) from None
    addresses = {(host_of(address), int(address[3]) if len(address) > 3 else 0) for *_, address in found}
    return [(ipaddress.ip_address(host), card) for host, card in sorted(addresses)]


def _unmapped(network: _Network) -> _Network:
    """`::ffff:192.168.1.20` as the IPv4 address that it is."""
    if isinstance(network, ipaddress.IPv6Network) and network.prefixlen >= 96:
        mapped = network.network_address.ipv4_mapped
        if mapped is not None:
            return ipaddress.ip_network((mapped, network.prefixlen - 96))
    return network
