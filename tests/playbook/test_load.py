"""The default, a file laid over it, and what a recording's head gives back."""

from __future__ import annotations

import copy
import json
import os
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from playbook.written import loaded, written

from coach.planner.phrases import Phrases
from coach.planner.playbook import CarClass, Playbook, Sentences, Silence, Step, Talk
from coach.playbook.load import languages, load, read
from coach.playbook.schema import PLACEHOLDERS, SentencesTable, SilenceTable, TalkTable
from coach.vocabulary.errors import FormatError, InputError
from coach.vocabulary.faults import FAULTS


def test_the_default_is_complete() -> None:
    default = load(None)
    assert sorted(default.language.wordings) == sorted(FAULTS)
    coached = [*default.first, *(fault for group in default.order for fault in group)]
    assert sorted(coached) == sorted(FAULTS)
    assert (default.talk, default.silence) == (Talk(), Silence())
    assert (default.pupil, default.language.code, default.corners, default.cars) == ("auto", "en", {}, ())


def test_what_hurts_comes_first_and_line_before_braking_before_speed() -> None:
    """The faults that the contract judges whatever they cost come first; the order of groups is common practice."""
    default = load(None)
    assert set(default.first) == {fault for fault, kind in FAULTS.items() if kind.whatever}
    assert default.group("missed_apex") < default.group("early_braking") < default.group("late_throttle")


@pytest.mark.parametrize(("table", "of"), [(TalkTable, Talk), (SilenceTable, Silence), (SentencesTable, Sentences)])
def test_the_file_has_every_key_that_the_planner_knows(table: Any, of: Any) -> None:
    assert sorted(table.model_fields) == sorted(field.name for field in fields(of))
    assert sorted(PLACEHOLDERS) == sorted(field.name for field in fields(Sentences))


def test_an_empty_file_changes_nothing_but_the_name_which_is_the_files(tmp_path: Path) -> None:
    mine = loaded(tmp_path, "")
    assert mine.name == written(tmp_path, "").stem
    assert replace(mine, name=load(None).name) == load(None)


def test_a_partial_file_is_laid_over_the_default(tmp_path: Path) -> None:
    default = load(None)
    mine = loaded(
        tmp_path,
        """
        name = "mine"
        pupil = "beginner"
        order = [["late_throttle"], ["early_braking", "late_braking"]]
        [talk]
        corrections = 1
        [silence]
        first_laps = 2
        [corners."Brack Mere"]
        4 = "the hairpin"
        [[cars]]
        name = "slow"
        cars = ["pellow s*"]
        least = { early_braking = 8 }
        [wordings.late_throttle]
        say = ["Power {size} sooner"]
        [sentences]
        within = "All good"
        [sizes]
        s = [{ words = "a bit" }]
        """,
    )
    assert (mine.name, mine.pupil) == ("mine", "beginner")
    assert mine.order == (("late_throttle",), ("early_braking", "late_braking"))  # a list takes a list's place
    assert mine.first == default.first
    assert not mine.coaches("missed_apex")
    assert mine.talk == Talk(corrections=1)
    assert mine.silence == Silence(first_laps=2)
    assert mine.corners == {"Brack Mere": {4: "the hairpin"}}
    assert mine.cars == (CarClass("slow", ("pellow s*",), {"early_braking": 8.0}, None),)
    late = mine.language.wordings["late_throttle"]
    assert late.say == ("Power {size} sooner",)
    assert (late.short, late.topic) == ("Throttle sooner", "Late throttle")
    assert mine.language.sentences.within == "All good"
    assert mine.language.sentences.focus == default.language.sentences.focus
    assert mine.language.sizes["s"] == (Step("a bit"),)
    assert mine.language.sizes["m"] == default.language.sizes["m"]
    assert Phrases(mine).correction("late_throttle", 0.4, None)[0] == "Power a bit sooner"
    assert Phrases(mine, "Brack Mere").correction("late_throttle", 0.4, 4)[0] == "Power sooner, the hairpin"


