"""Guards that hold for every test: nothing may be left running or open."""

from __future__ import annotations

import gc
import multiprocessing
import os
import threading
import time
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest
from make_stream import Drive, Mistake, make_drive, test_loop

_PROC = Path("/proc/self")
_HERE = Path(__file__).parent
_NUMBERS = count()

REAL_TIME = {"app", "controls", "feeds", "overlay", "real", "voice"}
"""Folders whose tests wait for sockets, windows and sound: under pytest-xdist one worker has them all, one after the
other, while the others calculate."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Say which tests stay together where pytest-xdist shares them out (`-n 2 --dist loadgroup`)."""
    for item in items:
        folder, *inside = item.path.relative_to(_HERE).parts
        real = folder in REAL_TIME or not inside
        item.add_marker(pytest.mark.xdist_group("real time" if real else str(item.path)))


@pytest.fixture(scope="session", autouse=True)
def no_settings_of_the_users(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No test, and no process that one starts, reads the settings or touches the memory of whoever runs it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
        patch.setenv("XDG_DATA_HOME", str(tmp_path_factory.mktemp("data")))
        yield


@pytest.fixture(scope="session")
def memories(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder for the memories of all tests."""
    return tmp_path_factory.mktemp("memories")


@pytest.fixture(autouse=True)
def no_memory_of_the_users(memories: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test keeps a drive in the memory of whoever runs it, and each begins without one."""
    monkeypatch.setenv("XDG_DATA_HOME", str(memories / str(next(_NUMBERS))))


@pytest.fixture(scope="session", autouse=True)
def calm_collector() -> None:
    """Thousands of kept samples are no cycles: the collector need not walk through them all the time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 50)


@pytest.fixture(scope="session")
def practice() -> Drive:
    """Five laps of the invented circuit: clean, then a late throttle in lap 4 and an early downshift in lap 5."""
    mistakes = [Mistake("late_throttle", 4, 1, 0.5), Mistake("early_downshift", 5, 4, 400.0)]
    return make_drive(test_loop(), laps=5, rate=25.0, mistakes=mistakes)


@pytest.fixture(scope="session")
def practice_file(practice: Drive, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same, one datagram a line."""
    path = tmp_path_factory.mktemp("practice") / "practice.jsonl"
    path.write_bytes(b"".join(datagram + b"\n" for datagram in practice.datagrams()))
    return path


@pytest.fixture(autouse=True)
def nothing_left_behind() -> Iterator[None]:
    """Fail a test that leaves a thread, a child process or a socket behind."""
    threads, children, sockets = set(threading.enumerate()), _children(), _sockets()
    yield
    until = time.monotonic() + 2.0
    while time.monotonic() < until and (set(threading.enumerate()) - threads or _children() - children):
        time.sleep(0.01)
    left = [f"thread {thread.name}" for thread in set(threading.enumerate()) - threads]
    left += [f"child process {child}" for child in _children() - children]
    left += [f"socket {name}" for name in _sockets() - sockets]
    assert not left, f"left behind: {', '.join(sorted(left))}"


def _children() -> set[str]:
    """Process ids; a child that has ended but was not waited for counts too, where the system tells."""
    found = {str(child.pid) for child in multiprocessing.active_children()}
    for task in _PROC.glob("task/*/children"):
        try:
            found.update(task.read_text().split())
        except OSError:
            continue  # the thread has ended meanwhile
    return found


def _sockets() -> set[str]:
    """Open sockets of this process, where the system tells; elsewhere Python's own warning has to do."""
    found = set()
    for entry in _PROC.glob("fd/*"):
        try:
            target = os.readlink(entry)
        except OSError:
            continue  # the listing's own descriptor
        if target.startswith("socket:"):
            found.add(target)
    return found
