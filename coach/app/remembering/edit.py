"""`memory note`, `setup`, `name`, `forget` and `choose`: small changes, each told in one line."""

from __future__ import annotations

from coach.app.config import ChooseOptions, ForgetOptions, NameOptions, NoteOptions, SetupOptions
from coach.app.console import Console, plain
from coach.app.remembering.naming import BEST, checked_name
from coach.app.remembering.opening import opened
from coach.app.remembering.which import LABEL, described, find_lap, labels_of, lap_of, names, session_of, ways_to_use
from coach.app.stop import Stop
from coach.app.telling.numbers import counted
from coach.store.memory import Memory
from coach.store.rows import LapRow
from coach.vocabulary.errors import InputError
from coach.vocabulary.laptime import lap_time

Whose = tuple[str | None, str | None, str | None]
"""Driver, car and track."""


def note(options: NoteOptions, console: Console, stop: Stop) -> str:
    """Write a note to a session. InputError where there is none of that number."""
    text = _one_line(options.text)
    with opened(options.memory, console) as memory:
        number = session_of(memory, options.session).id
        memory.note(number, text)
    return f"Session {number}: {text}\n" if text else f"Session {number} has no note any more.\n"


def setup(options: SetupOptions, console: Console, stop: Stop) -> str:
    """Say with which setup a session was driven. InputError where there is none of that number."""
    label = _one_line(options.label)
    with opened(options.memory, console) as memory:
        number = session_of(memory, options.session).id
        memory.set_up(number, label)
    return f"Session {number} was driven with the setup {label}.\n" if label else f"Session {number} has no setup.\n"


def name(options: NameOptions, console: Console, stop: Stop) -> str:
    """Give a lap a name, or take it away. InputError, with the reason, for a name that means something else."""
    with opened(options.memory, console) as memory:
        row = lap_of(memory, options.lap)
        if not options.label.strip():
            memory.name(row.id, None)
            return f"{_began(described(row))} has no name any more.\n"
        label = checked_name(options.label, [taken for taken in names(memory) if taken != row.name])
        memory.name(row.id, label)
        row = lap_of(memory, str(row.id))
    return "\n".join([f"{_began(described(row))}.", *ways_to_use(row)]) + "\n"


def forget(options: ForgetOptions, console: Console, stop: Stop) -> str:
    """Delete a session with its laps, or one lap; says so where the reference becomes another."""
    with opened(options.memory, console) as memory:
        if options.session is not None:
            session = session_of(memory, options.session)
            whose = (session.driver, session.car, session.track)
            before = _reference(memory, whose)
            memory.forget_session(session.id)
            told = f"Session {session.id} is forgotten, with {counted(session.laps, 'lap')}."
        else:
            row = lap_of(memory, options.lap or "")
            whose = (_who_drives(memory, row), row.car, row.track)
            before = _reference(memory, whose)
            memory.forget_lap(row.id)
            told = f"{_began(described(row))} {_gone(memory, row)}."
        after = _reference(memory, whose)
    if before is None or before == after:
        return f"{told}\n"
    return f"{told}\n{_from_now_on(after, whose)}\n"


def choose(options: ChooseOptions, console: Console, stop: Stop) -> str:
    """Make a lap, or "best", the best clean one, the reference from now on. InputError for a lap without channels."""
    with opened(options.memory, console) as memory:
        if options.lap.strip().casefold() == BEST:
            whose = _whose(memory, options)
            memory.choose_best(*whose)
            return f"{_from_now_on(_reference(memory, whose), whose)}\n"
        row = lap_of(memory, options.lap)
        if not row.whole:
            raise InputError(f"{described(row)} has no channels, so nothing can be measured against it: choose another")
        memory.choose(row.id)
    where = labels_of(row.track, row.car, None).removesuffix(", a driver without a name")
    mind = "" if row.clean else " It was not clean, so its time may not be one to aim for."
    return f"{_began(described(row))} is the reference from now on: {where}.{mind}\n"


def _who_drives(memory: Memory, row: LapRow) -> str | None:
    """Whose reference a lap may be: its driver's, or of one that was handed on, that of whoever drove there last."""
    drives = memory.sessions(None, row.car, row.track) if row.session is None else []
    return drives[0].driver if drives else row.driver


def _gone(memory: Memory, row: LapRow) -> str:
    if find_lap(memory, str(row.id)) is None:
        return "is forgotten"
    return "has lost its channels" + ("" if row.name is None else " and its name")


def _whose(memory: Memory, options: ChooseOptions) -> Whose:
    """What is given, the rest as in the newest session that fits it. InputError where none does."""
    rows = memory.sessions(options.driver, options.car, options.track)
    if not rows:
        given = [label for label in (options.driver, options.car, options.track) if label is not None]
        which = f" of {', '.join(plain(label, LABEL) for label in given)}" if given else ""
        raise InputError(f"no session{which} is kept, so there is no best lap: `cornerword memory sessions` lists them")
    return rows[0].driver, rows[0].car, rows[0].track


def _reference(memory: Memory, whose: Whose) -> tuple[str, float] | None:
    """What a drive of these three begins with: what it is called, and its time in s."""
    known = memory.recall(*whose).known
    return None if known is None or known.reference is None else (known.origin, known.reference.total)


def _from_now_on(found: tuple[str, float] | None, whose: Whose) -> str:
    driver, car, track = whose
    where = labels_of(track, car, driver)
    if found is None:
        return f"There is no reference for {where} now: the next drive sets its own."
    return f"The reference is now {plain(found[0], LABEL)}, {lap_time(found[1])}: {where}."


def _one_line(text: str) -> str:
    """On one line, and nothing in it that no screen shows."""
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())


def _began(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]
