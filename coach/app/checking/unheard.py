"""What to check where nothing comes, or what comes is not allowed in."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterator

from feeds.udp import REFUSED, UdpReceiver

SILENT_START = 10.0
"""s after which a stream that never began is worth a line: a simulator that runs sends within one."""
NOT_ALLOWED = "datagrams come, but only from senders that may not send: name the simulator's computer with --allow"


def in_one_line(receiver: UdpReceiver) -> str:
    """The line for who waits at the terminal."""
    return NOT_ALLOWED if receiver.drops.by_cause().get(REFUSED) else nothing_comes(receiver.address)


def nothing_comes(where: str) -> str:
    """What to check where nothing comes at all; `where` it is listened, "address:port"."""
    host, _, port = where.rpartition(":")
    check = f"no telemetry for {SILENT_START:.0f} s: be on track, not in a menu; set the simulator to send it by UDP to"
    if ipaddress.ip_address(host.strip("[]")).is_loopback:
        return (
            f"{check} {where}, and to no other program's port, and let the firewall pass it; if it runs on another "
            "computer, listen with --host 0.0.0.0 --allow and that one's address"
        )
    return (
        f"{check} this computer's address, port {port}, and to no other program's port, and let this computer's "
        "firewall pass it"
    )


def point_by_point(receiver: UdpReceiver) -> Iterator[str]:
    """One line for each thing to check, the likeliest first."""
    port = receiver.port
    yield "1. On track? Most simulators send nothing from a menu, and some nothing while paused."
    yield f"2. The simulator's setting: telemetry by UDP switched on, to port {port}."
    if receiver.is_open:
        yield "3. The address there: this computer's own in your network, or 127.0.0.1 on the same computer."
        yield "   From another computer: is it named with --allow? What others send is dropped."
    else:
        yield "3. The address there: 127.0.0.1. From another computer, listen with"
        yield "   --host 0.0.0.0 --allow ADDRESS, where ADDRESS is that computer's."
    yield f"4. A firewall: let this program receive UDP on port {port}."
    yield f"5. Another program that reads telemetry on port {port}: close it, or have it pass the stream on."
