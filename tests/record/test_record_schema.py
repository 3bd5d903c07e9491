"""The tables of the record are frozen: keys and numbers are only ever added."""

import dataclasses
import json
from pathlib import Path

import pytest

import exam_app.record
from exam_app.domain.animal.signalment import Owner
from exam_app.domain.exam.exam import Exam
from exam_app.record.notes import Note
from exam_app.record.plain_form import field_types, is_evidence, without_none
from exam_app.record.schema import FIELD_KEYS, FORMS, WORD_ORDER
from tests.record_tiny import VECTORS

FROZEN = json.loads((VECTORS / "schema_1.json").read_text("utf-8"))
FORMAT = (Path(exam_app.record.__path__[0]) / "FORMAT.md").read_text("utf-8")


def classes_of(kind, seen):
    """Collect every dataclass and enum that a dataclass reaches."""
    if is_evidence(kind):
        for member in (m for m in kind.__args__ if m is not type(None)):
            classes_of(member, seen)
        return seen
    kind = without_none(kind)
    for argument in getattr(kind, "__args__", ()):
        classes_of(argument, seen)
    if dataclasses.is_dataclass(kind) and kind not in seen:
        seen.add(kind)
        for hint in field_types(kind).values():
            classes_of(hint, seen)
    elif isinstance(kind, type) and issubclass(kind, tuple(WORD_ORDER)):
        seen.add(kind)
    return seen


REACHED = set().union(*(classes_of(kind, set()) for kind in (Exam, Note, Owner)))


def test_every_field_an_exam_reaches_has_a_key():
    for kind in REACHED:
        if dataclasses.is_dataclass(kind) and kind.__name__ != "Moment":
            names = {field.name for field in dataclasses.fields(kind)}
            assert names == set(FIELD_KEYS[kind]), kind


@pytest.mark.parametrize("kind", FIELD_KEYS, ids=lambda kind: kind.__name__)
def test_no_key_stands_for_two_fields(kind):
    keys = list(FIELD_KEYS[kind].values())
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("kind", WORD_ORDER, ids=lambda kind: kind.__name__)
def test_every_word_has_one_number(kind):
    assert sorted(WORD_ORDER[kind]) == sorted(kind)
    assert len(set(WORD_ORDER[kind])) == len(WORD_ORDER[kind])


@pytest.mark.vector
def test_no_key_number_or_form_of_version_1_has_moved():
    # The stored table only ever gains: append to it what the tables gained.
    for kind, keys in FIELD_KEYS.items():
        for name, key in FROZEN["fields"].get(kind.__name__, {}).items():
            assert keys[name] == key, (kind, name)
    for kind, order in WORD_ORDER.items():
        frozen = FROZEN["words"].get(kind.__name__, [])
        assert [word.value for word in order][: len(frozen)] == frozen
    forms = {
        f"{kind.__name__}.{name}": form.name for (kind, name), form in FORMS.items()
    }
    assert forms.items() >= FROZEN["forms"].items()
    gone = FROZEN["fields"].keys() - {kind.__name__ for kind in FIELD_KEYS}
    assert not gone


def row_of(name):
    start = f"| {name} | "
    lines = [line for line in FORMAT.splitlines() if line.startswith(start)]
    return lines[0].removeprefix(start).removesuffix(" |").split(", ") if lines else []


@pytest.mark.parametrize("kind", FIELD_KEYS, ids=lambda kind: kind.__name__)
def test_every_key_is_written_down_in_the_format(kind):
    missing = {f"{key} {name}" for name, key in FIELD_KEYS[kind].items()}
    assert missing <= set(row_of(kind.__name__))


@pytest.mark.parametrize("kind", WORD_ORDER, ids=lambda kind: kind.__name__)
def test_every_word_is_written_down_in_the_format(kind):
    row = ", ".join(row_of(kind.__name__))
    for number, word in enumerate(WORD_ORDER[kind]):
        assert f"{number} {word.value}" in row


def test_first_keys_of_the_exam_are_those_written_down_in_the_format():
    # Spelled out once more, so that a wrong fingerprint cannot hide a moved key.
    assert list(FIELD_KEYS[Exam].items())[:4] == [
        ("exam_id", 1),
        ("animal", 2),
        ("scope", 3),
        ("setting", 4),
    ]
    assert FIELD_KEYS[Exam]["is_demo"] == 23
    assert FIELD_KEYS[Exam]["parent_hash"] == 29
