"""`place`: put the overlay where it is wanted, before driving, while a lap that nobody drives shows what it does."""

from __future__ import annotations

from coach.app import settings
from coach.app.config import PlaceOptions, Presenting
from coach.app.console import Console, plain
from coach.app.seen import look_of
from coach.app.settings import OverlaySettings, placing_file
from coach.app.stop import Stop
from coach.overlay.placer_window import PlacerWindow
from coach.overlay.placing import Placing, load, save
from coach.playbook import load as playbooks

HELP = (
    "drag the overlay, wheel for its size; or arrows (Shift: further), + and -, Tab: next monitor, Home: as it comes; "
    "or stick, d-pad, shoulder buttons. Enter, a double click or button 0 keeps it, Esc or button 1 does not"
)


def place(options: PlaceOptions, console: Console, stop: Stop) -> str:
    """Until the person is done; returns what was kept, and where. InputError for a file that is not right, WorkError
    without a screen or where the file cannot be written, KeyboardInterrupt where `stop` asks for the end."""
    chosen = settings.read(options.settings).overlay
    path = placing_file() if options.placing is None else options.placing
    before = load(path)
    playbook = playbooks.load(options.playbook)
    look = look_of(Presenting(voice=options.voice), chosen, playbook)
    window = PlacerWindow(before, look, console.say)
    console.say(HELP)
    placing = window.run(lambda: stop.asked)
    if stop.asked:
        raise KeyboardInterrupt
    if placing is None:
        return f"the overlay stays as it was: {_told(before)}\n"
    save(path, placing)
    for line in _overruled(chosen, placing):
        console.say(line)
    return f"{playbooks.shown(str(path))}: {_told(placing)}\n"


def _told(placing: Placing) -> str:
    monitor = "main monitor" if placing.monitor is None else f"monitor {plain(placing.monitor)}"
    across, down = f"{100 * placing.across:.0f} % across", f"{100 * placing.down:.0f} % down"
    return f"{monitor}, {across}, {down}, {placing.size:g} arcmin"


def _overruled(chosen: OverlaySettings, placing: Placing) -> list[str]:
    """A line for each thing in the settings that goes before what was placed."""
    lines = []
    if chosen.monitor is not None and chosen.monitor != placing.monitor:
        lines.append(
            f"overlay.monitor = {plain(chosen.monitor)!r} in your settings goes before this: leave it out there"
        )
    if chosen.size is not None and chosen.size != placing.size:
        lines.append(f"overlay.size = {chosen.size:g} in your settings goes before this: leave it out there")
    if chosen.window is not None and chosen.window != "edge":
        lines.append(f"overlay.window = {chosen.window!r} in your settings: this is for the one over the simulator")
    return lines
