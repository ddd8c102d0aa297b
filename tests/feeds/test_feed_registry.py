"""Feeds by name, from here and from other packages."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from coach.vocabulary.errors import FormatError, InputError, WorkError
from coach.vocabulary.sample import Sample
from feeds import registry
from feeds.generic import GenericFeed

Install = Callable[[str, str, str], None]


@pytest.fixture
def install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Install:
    """Lay a distribution with one entry point on the path, as an installer would."""
    monkeypatch.syspath_prepend(str(tmp_path))

    def one(distribution: str, entry: str, code: str) -> None:
        (tmp_path / f"{distribution}_feed.py").write_text(code)
        info = tmp_path / f"{distribution}-2.1.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {distribution}\nVersion: 2.1\n")
        (info / "entry_points.txt").write_text(f"[{registry.GROUP}]\n{entry}\n")
        importlib.invalidate_caches()
        monkeypatch.delitem(sys.modules, f"{distribution}_feed", raising=False)

    return one


GOOD = """
from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import Sample
class Counter:
    def decode(self, data):
        if data == b"bad":
            raise FormatError("bad", "bad bytes")
        if data == b"later":
            return None
        if data == b"wrong":
            return 1
        return Sample(1 / len(data))
"""


def test_the_generic_feed_is_made_by_its_name_each_time_a_new_one() -> None:
    first, second = registry.create("generic"), registry.create("generic")
    assert isinstance(first, GenericFeed)
    assert first is not second


def test_listing_imports_nothing(install: Install) -> None:
    install("hedge", "hedgerow = hedge_feed:Counter", "raise RuntimeError('imported')")
    found = {entry.name: (entry.target, entry.origin) for entry in registry.entries()}
    assert found["generic"] == ("feeds.generic:GenericFeed", "built in")
    assert found["hedgerow"] == ("hedge_feed:Counter", "hedge 2.1")
    assert "hedge_feed" not in sys.modules


def test_another_packages_feed_is_used_and_held_to_the_promise(install: Install) -> None:
    install("hedge", "hedgerow = hedge_feed:Counter", GOOD)
    feed = registry.create("hedgerow")
    assert feed.decode(b"1234") == Sample(0.25)
    assert feed.left_out.total == 0
    causes = []
    assert feed.decode(b"later") is None
    for data in (b"bad", b"wrong", b""):
        with pytest.raises(FormatError) as caught:
            feed.decode(data)
        causes.append(caught.value.cause)
    assert causes == ["bad bytes", "the feed failed", "the feed failed"]
    assert "ZeroDivisionError" in str(caught.value)
    assert '"hedgerow"' in str(caught.value)


def test_a_feed_gets_the_receive_time_where_it_wants_it(install: Install) -> None:
    timed = GOOD.replace("decode(self, data)", "decode(self, data, received)").replace("1 / len(data)", "received")
    install("hedge", "hedgerow = hedge_feed:Counter", timed)
    assert registry.create("hedgerow").decode(b"1234", 12.5) == Sample(12.5)


def test_an_unknown_name_names_the_choices() -> None:
    with pytest.raises(InputError, match=r'no feed "generik": choose one of .*generic'):
        registry.create("generik")


def test_a_name_taken_twice_names_both(install: Install) -> None:
    install("hedge", "generic = hedge_feed:Counter", GOOD)
    with pytest.raises(InputError) as caught:
        registry.create("generic")
    for part in ("feeds.generic:GenericFeed", "built in", "hedge_feed:Counter", "hedge 2.1", "uninstall"):
        assert part in str(caught.value)


def test_a_clash_of_two_others_leaves_the_built_in_alone(install: Install) -> None:
    install("hedge", "row = hedge_feed:Counter", GOOD)
    install("ditch", "row = ditch_feed:Counter", GOOD)
    with pytest.raises(InputError, match=r"ditch 2\.1.* and .*hedge 2\.1"):
        registry.create("row")
    assert isinstance(registry.create("generic"), GenericFeed)


@pytest.mark.parametrize(
    ("entry", "code", "why"),
    [
        ("broken = hedge_feed:Counter", "import no_such_module_at_all", "ModuleNotFoundError"),
        ("broken = hedge_feed:Counter", "class Counter(", "SyntaxError"),
        ("broken = hedge_feed:Counter", "raise ValueError('two\\nlines')", "ValueError: two lines"),
        ("broken = hedge_feed:Missing", GOOD, "AttributeError"),
        ("broken = hedge_feed:Counter", "class Counter:\n    def __init__(self, port): pass", "TypeError"),
        ("broken = hedge_feed:Counter", "class Counter:\n    decode = None", "TypeError: its decode cannot be called"),
    ],
)
def test_a_feed_that_cannot_be_made_is_one_line_with_its_package(
    install: Install, entry: str, code: str, why: str
) -> None:
    install("hedge", entry, code)
    with pytest.raises(WorkError) as caught:
        registry.create("broken")
    message = str(caught.value)
    assert "hedge 2.1" in message
    assert why in message
    assert "\n" not in message
