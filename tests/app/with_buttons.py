"""`cornerword` with a file of buttons and virtual controllers of the test's own:
`python -m tests.app.with_buttons BUTTONS.toml SCRIPT ARGUMENT ...`."""

from __future__ import annotations

import sys
from pathlib import Path

from coach.app import buttonfile, buttons, presses
from coach.app.cli import main
from tests.controls.bench import Script

if __name__ == "__main__":
    file, script, *arguments = sys.argv[1:]
    buttonfile.settings_file = lambda: Path(file).with_name("settings.toml")
    presses.LISTENER = Script(Path(script)).command
    buttons.SKIP = 3.0
    sys.exit(main(arguments))
