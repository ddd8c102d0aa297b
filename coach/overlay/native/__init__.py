"""What each window system needs beyond SDL, so that a window at the edge of the eye disturbs nobody. What each allows:

- **X11** (Linux, and XWayland on a Wayland desktop; seen working with and without a window manager and a compositor):
  above a full-screen window that is borderless, also where that is raised later; clicks go through; no keyboard is
  taken. Where a compositor runs as the overlay opens, the plate is partly transparent and all else opaque. One that
  starts later leaves the plate opaque; where one ends, the transparent plate lies on black: darker, and as legible.
- **Windows** (never run on a machine; tested with a fake of the system calls): above a borderless window by being
  topmost, clicks go through, no keyboard is taken, the whole window is a little transparent, words too. Nothing of this
  kind shows over exclusive full screen: choose "borderless" in the simulator.
- **macOS** (never run on a machine): borderless, and on top as far as SDL can do so. Clicks do not go through, and it
  is not seen over a window that has a full-screen space of its own.
- **Wayland without XWayland**: none. Its protocol lets no window choose to be on top, nor where it stands, so the
  overlay says so and stays off. A window of kind "window" on another PC serves there.
"""
