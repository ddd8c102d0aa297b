"""What is fuzzed: every parser that a module of this folder names, and the odd inputs kept of it.

A module `test_fuzz_NAME.py` brings `check(data: bytes)`, or `TARGETS`, a dict of such functions by name; and `SEEDS`,
a list of good inputs, or a dict of lists by target. A check fails by an exception: what its parser may refuse, it
catches itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

HERE = Path(__file__).parent
CORPUS = HERE / "corpus"
"""Of each target a folder: what broke once, or is odd enough to be tried each time."""

Check = Callable[[bytes], object]


@dataclass(frozen=True, slots=True)
class Target:
    """One parser. `seeds`: good inputs to begin from."""

    name: str
    check: Check
    seeds: tuple[bytes, ...]

    @property
    def corpus(self) -> Path:
        """Its folder, which need not be there."""
        return CORPUS / self.name


def modules() -> list[str]:
    """The names of the modules that are looked into, without what they begin with."""
    return sorted(path.stem.removeprefix("test_fuzz_") for path in HERE.glob("test_fuzz_*.py"))


def targets() -> dict[str, Target]:
    """All of them, by name."""
    found = {}
    for name in modules():
        if name == "corpus":
            continue
        module = import_module(f"tests.fuzz.test_fuzz_{name}")
        checks: dict[str, Check] = getattr(module, "TARGETS", None) or {}
        if not checks and hasattr(module, "check"):
            checks = {name: module.check}
        seeds = getattr(module, "SEEDS", ())
        for target, check in checks.items():
            own = seeds.get(target, ()) if isinstance(seeds, dict) else seeds
            found[target] = Target(target, check, tuple(own))
    return found
