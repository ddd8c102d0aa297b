"""Discovery by the real zeroconf, on loopback."""

from __future__ import annotations

import ipaddress
import threading
import time
from contextlib import closing
from unittest.mock import Mock, patch

import pytest
import zeroconf

from coach.vocabulary.errors import WorkError
from feeds.discovery import Announcement, Shared, _asked, best_first, browse
from feeds.dnssd import TYPE


def test_a_drive_is_found_by_its_name_and_another_of_that_name_gets_a_number() -> None:
    told: list[str] = []
    began = time.perf_counter()
    first = Announcement("desk 1.2", 26764, {"id": "one"}, told.append, only_here=True)
    second = Announcement("desk 1.2", 26765, {"id": "two"}, told.append, only_here=True)
    assert time.perf_counter() - began < 0.2  # nothing waits for it
    with closing(first), closing(second):
        found: list[Shared] = []
        with closing(browse(10.0, lambda: len(found) == 2, only_here=True)) as heard:
            for one in heard:
                found.append(one)
    assert sorted(one.name for one in found) == ["desk 1.2", "desk 1.2-2"]
    assert {one.port for one in found} == {26764, 26765}
    assert {one.txt["id"] for one in found} == {"one", "two"}
    assert all(one.addresses == ("127.0.0.1",) and one.txt["txtvers"] == "1" for one in found)
    assert sorted(filter(None, (first.name, second.name))) in (["desk 1.2"], ["desk 1.2", "desk 1.2-2"])
    assert told == []


def test_it_ends_while_it_is_still_being_announced() -> None:
    announced = Announcement("desk", 26764, {}, pytest.fail, only_here=True)
    began = time.perf_counter()
    announced.close()
    assert time.perf_counter() - began < 3.0
    assert not any(thread.name == "announcement" for thread in threading.enumerate())


@pytest.mark.parametrize(
    ("error", "why"),
    [
        (
            RuntimeError("No interfaces to listen on, check that any interfaces have IP version enabled"),
            "No interfaces",
        ),
        (OSError(19, "No such device"), "No such device"),
        (zeroconf.NonUniqueNameException(), "NonUniqueNameException"),
        (ZeroDivisionError("whatever"), "whatever"),
    ],
)
def test_a_network_that_fails_costs_the_finding_alone(error: Exception, why: str) -> None:
    told: list[str] = []
    with patch("zeroconf.Zeroconf", side_effect=error):
        announced = Announcement("desk", 26764, {}, told.append)
        announced.close()
    (line,) = told
    assert line.startswith("the drive cannot be found by its name (") and why in line and "--at" in line


def test_a_network_that_cannot_be_searched_is_one_line() -> None:
    searching = browse(1.0, lambda: False)
    wanted = r"cannot be searched \(No such device\): give the address with --at"
    with patch("zeroconf.Zeroconf", side_effect=OSError(19, "No such device")), pytest.raises(WorkError, match=wanted):
        next(searching)


def test_the_address_on_a_network_of_ours_comes_first_and_a_virtual_machines_last() -> None:
    """172.17.0.1 stands for what each computer calls its own side of its virtual machines: RFC 1918 lets them."""
    own = [ipaddress.ip_interface(one) for one in ("127.0.0.1/8", "172.17.0.1/16", "192.168.1.20/24", "fe80::20/64")]
    offered = ["fe80::10%2", "172.17.0.1", "10.8.0.3", "fd00::10", "192.168.1.10"]
    with patch("feeds.discovery._own_interfaces", return_value=own):
        assert best_first(offered) == ["192.168.1.10", "10.8.0.3", "fd00::10", "fe80::10%2", "172.17.0.1"]


def test_one_that_does_not_answer_is_asked_once_more() -> None:
    info = zeroconf.ServiceInfo(TYPE, f"desk.{TYPE}", port=7, parsed_addresses=["192.0.2.9"])
    for answers, found in (([None, info], Shared("desk", ("192.0.2.9",), 7)), ([None, None], None)):
        asking = Mock()
        asking.get_service_info.side_effect = answers
        assert _asked(asking, f"desk.{TYPE}") == found
        assert asking.get_service_info.call_count == 2


def test_looking_ends_when_it_is_stopped_and_when_its_time_is_over() -> None:
    began = time.perf_counter()
    assert list(browse(0.3, lambda: False, only_here=True)) == []
    assert list(browse(60.0, lambda: True, only_here=True)) == []
    assert time.perf_counter() - began < 5.0
