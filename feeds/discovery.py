"""Finding a shared drive on the network, and being found: DNS-SD over multicast DNS, by zeroconf.

Nothing else waits for it: it may fail, be slow or be blocked, and costs finding by name alone.
"""

from __future__ import annotations

import contextlib
import ipaddress
import logging
import queue
import threading
import time
import uuid
from collections.abc import Callable, Generator, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from coach.vocabulary.errors import WorkError
from feeds.dnssd import TYPE, checked_txt, instance_name

if TYPE_CHECKING:
    from zeroconf import Zeroconf

VERSION = {"txtvers": "1"}
"""The first attribute of every record: RFC 6763, section 6.7."""
CLOSING = 3.0
"""s that the end waits for the goodbye; announcing takes 1.7 s, and is not broken off."""
ASKING_MS = 1500
"""ms to wait for the address of a drive whose name was heard."""
_LOOK = 0.1
"""s between two looks at whether to stop."""
_HERE = ["127.0.0.1"]
_Interface = ipaddress.IPv4Interface | ipaddress.IPv6Interface


@dataclass(frozen=True, slots=True)
class Shared:
    """A drive that is shared: its name, where it can be reached (the best address first), and what it says of itself.

    All of it comes from the network: show none of it as it is.
    """

    name: str
    addresses: tuple[str, ...]
    port: int
    txt: dict[str, str] = field(default_factory=dict)


class Announcement:
    """Says on the network, from a thread of its own, that a drive can be followed at `port`, until it is closed.

    A `name` that is taken gets a number behind it; `name` is then the one that it goes by, None until it is announced.
    What goes wrong is told once by `tell`, from that thread. `only_here`: on this computer's own loopback.
    """

    def __init__(
        self, name: str, port: int, txt: Mapping[str, str], tell: Callable[[str], None], only_here: bool = False
    ) -> None:
        self.name: str | None = None
        self._wanted = instance_name(name)
        self._port = port
        self._txt = checked_txt({**VERSION, **txt})
        self._tell = tell
        self._only_here = only_here
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name="announcement", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Take it back, and wait some seconds for that at most."""
        self._ended.set()
        self._thread.join(CLOSING)

    def _run(self) -> None:
        try:
            with _opened(self._only_here) as zeroconf:
                info = self._info()
                zeroconf.register_service(info, allow_name_change=True)
                self.name = info.name.removesuffix("." + TYPE)
                self._ended.wait()
                zeroconf.unregister_service(info)
        except Exception as error:  # a library's, in a thread: whatever it is, the drive does not depend on it
            self._tell(f"the drive cannot be found by its name ({_why(error)}): follow it with --at and its address")

    def _info(self) -> Any:
        from zeroconf import ServiceInfo

        return ServiceInfo(
            TYPE,
            f"{self._wanted}.{TYPE}",
            port=self._port,
            properties=self._txt,
            server=f"cornerword-{uuid.uuid4().hex[:8]}.local.",  # a host name that no other program announces
            parsed_addresses=_HERE if self._only_here else _own_addresses(),
        )


def browse(seconds: float, stopped: Callable[[], bool], only_here: bool = False) -> Generator[Shared]:
    """The drives that are shared on the network, as they are found, for so many seconds or until `stopped` says so.

    WorkError where there is no network to look at. Close it where it is not read to the end.
    """
    from zeroconf import ServiceBrowser, ServiceStateChange

    heard: queue.SimpleQueue[str] = queue.SimpleQueue()

    def changed(zeroconf: Any, service_type: str, name: str, state_change: Any) -> None:
        if state_change is ServiceStateChange.Added:
            heard.put(name)  # on a thread of the library's: no more than that

    until = time.monotonic() + seconds
    try:
        with _opened(only_here) as zeroconf:
            browser = ServiceBrowser(zeroconf, TYPE, handlers=[changed])
            try:
                while not stopped() and (left := until - time.monotonic()) > 0:
                    with contextlib.suppress(queue.Empty):
                        found = _asked(zeroconf, heard.get(timeout=min(left, _LOOK)))
                        if found is not None:
                            yield found
            finally:
                browser.cancel()  # closing the other leaves its thread behind
    except (OSError, RuntimeError) as error:
        raise WorkError(f"the network cannot be searched ({_why(error)}): give the address with --at") from error


@contextlib.contextmanager
def _opened(only_here: bool) -> Iterator[Zeroconf]:
    import zeroconf

    logging.getLogger("zeroconf").addHandler(logging.NullHandler())  # what it has to say is no line for a person
    interfaces: Any = _HERE if only_here else zeroconf.InterfaceChoice.All
    version = zeroconf.IPVersion.V4Only if only_here else zeroconf.IPVersion.All
    try:
        opened = zeroconf.Zeroconf(interfaces=interfaces, ip_version=version)
    except (OSError, RuntimeError):
        if only_here:
            raise
        opened = zeroconf.Zeroconf(interfaces=interfaces, ip_version=zeroconf.IPVersion.V4Only)  # no IPv6 here
    try:
        yield opened
    finally:
        opened.close()


def _own_addresses() -> list[str]:
    """Where others can reach this computer."""
    return [str(one.ip) for one in _own_interfaces() if not one.is_loopback]


def _own_interfaces() -> list[_Interface]:
    """The addresses of this computer, each with its network."""
    import ifaddr

    found = [address for card in ifaddr.get_adapters() for address in card.ips]
    hosts = [(one.ip if isinstance(one.ip, str) else one.ip[0], one.network_prefix) for one in found]
    return [ipaddress.ip_interface(f"{host}/{prefix}") for host, prefix in hosts]


def best_first(addresses: Iterable[str]) -> list[str]:
    """Addresses of another computer: first those of a network that this one is on too, last those that are this one's
    own, as every computer with a virtual machine has the same ones for it. IPv4 before IPv6, links last."""
    own = _own_interfaces()

    def rank(written: str) -> tuple[bool, bool, bool, bool, str]:
        address = ipaddress.ip_address(written.partition("%")[0])
        is_own = any(address == one.ip for one in own)
        is_near = any(address in one.network for one in own)
        return is_own, address.version == 6, address.is_link_local, not is_near, written

    return sorted(addresses, key=rank)


def _asked(zeroconf: Any, name: str) -> Shared | None:
    """What a service says of itself; None where it does not answer, or nothing of use."""
    from zeroconf import Error

    try:
        info = zeroconf.get_service_info(TYPE, name, timeout=ASKING_MS)
        if info is None:  # multicast loses what is sent: ask once more, as its name is heard but once
            info = zeroconf.get_service_info(TYPE, name, timeout=ASKING_MS)
    except Error:
        return None  # a name that is none
    if info is None or not info.port:
        return None
    addresses = best_first(info.parsed_scoped_addresses())
    if not addresses:
        return None
    txt = {key.decode("ascii", "replace"): (value or b"").decode(errors="replace") for key, value in _pairs(info)}
    return Shared(name.removesuffix("." + TYPE), tuple(addresses), int(info.port), txt)


def _pairs(info: Any) -> Iterator[tuple[bytes, bytes | None]]:
    yield from info.properties.items()


def _why(error: Exception) -> str:
    text = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return " ".join(text.split())[:100]
