"""Fields are read as the first version read them: the same values, the same faults."""

import copy
import dataclasses

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exam_app.domain.animal.body_marks import BodyMark, MarkView
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.vitals import EarlierCount
from exam_app.domain.moments import Moment
from exam_app.record.errors import NotARecordError
from exam_app.record.field_reader import _fields_reader, read_fields
from exam_app.record.field_writer import write_exam, write_fields
from exam_app.record.schema import FIELD_KEYS
from exam_app.record.spelled_values import Surroundings
from exam_app.record.unfrozen import unfrozen_twin
from exam_app.record.vocabulary import vocabulary_of
from tests import record_first_reader
from tests.record_strategies import CLOSED
from tests.record_tiny import EXAM, TINY
from tests.samples import examples

# What a decoder gives: no floats, no null; keys are integers or texts.
SCALARS = (
    st.integers(-3, 40)
    | st.integers(-(2**63), 2**63 - 1)
    | st.sampled_from(["", "1.5", "no number", "nose"])
    | st.booleans()
    | st.sampled_from([bytes(16), bytes(32), b"", b"\xff" * 16])
)
NAMES = st.integers(-1, 40) | st.sampled_from(["nose", "tail"])
OTHER = st.recursive(
    SCALARS,
    lambda parts: (
        st.lists(parts, max_size=2) | st.dictionaries(NAMES, parts, max_size=2)
    ),
    max_leaves=4,
)


def holders_in(value):
    """Return every list and map of a value, itself first."""
    found = [value]
    for one in found:
        parts = one.values() if isinstance(one, dict) else one
        found += [part for part in parts if isinstance(part, dict | list)]
    return found


@st.composite
def changed_exams(draw):
    """The map of an exam with up to three parts put in, taken out or changed."""
    written = copy.deepcopy(write_exam(draw(CLOSED), vocabulary_of(TINY)))
    for _ in range(draw(st.integers(0, 3))):
        holder = draw(st.sampled_from(holders_in(written)))
        if isinstance(holder, list):
            place = draw(st.integers(0, len(holder)))
            holder[place : place + draw(st.integers(0, 1))] = draw(
                st.lists(OTHER, max_size=1)
            )
        else:
            key = draw(st.sampled_from([*holder]) if holder else NAMES)
            key = draw(st.just(key) | NAMES)
            holder.pop(key, None)
            if draw(st.booleans()):
                holder[key] = draw(OTHER)
    return written


def said_by(read, written):
    around = Surroundings(vocabulary=vocabulary_of(TINY))
    try:
        exam = read(Exam, written, around)
    except NotARecordError as error:
        return str(error)
    return exam, repr(exam), around.unknown


@pytest.mark.slow
@settings(
    max_examples=examples(400),
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(changed_exams())
def test_any_map_reads_or_is_refused_as_by_the_first_version(written):
    first = said_by(record_first_reader.read_fields, written)
    assert said_by(read_fields, written) == first


def test_a_read_value_is_as_frozen_as_any_other():
    written = write_exam(EXAM, vocabulary_of(TINY))
    read = read_fields(Exam, written, Surroundings(vocabulary=vocabulary_of(TINY)))
    entry = next(iter(read.regions.values()))
    for value in (read, entry, entry.attribution, entry.attribution.observed):
        name = dataclasses.fields(value)[0].name
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(value, name, None)
        assert type(value) is type(dataclasses.replace(value))


@pytest.mark.parametrize("kind", [*FIELD_KEYS, Moment], ids=lambda kind: kind.__name__)
def test_a_twin_becomes_any_class_of_the_record_with_its_defaults(kind):
    made = unfrozen_twin(kind)()
    for field in dataclasses.fields(kind):
        default, factory = field.default, field.default_factory
        if default is not dataclasses.MISSING:
            assert getattr(made, field.name) == default
        elif factory is not dataclasses.MISSING:
            assert getattr(made, field.name) == factory()
        else:
            assert not hasattr(made, field.name)
            setattr(made, field.name, field.name)
    made.__class__ = kind
    values = {
        field.name: getattr(made, field.name) for field in dataclasses.fields(kind)
    }
    if not hasattr(kind, "__post_init__"):
        assert made == kind(**values)


def test_what_a_class_checks_itself_is_checked_in_what_is_read():
    checked = []
    place = BodyMark(1, MarkView.LEFT, 300, 400)
    written = write_fields(place, Surroundings())
    with pytest.MonkeyPatch.context() as changed:
        changed.setattr(BodyMark, "__post_init__", checked.append)
        read = _fields_reader(BodyMark)(written, Surroundings())
    assert checked == [read] == [place]


def test_a_field_that_may_be_none_is_none_where_it_is_missing():
    made = unfrozen_twin(EarlierCount, ["evidence", "state"])()
    assert (made.evidence, made.state) == (None, None)
    assert not hasattr(made, "reading")
    assert not hasattr(unfrozen_twin(Attribution)(), "observed")
