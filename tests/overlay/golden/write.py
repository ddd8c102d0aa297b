"""Writes the golden pictures of the overlay: `python -m tests.overlay.golden.write`, then look at each by eye.

To be run after a change of the form, the colours or the font, and only then. `--sheet FILE` writes all of them on one
sheet, three times as large, to look at.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from PIL import Image

from tests.overlay.golden.states import STATES
from tests.overlay.pictures import picture

FOLDER = Path(__file__).parent
_COLUMNS, _LARGER, _GAP = 4, 3, 12


def file_of(state: str) -> Path:
    return FOLDER / f"{state}.png"


def main() -> None:
    parsed = argparse.ArgumentParser(description=__doc__)
    parsed.add_argument("--sheet", type=Path, metavar="FILE")
    sheet_file = parsed.parse_args().sheet
    images = {name: Image.fromarray(picture(view)) for name, view in STATES.items()}
    for name, image in images.items():
        image.save(file_of(name), optimize=True)
    total = sum(file_of(name).stat().st_size for name in images)
    print(f"{len(images)} pictures, {total / 1024:.1f} KiB, in {FOLDER}")
    if sheet_file is not None:
        _sheet(list(images.values())).save(sheet_file)


def _sheet(images: list[Image.Image]) -> Image.Image:
    width, height = (size * _LARGER + _GAP for size in images[0].size)
    sheet = Image.new("RGB", (width * _COLUMNS, height * -(-len(images) // _COLUMNS)), (120, 120, 120))
    for place, image in enumerate(images):
        larger = image.resize((image.width * _LARGER, image.height * _LARGER), Image.Resampling.NEAREST)
        sheet.paste(larger, (place % _COLUMNS * width, place // _COLUMNS * height))
    return sheet


if __name__ == "__main__":
    main()
