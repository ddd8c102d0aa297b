"""The listening process as the coach starts it, with whatever controllers this machine has."""

from __future__ import annotations

import subprocess

from coach.app.presses import LISTENER
from coach.controls.button import Plugged, Ready, message_of
from tests.controls.bench import listening
from voice import process


def test_it_is_ready_wherever_it_runs() -> None:
    """Without a screen, without a controller: what there is comes before `Ready`."""
    with listening([*LISTENER, "--axes"]) as ear:
        *there, ready = ear.until(Ready)
    assert ready == Ready()
    assert all(isinstance(message, Plugged) for message in there)


def test_nothing_but_our_lines_is_on_its_standard_output_and_it_ends_with_its_input() -> None:
    """pygame greets there, and SDL's drivers may."""
    child = process.start(LISTENER, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert child.stdin is not None and child.stdout is not None
    lines = [child.stdout.readline()]
    while b'"ready"' not in lines[-1]:
        lines.append(child.stdout.readline())
    assert [message_of(line) for line in lines][-1] == Ready()
    child.stdin.close()
    assert child.wait(5.0) == 0
    for line in child.stdout.read().splitlines():
        message_of(line)
    child.stdout.close()
