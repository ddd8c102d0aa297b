"""The colours of pages and pictures, on a light and on a dark ground.

Lost time is of the vermillion kind and gained time of the blue kind, after the set that Okabe and Ito chose for
colour-vision deficiency (Color Universal Design, 2008), made darker or lighter until they stand out on their ground.
They tell nothing on their own: width, hollow strokes, signs and numbers do too. The tests reckon contrast (WCAG 2.2)
and distances for every colour vision.
"""

from __future__ import annotations

LIGHT: dict[str, str] = {
    "ground": "#f7f5ef",
    "panel": "#ffffff",
    "ink": "#22262b",
    "soft": "#55595f",
    "rule": "#d3cfc4",
    "road": "#e6e2d7",
    "edge": "#827d71",
    "accent": "#0b5c8a",
    "even": "#77736a",
    "lost1": "#c25400",
    "lost2": "#8a3800",
    "gained1": "#0072b2",
    "gained2": "#003f6b",
    "braking": "#22262b",
    "entry": "#c25400",
    "exit": "#0072b2",
    "straight": "#8c8779",
    "line1": "#0072b2",
    "line2": "#b34d00",
    "line3": "#6a3d9a",
    "line4": "#00705a",
    "line5": "#7a5c00",
    "line6": "#4a4f55",
    "tint-lost1": "#fbe9d9",
    "tint-lost2": "#f6cfa9",
    "tint-lost3": "#eeb27a",
    "tint-gained1": "#dcebf6",
    "tint-gained2": "#b5d6ee",
    "tint-gained3": "#8dc0e4",
}
"""By name, as the pictures have them written in."""
DARK: dict[str, str] = {
    "ground": "#15171b",
    "panel": "#1e2126",
    "ink": "#e6e8ec",
    "soft": "#abb0b8",
    "rule": "#3a3f47",
    "road": "#2b2f36",
    "edge": "#858b94",
    "accent": "#7cc4f0",
    "even": "#8b9098",
    "lost1": "#e8853a",
    "lost2": "#ffb98a",
    "gained1": "#4fa6e0",
    "gained2": "#a9d8fb",
    "braking": "#e6e8ec",
    "entry": "#e8853a",
    "exit": "#4fa6e0",
    "straight": "#7c828c",
    "line1": "#56b4e9",
    "line2": "#ff9d5c",
    "line3": "#c9a0ff",
    "line4": "#3fd0a8",
    "line5": "#e8d44d",
    "line6": "#d0d4da",
    "tint-lost1": "#35281d",
    "tint-lost2": "#55381f",
    "tint-lost3": "#734820",
    "tint-gained1": "#1c2d3a",
    "tint-gained2": "#1d4056",
    "tint-gained3": "#1f5474",
}
"""The same names for a dark screen."""
LINES = tuple(name for name in LIGHT if name.startswith("line"))
"""The colours of laps beside each other."""


def paint(fill: str | None = None, stroke: str | None = None) -> str:
    """The attributes that paint a shape of a picture: written in for the light ground, classes for the page's own."""
    parts = [f'fill="{LIGHT[fill] if fill else "none"}"']
    classes = [f"f-{fill}"] if fill else []
    if stroke:
        parts.append(f'stroke="{LIGHT[stroke]}"')
        classes.append(f"s-{stroke}")
    return f'{" ".join(parts)} class="{" ".join(classes)}"' if classes else parts[0]


def style() -> str:
    """The style sheet's part about colours: variables for both grounds and for paper, and the classes of `paint`."""
    light, dark = _variables(LIGHT), _variables(DARK)
    classes = "".join(f".f-{name}{{fill:var(--{name})}}.s-{name}{{stroke:var(--{name})}}" for name in LIGHT)
    return (
        f":root{{color-scheme:light dark;{light}}}\n"
        f"@media (prefers-color-scheme:dark){{:root{{{dark}}}}}\n"
        f"@media print{{:root{{color-scheme:light;{light}}}}}\n{classes}\n"
    )


def _variables(tones: dict[str, str]) -> str:
    return "".join(f"--{name}:{colour};" for name, colour in tones.items())
