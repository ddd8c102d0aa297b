"""A window as a simulator has: `python -m tests.overlay.cover '{"full": true}'`, for the tests of the overlay's.

Borderless and as large as the screen, or, with `full`, full screen for the window manager too. Prints `open`, then for
each line on standard input what was asked: `keyboard`: whether it has it; `clicks`: how many it got; `raise`: comes on
top of all others, and says so.
"""

from __future__ import annotations

import json
import sys
import threading
import time

from coach.overlay.toolkit import pygame

COLOUR = (120, 60, 160)


def raise_it() -> None:
    from Xlib.display import Display

    display = Display()
    display.create_resource_object("window", pygame.display.get_wm_info()["window"]).raise_window()
    display.sync()
    display.close()


def main() -> None:
    flags = pygame.FULLSCREEN if json.loads(sys.argv[1]).get("full") else pygame.NOFRAME
    pygame.display.init()
    surface = pygame.display.set_mode(pygame.display.get_desktop_sizes()[0], flags)
    asked: list[str] = []
    over = threading.Event()

    def listen() -> None:
        for line in sys.stdin:
            asked.append(line.strip())
        over.set()

    threading.Thread(target=listen, daemon=True).start()
    clicks = 0
    for frame in range(10_000):
        clicks += sum(event.type == pygame.MOUSEBUTTONDOWN for event in pygame.event.get())
        surface.fill(COLOUR)
        pygame.display.flip()
        if frame == 3:
            print("open", flush=True)
        if asked:
            word = asked.pop(0)
            if word == "raise":
                raise_it()
            told = {"keyboard": pygame.key.get_focused(), "clicks": clicks, "raise": "done"}
            print(word, told[word], flush=True)
        if over.is_set():
            break
        time.sleep(0.02)


if __name__ == "__main__":
    main()
