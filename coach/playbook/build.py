"""The playbook from its layers: the default, the language, and an instructor's own file over both."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar

from coach.planner.playbook import AUTO, CarClass, Language, Playbook, Sentences, Silence, Step, Talk, Wording
from coach.playbook.schema import (
    PLACEHOLDERS,
    CarTable,
    GainStep,
    LanguageFile,
    PlaybookFile,
    SizeStep,
    Table,
    WordingTable,
    dotted,
)
from coach.playbook.text import check_braces
from coach.vocabulary.faults import FAULTS
from coach.vocabulary.stages import STAGES

PRESETS = {
    "few": Talk(corrections=1, one_off=0.15, reminders=False, summary_every=0),
    "some": Talk(),
    "many": Talk(corrections=6, one_off=0.03, fade=False),
}
"""How much is said, by talkativeness (choice): few for who wants pace only, many for a first day with a circuit."""

Plain = TypeVar("Plain", Talk, Silence, Sentences)


def playbook(default: PlaybookFile, own: PlaybookFile, language: LanguageFile) -> Playbook:
    """`own` over `default`, spoken in `language`. Raises ValueError, `key: what, mend`."""
    talk = PRESETS[own.talkativeness or default.talkativeness or "some"]
    silence = Silence()
    for layer in (default, own):
        talk, silence = _over(talk, layer.talk), _over(silence, layer.silence)
    order = default.order if own.order is None else own.order
    first = default.first if own.first is None else own.first
    return Playbook(
        name=own.name or default.name or "unnamed",
        language=_language(language, default, own),
        order=tuple(tuple(group) for group in order or ()),
        first=tuple(first or ()),
        pupil=own.pupil or default.pupil or AUTO,
        talk=talk,
        silence=silence,
        corners=_corners(default, own),
        cars=tuple(_car_class(one) for one in own.cars or default.cars),
        stage=own.stage or default.stage,
    )


def check_templates(playbook: Playbook) -> None:
    """Raises ValueError, `key: what, mend`, for what would fail when it is spoken."""
    language = playbook.language
    if playbook.stage is not None and playbook.stage not in STAGES:
        raise ValueError(f"stage: none is called {playbook.stage[:40]!r}: choose from {', '.join(STAGES)}")
    for name, known in PLACEHOLDERS.items():
        _braces(f"language.sentences.{name}", getattr(language.sentences, name), known)
    _braces("language.turn", language.turn, ("number",))
    for fault, wording in language.wordings.items():
        key = f"language.wordings{dotted('', fault)}"
        if not wording.say:
            raise ValueError(f"{key}.say: nothing stands in it")
        for place, said in enumerate(wording.say):
            _braces(f"{key}.say[{place}]", said, ("size",))
    for fault in (*playbook.first, *(fault for group in playbook.order for fault in group)):
        if fault not in language.wordings:
            raise ValueError(f"language.wordings: there is none for {fault[:40]!r}")


def _language(file: LanguageFile, default: PlaybookFile, own: PlaybookFile) -> Language:
    layers = (file, default, own)
    sentences = {name: text for layer in layers for name, text in _given(layer.sentences)}
    lacking = [f"sentences.{field.name}" for field in fields(Sentences) if field.name not in sentences]
    wordings: dict[str, dict[str, Any]] = {fault: {} for fault in FAULTS}
    for layer in layers:
        for fault, table in layer.wordings.items():
            wordings[fault] |= dict(_given(table))
    lacking += [f"wordings.{f}.{k}" for f, w in wordings.items() for k in WordingTable.model_fields if k not in w]
    gains = next((layer.gains for layer in reversed(layers) if layer.gains is not None), None)
    if gains is None:
        lacking.append("gains")
    if lacking:
        raise ValueError(f"{lacking[0]}: the language {file.code} lacks it: write it there")
    language = Language(
        code=file.code,
        voice=file.voice,
        turn=file.turn,
        numbers=tuple(file.numbers),
        wordings={f: Wording(tuple(w["say"]), w["short"], w["topic"]) for f, w in wordings.items()},
        sizes={unit: _steps(scale) for layer in layers for unit, scale in layer.sizes.items()},
        gains=_steps(gains or ()),
        sentences=Sentences(**sentences),
    )
    _check_wordings(language, own)
    return language


def _check_wordings(language: Language, own: PlaybookFile) -> None:
    """No two faults may sound the same, and where a size is spoken there has to be a scale for it."""
    said: dict[str, str] = {}
    for fault in sorted(language.wordings, key=lambda fault: fault in own.wordings):  # errors are the own file's
        wording = language.wordings[fault]
        for key, text in _texts(fault, wording):
            unit = FAULTS[fault].unit
            if "{size}" in text and unit not in language.sizes:
                raise ValueError(f"{key}: {{size}}, but there is no scale sizes{dotted('', unit)}: leave it out")
            plain = " ".join(text.replace("{size}", "").casefold().split())
            if said.setdefault(plain, fault) != fault:
                raise ValueError(f"{key}: {text!r} is what {said[plain]} says too: find other words for one of them")


def _texts(fault: str, wording: Wording) -> Iterator[tuple[str, str]]:
    for place, text in enumerate(wording.say):
        yield f"wordings.{fault}.say[{place}]", text
    yield f"wordings.{fault}.short", wording.short


def _corners(default: PlaybookFile, own: PlaybookFile) -> dict[str, dict[int, str]]:
    corners: dict[str, dict[int, str]] = {}
    for layer in (default, own):
        for track, names in layer.corners.items():
            corners.setdefault(track, {}).update((int(number), name) for number, name in names.items())
    return corners


def _car_class(table: CarTable) -> CarClass:
    return CarClass(table.name, tuple(table.cars), dict(table.least), table.net)


def _steps(scale: Sequence[SizeStep] | Sequence[GainStep]) -> tuple[Step, ...]:
    return tuple(Step(step.words, step.below) for step in scale)


def _over(under: Plain, table: Table) -> Plain:
    return replace(under, **dict(_given(table)))


def _given(table: Table) -> Iterator[tuple[str, Any]]:
    return ((name, value) for name, value in table if value is not None)


def _braces(key: str, text: str, known: tuple[str, ...]) -> None:
    try:
        check_braces(text, known)
    except ValueError as error:
        raise ValueError(f"{key}: {error}") from None
