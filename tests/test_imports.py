"""Who imports whom: the rule of DEVELOPERS.md, read from the source itself."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

TOP = Path(__file__).parents[1]
VOCABULARY = "coach.vocabulary"
CALCULATING = {
    *("__future__", "abc", "array", "bisect", "collections", "contextlib", "copy", "dataclasses", "difflib", "enum"),
    *("fnmatch", "functools", "hashlib", "heapq", "itertools", "json", "math", "operator", "re", "statistics"),
    *("string", "textwrap", "types", "typing", "numpy"),
}
"""What a pure room may use besides the project: nothing that knows a clock, a file, a socket, a thread or chance."""
READING = CALCULATING | {"importlib", "pathlib", "pydantic", "pydantic_core", "tomllib"}
"""What the playbook and the readers of TOML may use: files, and pydantic, which checks what stands in them."""
NUMPY_OUTSIDE = {
    *("random", "load", "loadtxt", "genfromtxt", "fromfile", "fromregex", "memmap", "open_memmap", "DataSource"),
    *("save", "savez", "savez_compressed", "savetxt", "tofile", "dump", "lib", "ctypeslib", "f2py", "testing"),
}
"""What numpy has of chance and files; a pure room may use the rest."""
OUTSIDE = {"open", "input", "print", "exec", "eval", "__import__", "breakpoint"}


def modules(folder: str) -> list[Path]:
    return sorted(path for path in (TOP / folder).rglob("*.py"))


def imports(source: str) -> Iterator[str]:
    """Full names of what a source imports, at any depth of the code."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written with the full name"
            yield from (f"{node.module}.{name.name}" for name in node.names)


def numpy_outside(source: str) -> Iterator[str]:
    """What a source uses of numpy, or of arrays, that a pure room may not."""
    tree = ast.parse(source)
    names = {
        name.asname or name.name.partition(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import)
        for name in node.names
        if is_in(name.name, "numpy")
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute):
            is_numpys = isinstance(node.value, ast.Name) and node.value.id in names
            if node.attr in NUMPY_OUTSIDE and (is_numpys or node.attr in ("tofile", "fromfile")):
                yield f"{ast.unparse(node)} in line {node.lineno}"
    for module in imports(source):
        root, *inner = module.split(".")
        if root == "numpy" and NUMPY_OUTSIDE.intersection(inner):
            yield module


def is_in(module: str, *rooms: str) -> bool:
    return any(module == room or module.startswith(room + ".") for room in rooms)


def strangers(folder: str, allowed: tuple[str, ...], outside: set[str] | None) -> list[str]:
    """`file imports module` for every import of the project, or of anything else, that the room may not have."""
    found = []
    for path in modules(folder):
        for module in imports(path.read_text(encoding="utf-8")):
            root = module.partition(".")[0]
            ours = root in ("coach", "feeds", "voice", "tests")
            fine = is_in(module, *allowed) if ours else outside is None or root in outside
            if not fine:
                found.append(f"{path.relative_to(TOP)} imports {module}")
    return found


@pytest.mark.parametrize(
    ("folder", "allowed", "outside"),
    [
        ("coach/vocabulary", (VOCABULARY,), set(sys.stdlib_module_names)),
        ("coach/engine", (VOCABULARY, "coach.engine"), CALCULATING),
        ("coach/practice", (VOCABULARY, "coach.practice"), CALCULATING),
        ("coach/planner", (VOCABULARY, "coach.practice", "coach.planner"), CALCULATING),
        ("coach/review", (VOCABULARY, "coach.practice", "coach.engine", "coach.review"), CALCULATING | {"datetime"}),
        (
            "coach/debrief",
            (VOCABULARY, "coach.practice", "coach.engine.lap", "coach.review", "coach.debrief"),
            CALCULATING | {"base64", "datetime", "html", "importlib", "unicodedata", "xml"},
        ),
        (
            "coach/store",
            (VOCABULARY, "coach.practice", "coach.engine", "coach.planner.state", "coach.review", "coach.store"),
            set(sys.stdlib_module_names) | {"numpy", "orjson"},
        ),
        ("coach/toml", (VOCABULARY, "coach.toml"), READING | {"datetime"}),
        ("coach/playbook", (VOCABULARY, "coach.planner", "coach.playbook", "coach.toml"), READING),
        ("coach/overlay", (VOCABULARY, "coach.overlay"), set(sys.stdlib_module_names) | {"pygame", "pydantic"}),
        (
            "coach/controls",
            (VOCABULARY, "coach.controls", "coach.overlay.toolkit"),
            set(sys.stdlib_module_names) | {"pygame", "pydantic"},
        ),
        ("feeds", (VOCABULARY, "feeds", "coach.toml"), None),
        ("voice", (VOCABULARY, "voice"), None),
    ],
)
def test_a_room_imports_only_what_it_may(folder: str, allowed: tuple[str, ...], outside: set[str] | None) -> None:
    assert modules(folder), f"{folder} holds no module"
    assert strangers(folder, allowed, outside) == []


PURE = ["coach/vocabulary", "coach/engine", "coach/practice", "coach/planner", "coach/review", "coach/debrief"]


@pytest.mark.parametrize("folder", PURE)
def test_a_pure_room_calls_nothing_outside(folder: str) -> None:
    found = [
        f"{path.relative_to(TOP)}:{node.lineno} calls {node.func.id}"
        for path in modules(folder)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in OUTSIDE
    ]
    assert found == []


@pytest.mark.parametrize("folder", ["coach/engine", "coach/practice", "coach/planner", "coach/review"])
def test_a_pure_room_uses_no_chance_and_no_files_of_numpy(folder: str) -> None:
    found = [
        f"{path.relative_to(TOP)}: {use}"
        for path in modules(folder)
        for use in numpy_outside(path.read_text(encoding="utf-8"))
    ]
    assert found == []


@pytest.mark.parametrize(
    "source",
    [
        "import numpy as np\nnp.random.default_rng()",
        "import numpy\nnumpy.load('a')",
        "import numpy as other\ndef f():\n    return other.memmap",
        "from numpy.random import default_rng",
        "from numpy import fromfile",
        "import numpy.random",
        "import numpy.random as chance",
        "import array\narray.array('d').fromfile(file, 1)",
        "def f(column):\n    column.tofile('a')",
    ],
)
def test_the_rule_on_numpy_sees_chance_and_files(source: str) -> None:
    assert list(numpy_outside(source))


def test_the_rule_on_numpy_lets_calculation_pass() -> None:
    fine = "import json\nimport numpy as np\nfrom numpy.typing import NDArray\nnp.interp(1, x, y)\nself.load\njson.load"
    assert list(numpy_outside(fine)) == []


def test_pygame_stays_in_its_rooms() -> None:
    rooms = ("coach/overlay", "coach/controls", "voice")
    found = [
        str(path.relative_to(TOP))
        for folder in ("coach", "feeds", "voice")
        for path in modules(folder)
        if any(is_in(module, "pygame") for module in imports(path.read_text(encoding="utf-8")))
        and not path.relative_to(TOP).as_posix().startswith(rooms)
    ]
    assert found == []


def test_the_rule_itself_sees_an_import() -> None:
    source = "def f():\n    import time\n    from coach.planner import rules\n"
    assert list(imports(source)) == ["time", "coach.planner.rules"]
    assert not is_in("coach.planner.rules", VOCABULARY, "coach.engine")
