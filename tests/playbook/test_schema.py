"""What is wrong in a playbook is one line: the file, the key as TOML writes it, and the mend."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from playbook.written import loaded, written

from coach.playbook.load import load
from coach.toml.reading import LARGEST
from coach.vocabulary.errors import FormatError, InputError
from coach.vocabulary.faults import FAULTS

WRONG = [
    # keys
    ("talking = 1", "no key is called 'talking' here; did you mean talk?", "talking"),
    ("[talk]\nreminder = true", "did you mean reminders?", "talk.reminder"),
    ("[silence]\nbox = true", "choose from race, first_laps, after_incident", "silence.box"),
    ('"a key" = 1', "no key is called 'a key' here", '"a key"'),
    ("[wordings.late_throtle]\nshort = 'x'", "no fault is called 'late_throtle' here; did you mean late_throttle?",
     "wordings.late_throtle"),
    ("[wordings.spin]\nsays = []", "did you mean say?", "wordings.spin.says"),
    ("[sentences]\nbests = 'x'", "did you mean best?", "sentences.bests"),
    ("[sizes]\nkm = [{ words = 'far' }]", "no fault is measured in 'km' here", "sizes.km"),
    ("[[cars]]\nname = 'a'\ncars = ['b']\nleasts = {}", "did you mean least?", "cars[0].leasts"),
    ("[[cars]]\nname = 'a'\ncars = ['b']\nleast = { spins = 1 }", "did you mean spin?", "cars[0].least.spins"),
    ("[corners.A]\nfour = 'x'", "a corner's number is needed, 1 to 999", "corners.A.four"),
    ("[corners.A]\n0 = 'x'", "a corner's number is needed, 1 to 999", "corners.A.0"),
    ('[corners."A B"]\n04 = "x"', "a corner's number is needed, 1 to 999", 'corners."A B".04'),
    # faults
    ("order = [['spin'], ['late_braking', 'spine']]", "no fault is called 'spine'; did you mean spin?", "order[1][1]"),
    ("first = ['lockup']", "did you mean lock_up?", "first[0]"),
    ("first = ['zzz']", "choose from early_braking", "first[0]"),
    ("order = [['spin', 'coasting'], ['coasting']]", "coasting stands at order[0][1] already", "order[1][0]"),
    ("order = [['coasting', 'coasting']]", "coasting stands at order[0][0] already", "order[0][1]"),
    ("first = ['spin', 'spin']", "spin stands in it already", "first[1]"),
    ("order = [[]]", "at least 1 must stand in it", "order[0]"),
    # kinds
    ("order = 3", "a list in [ ] is needed, not 3", "order"),
    ("order = ['spin']", "a list in [ ] is needed, not 'spin'", "order[0]"),
    ("first = [3]", "text in quotes is needed, not 3", "first[0]"),
    ("name = true", "text in quotes is needed, not true", "name"),
    ("name = ''", "text with at least 1 character is needed", "name"),
    ('name = "a\\nb"', "has a line break or a control character", "name"),
    ("talk = 3", "a table is needed, not 3", "talk"),
    ("talk = [1]", "a table is needed, not a list", "talk"),
    ("wordings = 1", "a table is needed, not 1", "wordings"),
    ("[wordings]\nspin = 1", "a table is needed, not 1", "wordings.spin"),
    ("[talk]\nreminders = 'yes'", "true or false is needed, without quotes, not 'yes'", "talk.reminders"),
    ("[talk]\ncorrections = 2.5", "a whole number is needed, not 2.5", "talk.corrections"),
    ("[talk]\ncorrections = true", "a whole number is needed, not true", "talk.corrections"),
    ("[talk]\ncorrections = -1", "a number of 0 or more is needed, not -1", "talk.corrections"),
    ("[talk]\none_off = nan", "a finite number is needed, not nan", "talk.one_off"),
    (f"[talk]\none_off = {'9' * 400}", "a number is needed, not so long a number", "talk.one_off"),
    (f"[talk]\nsummary_every = 0x{'f' * 5000}", "a number of 1000 or less is needed, not so long a number",
     "talk.summary_every"),
    (f"pupil = 0x{'f' * 5000}", "so long a number is none of its values; choose from auto", "pupil"),
    (f"name = 0x{'f' * 5000}", "text in quotes is needed, not so long a number", "name"),
    (f"gains = [{{ below = 0x{'f' * 5000}, words = 'a' }}, {{ words = 'b' }}]", "a number is needed",
     "gains[0].below"),
    ("[talk]\none_off = inf", "a finite number is needed, not inf", "talk.one_off"),
    ("[talk]\none_off = 1979-05-27", "a number is needed, not ", "talk.one_off"),
    ("[talk]\nsummary_every = 2", "a summary comes every 3 laps or more, or 0 for none", "talk.summary_every"),
    ("[silence]\nafter_incident = 1e9", "a number of 600 or less is needed", "silence.after_incident"),
    ("pupil = 'beginer'", "'beginer' is none of its values; did you mean beginner?", "pupil"),
    ("talkativeness = 'lots'", "choose from few, some, many", "talkativeness"),
    ("language = 'xx'", "there is none called 'xx'; choose from de, en", "language"),
    ("[[cars]]\nname = 'a'", "it is missing", "cars[0].cars"),
    ("[[cars]]\nname = 'a'\ncars = []", "at least 1 must stand in it", "cars[0].cars"),
    ("[[cars]]\nname = 'a'\ncars = ['b']\nleast = { spin = 0 }", "a number above 0 is needed", "cars[0].least.spin"),
    # texts
    ("[wordings.spin]\nsay = []", "at least 1 must stand in it", "wordings.spin.say"),
    ("[wordings.spin]\nsay = ['Keep it', 'one two three four five']", "has 5 words: 4 at most", "wordings.spin.say[1]"),
    ("[wordings.spin]\nshort = 'one two three four'", "has 4 words: 3 at most", "wordings.spin.short"),
    ("[wordings.spin]\ntopic = 'one two three four'", "has 4 words: 3 at most", "wordings.spin.topic"),
    ("[wordings.spin]\nshort = ' - '", "has no word in it", "wordings.spin.short"),
    ("[wordings.spin]\nshort = ''", "has no word in it", "wordings.spin.short"),
    ('[wordings.spin]\nshort = "a\\tb"', "has a line break or a control character", "wordings.spin.short"),
    (f"[wordings.spin]\nshort = '{'a' * 41}'", "has 41 characters, more than the 40", "wordings.spin.short"),
    ("[wordings.spin]\nsay = ['Slow {sise}']", "{sise} stands for nothing here; did you mean {size}?",
     "wordings.spin.say[0]"),
    ("[wordings.spin]\nshort = 'Slow {size}'", "{size} stands for nothing here; leave it out", "wordings.spin.short"),
    ("[wordings.spin]\nsay = ['Slow {size']", "a brace without its other half", "wordings.spin.say[0]"),
    ("[wordings.spin]\nsay = ['Slow {size!r}']", "did you mean {size}?", "wordings.spin.say[0]"),
    ("[wordings.spin]\nsay = ['{size} slower']", '{size}, but there is no scale sizes.rad', "wordings.spin.say[0]"),
    ("[wordings.lock_up]\nsay = ['{size} less brake on']", "there is no scale sizes.slip", "wordings.lock_up.say[0]"),
    ("[wordings.soft_braking]\nsay = ['Brake {size} harder']", 'no scale sizes."m/s2"', "wordings.soft_braking.say[0]"),
    ("[sentences]\nnamed = '{phrase}'", "lacks {corner}: put it where", "sentences.named"),
    ("[sentences]\nfuel = 'Fuel for a while'", "lacks {number}", "sentences.fuel"),
    ("[sentences]\nwithin = 'All {number} good'", "{number} stands for nothing here; leave it out", "sentences.within"),
    ("[sentences]\nbest = 'By {gains}'", "did you mean {gain}?", "sentences.best"),
    ("[sentences]\nfocus = 'From now on we do {phrase}'", "has 5 words: 4 at most", "sentences.focus"),
    ("[corners.A]\n4 = 'the very long hairpin'", "has 4 words: 3 at most", "corners.A.4"),
    # the same in two faults
    ("[wordings.spin]\nshort = 'Brake later'", "'Brake later' is what early_braking says too", "wordings.spin.short"),
    ("[wordings.spin]\nsay = ['brake  LATER']", "'brake LATER' is what early_braking says too", "wordings.spin.say[0]"),
    ("[wordings.early_braking]\nsay = ['Brake sooner']", "is what late_braking says too",
     "wordings.early_braking.say[0]"),
    ("[wordings.late_throttle]\nsay = ['Brake {size} later']", "is what early_braking says too",
     "wordings.late_throttle.say[0]"),
    # scales
    ("[sizes]\nm = []", "at least 1 must stand in it", "sizes.m"),
    ("[sizes]\nm = [{ below = 3, words = 'a' }]", "leave `below` out", "sizes.m[0].below"),
    ("[sizes]\nm = [{ words = 'a' }, { words = 'b' }]", "only the last step goes without `below`", "sizes.m[0]"),
    ("[sizes]\nm = [{ below = 3, words = 'a' }, { below = 2, words = 'b' }, { words = 'c' }]",
     "2 follows 3, but a scale ascends", "sizes.m[1].below"),
    ("[sizes]\nm = [{ below = 3, words = 'a' }, { below = 3, words = 'b' }, { words = 'c' }]",
     "3 follows 3, but a scale ascends", "sizes.m[1].below"),
    ("[sizes]\nm = [{ below = -1, words = 'a' }, { words = 'c' }]", "a number above 0 is needed", "sizes.m[0].below"),
    ("[sizes]\nm = [{ words = '' }]", "has no word in it", "sizes.m[0].words"),
    ("[sizes]\nm = [{ words = 'one two three four' }]", "has 4 words: 3 at most", "sizes.m[0].words"),
    ("[sizes]\n'm/s' = 3", "a list in [ ] is needed", 'sizes."m/s"'),
    ("gains = [{ below = 1, words = 'a' }]", "leave `below` out", "gains[0].below"),
    ("gains = [{ word = 'a' }]", "did you mean words?", "gains[0].word"),
]  # fmt: skip


@pytest.mark.parametrize(("content", "says", "key"), WRONG)
def test_one_line_names_file_key_and_mend(tmp_path: Path, content: str, says: str, key: str) -> None:
    with pytest.raises(FormatError) as caught:
        loaded(tmp_path, content)
    line = str(caught.value)
    assert line.startswith(f"playbook {tmp_path / 'mine.toml'}: {key}: ")
    assert says in line
    assert "\n" not in line


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"a = \n", "not TOML: Invalid value (at line 1, column 5)"),
        (b"name = 'a'\nname = 'b'\n", "line 2"),
        (b"a = '\xff'", "not UTF-8 text at byte 5; save it as UTF-8"),
        (b"\x00", "not TOML"),
        (b"a = " + b"[" * 100_000, "not TOML"),
        (b"a = " + b"9" * 10_000, "not TOML"),
        (b"#" * (LARGEST + 1), "over 1 MB"),
    ],
)
def test_what_is_no_toml_is_one_line(tmp_path: Path, content: bytes, says: str) -> None:
    with pytest.raises(FormatError) as caught:
        loaded(tmp_path, content)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 500


def test_a_file_that_cannot_be_read_says_why(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"nowhere\.toml: cannot be read \(No such file or directory\); name a TOML"):
        load(str(tmp_path / "nowhere.toml"))
    with pytest.raises(InputError, match="cannot be read"):
        load(str(tmp_path))
    with pytest.raises(InputError, match="no name of a file"):
        load("a\0b")
    with pytest.raises(InputError, match=r"playbook 'a\\nb': cannot be read"):
        load("a\nb")


def test_a_long_name_does_not_make_a_long_line(tmp_path: Path) -> None:
    for content in (f"first = ['{'x' * 9000}']", f"{'x' * 9000} = 1", f"[corners.{'x' * 9000}]\na = 'b'"):
        with pytest.raises(FormatError) as caught:
            loaded(tmp_path, content)
        assert len(str(caught.value)) < len(str(tmp_path)) + 600


KEYS = st.sampled_from(
    [
        *("name", "language", "order", "first", "talk", "silence", "corners", "cars", "wordings", "sentences", "sizes"),
        *("gains", "pupil", "talkativeness", "say", "short", "below", "words", "m", "4", "least", *FAULTS),
    ]
)
VALUES = st.one_of(
    *(
        st.booleans().map(lambda on: str(on).lower()),
        st.integers().map(str),
        st.sampled_from(["nan", "1e400", "0x" + "f" * 5000]),
    ),
    *(
        st.floats(allow_nan=False, allow_infinity=False).map(repr),
        st.sampled_from(["[]", "{}", "07:32:00", "'{size}'"]),
    ),
    st.text(st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="'\\\u2028\u2029"), max_size=50).map(
        lambda text: f"'{text}'"
    ),
    st.sampled_from([f"'{fault}'" for fault in FAULTS]),
)
NESTED = st.recursive(
    VALUES,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda items: f"[{', '.join(items)}]"),
        st.dictionaries(KEYS, inner, max_size=3).map(
            lambda pairs: "{ " + ", ".join(f"{key} = {value}" for key, value in pairs.items()) + " }"
        ),
    ),
    max_leaves=8,
)
TABLES = st.dictionaries(KEYS, NESTED, max_size=4).map(
    lambda pairs: "\n".join(f"{key} = {value}" for key, value in pairs.items()).encode()
)


@given(
    content=st.one_of(
        TABLES, st.binary(max_size=200), st.text(max_size=200).map(lambda t: t.encode("utf-8", "replace"))
    )
)
@settings(max_examples=150, deadline=None)
def test_any_bytes_are_a_playbook_or_one_line(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    path = written(tmp_path_factory.mktemp("fuzz"), content)
    try:
        load(str(path))
    except InputError as error:
        assert "\n" not in str(error)
        assert str(error).startswith(f"playbook {path}: ")
