"""Check what a built wheel holds: `python .ci/check_wheel.py WHEEL`."""

import sys
import zipfile

NEEDED = (
    "coach/py.typed",
    "coach/app/cli.py",
    "coach/engine/engine.py",
    "coach/overlay/fonts/DejaVuSans-LICENSE.txt",
    "coach/overlay/fonts/DejaVuSans.ttf",
    "coach/planner/planner.py",
    "coach/playbook/default.toml",
    "coach/playbook/languages/de.toml",
    "coach/playbook/languages/en.toml",
    "feeds/py.typed",
    "feeds/generic.py",
    "voice/py.typed",
    "voice/lengths/de-175.json",
    "voice/lengths/en-us-175.json",
)
ROOMS = ("coach/", "feeds/", "voice/")


def main(path: str) -> int:
    with zipfile.ZipFile(path) as wheel:
        names = wheel.namelist()
    missing = [name for name in NEEDED if name not in names]
    missing += [end for end in ("/licenses/LICENSE", "/entry_points.txt") if not any(n.endswith(end) for n in names)]
    strange = [name for name in names if not name.startswith(ROOMS) and ".dist-info/" not in name]
    for what, found in (("lacks", missing), ("should not hold", strange)):
        if found:
            print(f"{path} {what} {', '.join(found)}", file=sys.stderr)
    return 1 if missing or strange else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
