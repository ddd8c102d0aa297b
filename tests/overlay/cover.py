"""A borderless full-screen window, as a simulator has: `python -m tests.overlay.cover`, for the tests of the overlay's.

Prints `open`, then for each line on standard input whether it has the keyboard (`keyboard True`).
"""

from __future__ import annotations

import sys
import threading
import time

from coach.overlay.toolkit import pygame

COLOUR = (120, 60, 160)


def main() -> None:
    pygame.display.init()
    surface = pygame.display.set_mode(pygame.display.get_desktop_sizes()[0], pygame.NOFRAME)
    asked: list[str] = []
    over = threading.Event()

    def listen() -> None:
        for line in sys.stdin:
            asked.append(line)
        over.set()

    threading.Thread(target=listen, daemon=True).start()
    for frame in range(10_000):
        pygame.event.get()
        surface.fill(COLOUR)
        pygame.display.flip()
        if frame == 3:
            print("open", flush=True)
        if asked:
            asked.clear()
            print("keyboard", pygame.key.get_focused(), flush=True)
        if over.is_set():
            break
        time.sleep(0.02)


if __name__ == "__main__":
    main()
