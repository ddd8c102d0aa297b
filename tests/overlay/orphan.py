"""A display that goes away under its owner: `python -m tests.overlay.orphan {}`, for the tests.

Prints `open`, and after a line on standard input, when the X server is no more: opens another window, closes all twice,
and prints whether the display was gone after each.
"""

from __future__ import annotations

import sys

from coach.overlay.display import Display
from coach.overlay.toolkit import pygame


def main() -> None:
    display = Display()
    display.open((100, 80), (10, 10), pygame.NOFRAME)
    print("open", flush=True)
    sys.stdin.readline()
    display.open((200, 160), (10, 10), pygame.NOFRAME)
    print(display.gone, flush=True)
    for _ in range(2):
        display.close()
        print(display.gone, flush=True)


if __name__ == "__main__":
    main()
