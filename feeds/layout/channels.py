"""What a layout may give: the channels of a sample and groups of them, with the keys that mean something there."""

from __future__ import annotations

from coach.vocabulary.sample import CHANNELS
from feeds.channels import ASSISTS
from feeds.layout.units import QUANTITY

VECTORS: dict[str, tuple[str, ...]] = {
    "position": ("x", "y", "z"),
    "velocity": ("vx", "vy"),
    "acceleration": ("ax", "ay", "az"),
}
"""Three numbers of the source, and the channels that they become."""

ASSIST = "assist_"
"""Before the name of a driving aid: a flag whether it is in use; all together they become `assists`."""

FLAGS = ("on_track", "in_pit", "paused", "lap_valid", "blue_flag", "yellow_flag", *(ASSIST + aid for aid in ASSISTS))
WHOLE = ("lap", "gear")
FREE_LABELS = ("session", "track", "car", "driver", "setup")
CLOSED_LABELS = ("session_kind", "beside")
WHEELS = ("wheel_speed", "tyre_pressure")
TREADS = ("tyre_temp",)
NUMBERS = tuple(
    name for name in CHANNELS if name in QUANTITY and name not in (*WHEELS, *TREADS) and name not in VECTORS
)
"""Channels that are one number each."""
TURNING = ("yaw", "yaw_rate", "steer")
"""Numbers with a sense of rotation."""

KNOWN = (*(name for name in CHANNELS if name != "assists"), *VECTORS, *(ASSIST + aid for aid in ASSISTS))
"""Every name that may stand in a packet's `channels`."""

_PLACE = ("offset", "type", "byte_order", "absent")
_SCALED = ("scale", "bias", "convert")


def kind_of(name: str) -> str:
    """number, vector, wheels, tread, whole, flag or label: what a name of KNOWN stands for."""
    for kind, names in (
        *(("vector", VECTORS), ("wheels", WHEELS), ("tread", TREADS), ("whole", WHOLE), ("flag", FLAGS)),
        ("label", (*FREE_LABELS, *CLOSED_LABELS)),
    ):
        if name in names:
            return kind
    return "number"


def count_of(name: str) -> int:
    """How many values of the packet it takes."""
    return {"vector": 3, "wheels": 4, "tread": 12}.get(kind_of(name), 1)


def gives(name: str) -> tuple[str, ...]:
    """The channels of a sample that a name of KNOWN gives."""
    return ("assists",) if name.startswith(ASSIST) else VECTORS.get(name, (name,))


def keys_of(name: str) -> tuple[str, ...]:
    """The keys that mean something for a name of KNOWN."""
    kind = kind_of(name)
    keys: tuple[str, ...] = _PLACE
    if kind == "label":
        return (*keys, "length", "encoding", "names", "constant")
    if kind == "flag":
        return (*keys, "bit", "is", "inverted", "constant")
    if kind == "whole":
        return (*keys, "length", "encoding", "scale", "bias", "names", "constant")
    keys += _SCALED
    if name in TURNING:
        keys += ("positive",)
    if name == "yaw":
        keys += ("zero",)
    if name == "wheel_speed":
        keys += ("radius",)
    if kind in ("wheels", "tread"):
        keys += ("order",)
    if kind != "number":
        keys += ("stride",)
    if kind == "vector":
        return (*keys, "axes")
    if kind == "tread":
        return (*keys, "across", "step")
    return keys if name == "t" else (*keys, "constant")
