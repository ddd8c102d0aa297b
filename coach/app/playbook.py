"""`playbook`: check an instructor's file, say what is in it, list how long its phrases take, speak them through."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import closing
from textwrap import wrap

from coach.app import settings
from coach.app.aloud import said
from coach.app.config import PlaybookOptions, Presenting
from coach.app.console import Console, plain, words
from coach.app.stage import opened_voice
from coach.app.stop import Stop
from coach.planner import rules
from coach.planner.lengths import PhraseLengths
from coach.planner.phrases import Phrases, everything
from coach.planner.playbook import CarClass, Playbook
from coach.playbook.load import default_in, load
from coach.vocabulary.errors import WorkError
from coach.vocabulary.faults import FAULTS
from voice import lengths

COLUMNS = 80
"""Most characters of a line."""
WANTED = 1.5
"""s that a phrase should take at most (choice, from the lengths of common cues)."""
PAUSE = 0.6
"""s between two phrases that are spoken through: above what a device takes to begin (choice)."""
SAMPLE_CORNER, SAMPLE_COUNTS = 4, (1, 5)
"""What stands for every corner and count where phrases are spoken through: all of them would take two hours."""
SAMPLE_GAIN = 0.2
"""s that something gained or cost, in what is spoken through."""
NOT_MEASURED = (*lengths.names(), lengths.ESTIMATED)
"""Names of tables that no voice was measured for here: where its table has one of these, nothing could be rendered."""
_TAB = 12


def playbook(options: PlaybookOptions, console: Console, stop: Stop) -> str:
    """What `options` ask for, as text. InputError for a file that is not right; WorkError where nothing can speak."""
    checked = load(options.file)
    if not checked.first and not any(checked.order):
        console.say("playbook: neither order nor first names a fault, so nothing is coached: name some")
    text = "".join(f"{line}\n" for line in described(checked))
    if options.lengths:
        text += "\n" + "".join(f"{line}\n" for line in measured(checked))
    if options.speak:
        text += f"\n{_speak(checked, console, stop)}\n"
    return text


def described(playbook: Playbook) -> Iterator[str]:
    """What a playbook decides, in lines of at most 80 characters."""
    language = playbook.language
    yield from _entry("playbook", plain(playbook.name, COLUMNS - _TAB))
    yield from _entry("language", f"{language.code}, voice {plain(language.voice or 'of the system')}")
    yield from _entry("pupil", playbook.pupil)
    yield from _entry("first", _faults(playbook.first))
    for place, group in enumerate(playbook.order, start=1):
        yield from _entry(f"group {place}", _faults(group))
    left_out = [fault for fault in FAULTS if not playbook.coaches(fault)]
    if left_out:
        yield from _entry("not coached", _faults(left_out))
    shipped = default_in(language.code).language.wordings
    for fault, wording in language.wordings.items():
        if wording != shipped[fault]:
            yield from _entry("words", f"{words(fault)}: {', '.join(wording.say)}; {wording.short}")
    yield from _entry("talk", ", ".join(_talk(playbook)))
    yield from _entry("silence", ", ".join(_silence(playbook)))
    for track, names in playbook.corners.items():
        named = ", ".join(f"{number} {name}" for number, name in sorted(names.items()))
        yield from _entry("corners", f"{plain(track)}: {named or 'none'}")
    for one in playbook.cars:
        yield from _entry("cars", _cars(one))


def measured(playbook: Playbook) -> Iterator[str]:
    """Each phrase with the seconds that it takes."""
    table = lengths.for_voice(playbook.language.voice)
    known = PhraseLengths(table.lengths)
    yield f"s of speech by the table {table.name}: ~ estimated, + over {WANTED:g}, ++ over {rules.LONGEST:g}."
    yield "What is ++ gives way to a shorter wording where there is one."
    total = over_wanted = over_longest = estimated = 0
    for text in everything(playbook):
        seconds = known.of(text)
        mark = "++" if seconds > rules.LONGEST else "+" if seconds > WANTED else ""
        yield f"{'' if text in table.lengths else '~':1}{seconds:5.2f} {mark:2} {text}"
        total += 1
        over_wanted += mark != ""
        over_longest += mark == "++"
        estimated += text not in table.lengths
    over = f"{over_wanted} over {WANTED:g} s, {over_longest} over {rules.LONGEST:g} s"
    yield f"{total} phrases: {estimated} estimated, {over}"


def samples(playbook: Playbook) -> list[str]:
    """Each phrase once, one corner standing for all corners, and one fault for all whose corner is named.

    The corners that have names are all there.
    """
    said = Phrases(playbook)
    coached = [fault for fault in FAULTS if playbook.coaches(fault)][:1]
    found = [*said.anywhere(), *_at(said, coached, [SAMPLE_CORNER])]
    for track, names in playbook.corners.items():
        found += _at(Phrases(playbook, track), coached, sorted(names))
    found += [text for n in SAMPLE_COUNTS for text in (said.fuel(n), said.laps(n), said.minutes(n))]
    found += [text for fault in coached for text in said.mended(fault, SAMPLE_GAIN)]
    best = said.best(SAMPLE_GAIN)
    return list(dict.fromkeys(found if best is None else [*found, best]))


def _at(said: Phrases, faults: Iterable[str], corners: Iterable[int]) -> Iterator[str]:
    for corner in corners:
        for fault in faults:
            yield said.correction(fault, None, corner)[0]
            yield said.reminder(fault, corner)[0]
        costs = said.costs(corner, SAMPLE_GAIN)
        if costs is not None:
            yield costs


def _speak(playbook: Playbook, console: Console, stop: Stop) -> str:
    """Speak the samples in the voice that the person's settings choose; returns how far it came.

    WorkError where there is no device or no speech.
    """
    texts, told = samples(playbook), list[str]()
    voice = opened_voice(Presenting(), settings.read().voice, playbook, texts, told.append, stop)
    with closing(voice):
        while not voice.wait(PAUSE) and not stop.asked:
            pass
        table, spoken = voice.table, 0
        for text in texts:
            _check(voice.is_silent or table.name in NOT_MEASURED, told)
            if stop.asked:
                break
            console.say(text)
            voice.take(said(text, "correction"))
            stop.sleep(table.lengths.get(text, rules.LONGEST) + PAUSE)
            spoken += not stop.asked
        _check(voice.is_silent, told)
    for line in told:
        console.say(line)
    return f"spoken: {spoken} of {len(texts)} phrases" + (", then stopped" if stop.asked else "")


def _check(failed: bool, told: list[str]) -> None:
    if failed:
        why = told[-1].removeprefix("voice: ") if told else "no sound device: connect one, and start again"
        raise WorkError(f"nothing can be spoken: {why}")


def _talk(playbook: Playbook) -> Iterator[str]:
    talk = playbook.talk
    yield f"at most {_many(talk.corrections, 'correction')} a lap, and as many of what is worked on"
    yield f"what happened once from {talk.one_off:g} s"
    for on, what in ((talk.reminders, "reminders"), (talk.focus, "the next topic"), (talk.praise, "praise")):
        yield what if on else f"no {what.removeprefix('the ')}"
    yield f"a summary every {talk.summary_every} laps" if talk.summary_every else "no summary"
    yield "less as it improves" if talk.fade else "as often as it happens"
    if talk.alternate:
        yield "every other lap without a word"


def _silence(playbook: Playbook) -> Iterator[str]:
    silence = playbook.silence
    yield "in a race" if silence.race else "not in a race"
    if silence.first_laps:
        yield f"on the first {silence.first_laps} laps of a run" if silence.first_laps > 1 else "on a run's first lap"
    yield f"{silence.after_incident:g} s after an incident"


def _cars(one: CarClass) -> str:
    least = [f"{words(fault)} from {size:g} {FAULTS[fault].unit}" for fault, size in one.least.items()]
    net = [] if one.net is None else [f"losses from {one.net:g} s"]
    patterns = ", ".join(plain(pattern) for pattern in one.cars)
    return f"{plain(one.name)} ({patterns}): {', '.join([*least, *net]) or 'as all others'}"


def _faults(names: Iterable[str]) -> str:
    return ", ".join(map(words, names)) or "none"


def _many(count: int, what: str) -> str:
    return f"{count} {what}" + ("" if count == 1 else "s")


def _entry(key: str, text: str) -> list[str]:
    return wrap(text, COLUMNS, initial_indent=f"{key:{_TAB}}", subsequent_indent=" " * _TAB)