def test_talkativeness_is_a_preset_that_keys_override(tmp_path: Path) -> None:
    few, many = loaded(tmp_path, 'talkativeness = "few"').talk, loaded(tmp_path, 'talkativeness = "many"').talk
    assert few.corrections < Talk().corrections < many.corrections
    assert not few.reminders
    assert few.summary_every == 0
    both = loaded(tmp_path, 'talkativeness = "few"\n[talk]\nreminders = true\none_off = 0')
    assert (both.talk.reminders, both.talk.one_off, both.talk.corrections) == (True, 0.0, few.corrections)
    assert loaded(tmp_path, 'talkativeness = "some"').talk == Talk()


def test_a_language_is_chosen_by_its_code(tmp_path: Path) -> None:
    assert languages() == ["de", "en"]
    german = loaded(tmp_path, 'language = "de"\n[wordings.late_throttle]\nshort = "Eher Gas"')
    assert (german.language.code, german.language.voice) == ("de", "de")
    assert german.language.wordings["late_throttle"].short == "Eher Gas"
    assert german.order == load(None).order


def test_a_scale_and_gains_of_ones_own(tmp_path: Path) -> None:
    mine = loaded(tmp_path, 'gains = [{ below = 0.1, words = "" }, { words = "much time" }]')
    assert Phrases(mine).best(0.05) is None
    assert Phrases(mine).best(0.3) == "Best lap by much time"


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_recordings_head_gives_the_same_playbook(tmp_path: Path, language: str) -> None:
    content = f'language = "{language}"\n[corners."A"]\n4 = "Hof"\n[[cars]]\nname = "x"\ncars = ["*"]\nnet = 0.1'
    before = loaded(tmp_path, content)
    assert read(json.loads(json.dumps(before.to_json()))) == before


def test_keys_of_a_later_version_are_passed_over() -> None:
    plain = head()
    plain["later"] = plain["talk"]["later"] = 1
    assert read(plain) == load(None)


def test_keys_that_have_a_default_may_be_missing() -> None:
    plain = head()
    for key in ("pupil", "talk", "silence", "corners", "cars"):
        del plain[key]
    assert read(plain) == load(None)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda plain: plain.pop("order"), "playbook.order: it is missing"),
        (lambda plain: plain["talk"].update(corrections="3"), "playbook.talk.corrections: a whole number is needed"),
        (lambda plain: plain["silence"].update(after_incident=float("nan")), "not plain JSON"),
        (lambda plain: plain.update(first=[None]), "playbook.first[0]: text in quotes is needed"),
        (lambda plain: plain.update(corners={"A": {"four": "x"}}), "playbook.corners.A.four: "),
        (lambda plain: plain["language"].update(turn="turn {0.real}"), "language.turn: {0.real} stands for nothing"),
        (
            lambda plain: plain["language"]["sentences"].update(named="{phrase:>99999999}"),
            "language.sentences.named: {phrase:>99999999} stands for nothing here; did you mean {phrase}?",
        ),
        (lambda plain: plain["language"]["sentences"].update(best="by {gain"), "a brace without its other half"),
        (lambda plain: plain["language"]["wordings"]["spin"].update(say=[]), "language.wordings.spin.say: "),
        (lambda plain: plain["language"]["wordings"].pop("spin"), "language.wordings: there is none for 'spin'"),
    ],
)
def test_a_head_that_holds_something_else_is_one_line(change: Any, says: str) -> None:
    plain = head()
    change(plain)
    with pytest.raises(FormatError) as caught:
        read(plain)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("plain", [None, 3, "x", [], {}, {"name": "x"}, {1: object()}])
def test_what_is_no_playbook_at_all_is_one_line(plain: Any) -> None:
    with pytest.raises(FormatError) as caught:
        read(plain)
    assert str(caught.value).startswith("playbook")
    assert "\n" not in str(caught.value)


def head() -> dict[str, Any]:
    plain: dict[str, Any] = copy.deepcopy(json.loads(json.dumps(load(None).to_json())))
    return plain


def test_the_playbook_stays_small_in_a_head() -> None:
    assert isinstance(load(None), Playbook)
    assert len(json.dumps(load(None).to_json())) < 20_000


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_that_may_never_end_is_not_waited_for(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)
    with pytest.raises(InputError, match=r"pipe\.toml: it is a pipe, and may never end; name a TOML file"):
        load(str(pipe))
    with pytest.raises(InputError, match="playbook: no file is named"):
        load("")
