"""Arbitrary exams, notes and owners, drawn from the types of their fields."""

import dataclasses
from collections.abc import Mapping
from decimal import Decimal
from enum import Enum
from typing import get_args, get_origin

from hypothesis import strategies as st

from exam_app.domain.animal.body_marks import (
    BodyMark,
    CloserPlace,
    CloserView,
    MarkView,
    OwnSide,
)
from exam_app.domain.exam.exam import Closing, Exam
from exam_app.domain.exam.region_states import RegionEntry
from exam_app.domain.moments import Moment
from exam_app.record.plain_form import field_types, without_none
from exam_app.record.schema import FORMS, Form
from exam_app.record.vocabulary import vocabulary_of
from tests.record_tiny import EXAM, PROTOCOL_HASH, TINY, TITLE

WORDS = vocabulary_of(TINY).texts
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=8) | st.sampled_from(
    (*WORDS, "kg", "10.2", f"100/min: within 60–120/min ({TITLE}; read)")
)
PEOPLE = [character * 32 for character in "0123"]
IDS = st.sampled_from(PEOPLE) | st.binary(min_size=16, max_size=16).map(bytes.hex)
HASHES = st.binary(min_size=32, max_size=32).map(bytes.hex)
TIMES = st.integers(0, 2**42).map(lambda ms: Moment(ms, 0)) | st.builds(
    Moment, st.integers(0, 253_402_214_400_000), st.integers(-1_439, 1_439)
)
DECIMALS = st.decimals(allow_nan=False, allow_infinity=False, places=3).filter(
    lambda number: abs(number) < 10**30
) | st.sampled_from([Decimal("0"), Decimal("-0.0"), Decimal("1E+2"), Decimal("5.10")])
SENTENCES = st.sampled_from(
    [
        ("air moves through both nostrils", "no discharge"),
        ("no discharge", "air moves through both nostrils"),
        ("breathes through it",),
        ("eyelids", "cornea clear"),
        ("lids and lashes", "cornea clear"),
    ]
) | st.lists(TEXTS, max_size=2).map(tuple)
FORM_VALUES = {
    Form.ID: IDS,
    Form.HASH: HASHES,
    Form.PERSON: IDS,
    Form.ABSOLUTE: TIMES,
    Form.STEPS: st.lists(st.integers(-(2**40), 2**40), max_size=5).map(tuple),
    Form.SENTENCE: SENTENCES,
    Form.PARTS: TEXTS | st.just(f"{TITLE} and {TITLE}"),
    Form.MARK_NUMBER: st.integers(1, 9_999),
    Form.MARK_COUNT: st.integers(0, 9_999),
    Form.THOUSANDTHS: st.integers(0, 1_000),
    Form.PIXELS: st.integers(0, 65_535),
    Form.BYTE_COUNT: st.integers(0, 2**31 - 1),
    Form.ORIGIN: TEXTS
    | IDS.map(lambda found: f"region:eyes.left:{found}")
    | st.just("vital:gums"),
}
PLAIN = {
    str: TEXTS,
    int: st.integers(-(2**63), 2**63 - 1),
    bool: st.booleans(),
    Decimal: DECIMALS,
    Moment: TIMES,
}
KEYS = st.sampled_from(["nose", "eyes.left", "eyes.right", "gums"]) | TEXTS


def values_of(kind):
    """Draw a value of a field's type."""
    inner = without_none(kind)
    if inner is not kind:
        return st.none() | values_of(inner)
    arguments = get_args(kind)
    if kind in PLAIN:
        return PLAIN[kind]
    if dataclasses.is_dataclass(kind):
        return instances_of(kind)
    if get_origin(kind) is tuple:
        return st.lists(values_of(arguments[0]), max_size=2).map(tuple)
    return several_of(kind, arguments)


def several_of(kind, arguments):
    if isinstance(get_origin(kind), type) and issubclass(get_origin(kind), Mapping):
        return st.dictionaries(KEYS, values_of(arguments[1]), max_size=2)
    if isinstance(kind, type) and issubclass(kind, Enum):
        return st.sampled_from(kind)
    return st.one_of(
        *(st.none() if a is type(None) else values_of(a) for a in arguments)
    )


@st.composite
def marks(draw):
    """Draw a mark; its place on a closer drawing, if it has one, is of its side."""
    x, y = FORM_VALUES[Form.THOUSANDTHS], FORM_VALUES[Form.THOUSANDTHS]
    number = FORM_VALUES[Form.MARK_NUMBER]
    mark = draw(st.builds(BodyMark, number, st.sampled_from(MarkView), x, y))
    view = draw(st.none() | st.sampled_from(CloserView))
    if view is None:
        return mark
    side = mark.side_of_view
    limbs = [OwnSide(side)] if side != "midline" else [*OwnSide]
    limb = draw(st.sampled_from(limbs)) if view.aspect else None
    across = {"left": st.integers(500, 1_000), "right": st.integers(0, 500)}
    place = CloserPlace(view, draw(across.get(side, x)), draw(y), limb)
    return dataclasses.replace(mark, closer=place)


def instances_of(kind, **fixed):
    """Draw a dataclass; a field with a default often stays at it."""
    if kind is BodyMark:
        return marks()
    drawn = {}
    for field in dataclasses.fields(kind):
        form = FORMS.get((kind, field.name))
        values = FORM_VALUES[form] if form else values_of(field_types(kind)[field.name])
        if field.default is not dataclasses.MISSING:
            values = st.just(field.default) | values
        drawn[field.name] = values
    return st.builds(kind, **(drawn | fixed))


REGIONS = st.dictionaries(KEYS, instances_of(RegionEntry), max_size=3)
EXAMS = instances_of(Exam, regions=REGIONS)
CLOSED = instances_of(
    Exam,
    regions=REGIONS,
    exam_id=st.just(EXAM.exam_id),
    protocol_hash=st.just(PROTOCOL_HASH),
    closing=instances_of(Closing),
)
