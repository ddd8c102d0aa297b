import json
import subprocess
import sys
from pathlib import Path

import pytest

from coach.vocabulary.errors import FormatError, InputError, WorkError
from voice.lengths import DEFAULT, load, names, read
from voice.measure_lengths import measure, speech_seconds

GOOD = {"table": "made", "voice": "a voice", "rate": 175, "lengths": {"Brake later": 0.67}}


def test_the_default_table_is_there_and_names_its_voice() -> None:
    assert DEFAULT in names()
    table = load()
    assert (table.name, table.rate) == ("en-us-175", 175)
    assert "en-us" in table.voice


def test_a_table_that_is_not_there_names_those_that_are() -> None:
    with pytest.raises(InputError, match=r"no table of lengths is called '\.\./x'; choose from de-175, en-us-175"):
        load("../x")


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"{", "not JSON"),
        (b"\xff\xfe", "not JSON"),
        (b"[" * 100_000, "not JSON"),
        (b"[]", "one JSON object"),
        (json.dumps(GOOD | {"lengths": {}}).encode(), "lengths: an object"),
        (json.dumps(GOOD | {"lengths": {"Brake later": "0.6"}}).encode(), "'Brake later' is '0.6'"),
        (json.dumps(GOOD | {"lengths": {"Brake later": True}}).encode(), "'Brake later' is True"),
        (json.dumps(GOOD | {"lengths": {"Brake later": float("nan")}}).encode(), "'Brake later' is nan"),
        (json.dumps(GOOD | {"lengths": {"Brake later": 0}}).encode(), "seconds above 0"),
        (json.dumps(GOOD | {"rate": None}).encode(), "rate: whole words"),
        (json.dumps(GOOD | {"voice": 3}).encode(), "voice: text"),
    ],
)
def test_a_file_that_is_no_table_says_what_is_wrong_in_one_line(content: bytes, says: str) -> None:
    with pytest.raises(FormatError) as caught:
        read("made", content)
    assert says in str(caught.value)
    assert "table of lengths made: " in str(caught.value)
    assert "\n" not in str(caught.value)


def test_speech_is_from_the_first_sound_to_the_last() -> None:
    quiet, loud = [0, 50, -80] * 100, [0, 9000, -9000, 0, 9000]
    assert speech_seconds(quiet + loud * 20 + [0] * 500 + loud + quiet, 1000) == pytest.approx(0.604)
    assert speech_seconds(quiet, 1000) == 0.0
    assert speech_seconds([], 1000) == 0.0


def test_the_longest_of_both_orders_counts_rounded_up() -> None:
    said: list[str] = []

    def say(phrase: str) -> list[int]:
        said.append(phrase)
        return [9000] * (601 + said.count(phrase)) if phrase in "ab" else [9000]

    assert measure(["a", "b", "a"], say, 1000) == {"a": 0.61, "b": 0.61}
    assert said[-4:] == ["a", "b", "b", "a"]
    assert measure(["c"], lambda _: [9000] * 600, 1000) == {"c": 0.6}
    with pytest.raises(WorkError, match="'d' came out silent"):
        measure(["d"], lambda _: [0] * 100, 1000)


def run(arguments: list[str], phrases: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "voice.measure_lengths", *arguments]
    return subprocess.run(command, input=phrases, capture_output=True, text=True, timeout=60, check=False)


def test_measuring_again_gives_what_was_shipped(tmp_path: Path) -> None:
    """1.32: "Brake later" 0.64 s at 175 words a minute, measured elsewhere with another voice file."""
    out = tmp_path / "again.json"
    done = run([str(out)], "Brake later\nThrottle sooner, turn four\n\n")
    if done.returncode == 1 and "no library" in done.stderr:
        pytest.skip("neither espeak-ng nor espeakng-loader is installed")
    assert (done.returncode, done.stderr) == (0, "")
    again = read("again", out.read_bytes())
    assert again.name == "again"
    shipped = load().lengths
    assert again.lengths == pytest.approx({text: shipped[text] for text in again.lengths}, abs=0.06)
    assert again.lengths["Brake later"] == pytest.approx(0.64, abs=0.06)


@pytest.mark.parametrize(
    ("arguments", "phrases", "says"),
    [
        (["OUT"], " \n", "standard input: no phrase in it"),
        (["OUT", "--phrases", "/no/such/file"], "", "/no/such/file: cannot be read"),
        (["OUT", "--rate", "9"], "a\n", "rate: 9 words a minute"),
    ],
)
def test_wrong_input_is_one_line_and_exit_code_two(
    arguments: list[str], phrases: str, says: str, tmp_path: Path
) -> None:
    done = run([str(tmp_path / "t.json") if word == "OUT" else word for word in arguments], phrases)
    assert done.returncode == 2
    assert says in done.stderr
    assert done.stderr.count("\n") == 1
