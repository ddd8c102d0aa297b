"""Run in a network of its own (`unshare --net`): a drive goes on while its network card is taken away and given back.

`python -m tests.real.unplugged FILE LOG`: sends FILE's lines to a real `cornerword drive`, which passes them on to an
address that no way leads to, takes the loopback device down for a while, and prints as JSON what was seen.
"""

from __future__ import annotations

import fcntl
import json
import socket
import struct
import sys
import time
from pathlib import Path

from tests.real.command import caught_up, running, send
from tests.sending import sender

_GET_FLAGS, _SET_FLAGS, _UP = 0x8913, 0x8914, 0x1  # netdevice(7): SIOCGIFFLAGS, SIOCSIFFLAGS, IFF_UP
NOWHERE = "192.0.2.7:26763"
"""of the addresses for documentation (RFC 5737)"""
AWAY = 2.5
"""s: longer than the 2 s after which a stream is called lost."""
AWAY_WITH = 400
"""datagrams that are sent while it is away."""


def plug(up: bool) -> None:
    """Take the loopback device up or down."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as any_socket:
        request = struct.pack("16sh22x", b"lo", 0)
        flags = struct.unpack("16sh22x", fcntl.ioctl(any_socket, _GET_FLAGS, request))[1]
        flags = flags | _UP if up else flags & ~_UP
        fcntl.ioctl(any_socket, _SET_FLAGS, struct.pack("16sh22x", b"lo", flags))


def main(file: Path, log: Path) -> None:
    datagrams = file.read_bytes().splitlines()
    third = len(datagrams) // 3
    plug(True)
    with running("drive", "--events", log, "--pass-on", NOWHERE) as command, sender(command.port) as source:
        send(source, datagrams[:third])
        caught_up(log, datagrams[third - 1])
        plug(False)
        send(source, datagrams[third : third + AWAY_WITH])
        time.sleep(AWAY)
        plug(True)
        send(source, datagrams[third + AWAY_WITH :])
        caught_up(log, datagrams[-1])
        code = command.end()
    print(json.dumps({"code": code, "err": command.err}))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
