"""Addresses as sockets give them and as people write them."""

from __future__ import annotations

import ipaddress
import socket
from typing import Any

from coach.vocabulary.errors import InputError


def host_of(address: tuple[Any, ...]) -> str:
    """The host of a socket's address as it is written: an IPv4 address as one, however it came."""
    host = str(address[0]).partition("%")[0]
    return host[7:] if host.startswith("::ffff:") and "." in host else host


def written(address: tuple[Any, ...]) -> str:
    """A socket's address for a person, "192.168.1.20:26763" or "[fd00::2]:26763"."""
    host = host_of(address)
    return f"[{host}]:{address[1]}" if ":" in host else f"{host}:{address[1]}"


def is_here(host: str, card: int = 0) -> bool:
    """Whether it is an address of this computer: only to such a one can a socket be bound. `card`: the number of the
    network card that a link-local IPv6 address holds on."""
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return False
    if address.is_loopback:
        return True
    if address.is_unspecified or address.is_multicast:
        return False
    family = socket.AF_INET if address.version == 4 else socket.AF_INET6
    try:
        with socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.bind((host, 0) if family == socket.AF_INET else (host, 0, 0, card))
    except OSError:
        return False
    return True


def parts(written: str, port: int) -> tuple[str, int]:
    """Host and port of `192.168.1.20`, `192.168.1.20:26763`, `fd00::2` or `[fd00::2]:26763`; `port` where none is
    written. InputError for what is none of these."""
    host, after = written, ""
    if written.startswith("["):
        host, _, rest = written[1:].partition("]")
        after = rest.removeprefix(":")
    elif written.count(":") == 1:
        host, _, after = written.partition(":")
    number = port if not after else int(after) if after.isascii() and after.isdecimal() else 0
    if not host or not 1 <= number <= 65_535:
        raise InputError(f"{written!r} is no address: give one as 192.168.1.20:{port}")
    return host, number
