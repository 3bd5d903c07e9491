"""Drafts in plain form: exact, strict, and kind to fields of a newer version."""

import copy
import json
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exam_app.domain.animal.signalment import Animal, Owner
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person, Role
from exam_app.record.errors import DraftDamagedError, RecordTooNewError
from exam_app.record.plain_form import from_plain, to_plain
from tests.record_strategies import EXAMS, instances_of
from tests.record_tiny import EXAM, MARKED
from tests.samples import examples


def through_json(plain):
    return json.loads(json.dumps(plain))


@settings(
    max_examples=examples(80),
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(EXAMS)
def test_any_draft_survives_json_exactly(exam):
    read = from_plain(Exam, through_json(to_plain(exam)))
    assert read == exam
    assert repr(read) == repr(exam)


@given(instances_of(Animal), instances_of(Person), instances_of(Owner))
def test_animal_person_and_owner_survive_json(animal, person, owner):
    assert from_plain(Animal, through_json(to_plain(animal))) == animal
    assert from_plain(Person, through_json(to_plain(person))) == person
    assert from_plain(Owner, through_json(to_plain(owner))) == owner


def test_decimal_is_kept_as_text_and_nothing_as_a_float():
    plain = to_plain(EXAM)
    assert plain["vitals"]["heart_rate"]["reading"]["value"] == "100.0"
    json.loads(json.dumps(plain), parse_float=pytest.fail)


def exact_types(value):
    yield type(value)
    if isinstance(value, dict):
        for key, part in value.items():
            yield type(key)
            yield from exact_types(part)
    elif isinstance(value, list):
        for part in value:
            yield from exact_types(part)


def test_plain_form_holds_nothing_but_plain_values():
    found = set(exact_types(to_plain(EXAM)))
    assert found <= {dict, list, str, int, bool, type(None)}


def test_unknown_fields_are_written_back_where_they_stood():
    stored = to_plain(EXAM)
    stored["later"] = {"deep": [1, "two"]}
    stored["animal"]["mood"] = "calm"
    stored["people"][0]["badge"] = 7
    stored["vitals"]["heart_rate"]["evidence"]["device"] = "x"
    stored["regions"]["eyes.left"]["findings"][0]["angle"] = 3
    stored["urgent"][0]["answers"][0]["seen"] = True
    stored = through_json(stored)
    assert to_plain(from_plain(Exam, stored), before=stored) == stored


def test_unknown_field_follows_its_finding_and_moves_to_no_other():
    first = EXAM.regions["eyes.left"].findings[0]
    second = replace(first, finding_id="f2" * 16, words="own words")
    entry = replace(EXAM.regions["eyes.left"], findings=(first, second))
    stored = to_plain(replace(EXAM, regions={"eyes.left": entry}))
    for place, finding in enumerate(stored["regions"]["eyes.left"]["findings"]):
        finding["angle"] = place
    changed = replace(second, note="now with a note")
    entry = replace(entry, findings=(changed,))
    plain = to_plain(replace(EXAM, regions={"eyes.left": entry}), before=stored)
    assert [f["angle"] for f in plain["regions"]["eyes.left"]["findings"]] == [1]


def test_unknown_field_of_a_changed_part_without_id_is_not_given_to_another():
    stored = to_plain(EXAM)
    stored["urgent"][0]["answers"][0]["seen"] = True
    answer = replace(EXAM.urgent[0].answers[0], whom="Dr Someone Else Demo")
    exam = replace(EXAM, urgent=(replace(EXAM.urgent[0], answers=(answer,)),))
    plain = to_plain(exam, before=stored)
    assert "seen" not in plain["urgent"][0]["answers"][0]


def test_draft_of_a_newer_version_is_refused_unread():
    with pytest.raises(RecordTooNewError):
        from_plain(Exam, to_plain(EXAM) | {"version": 2, "animal": 7})


def put(path, value):
    def change(plain):
        *way, last = path
        for step in way:
            plain = plain[step]
        plain[last] = value

    return change


MARK = ["regions", "eyes.left", "findings", 0, "mark"]


def closer(**changed):
    """Give the mark, of the left view, a closer place with something changed."""
    place = {"view": "fore_foot_outer", "x": 1, "y": 2, "limb": "left"} | changed
    return put([*MARK, "closer"], place)


DAMAGES = {
    "mark right of its drawing": put([*MARK, "x"], 1001),
    "mark above its drawing": put([*MARK, "y"], -1),
    "mark on no drawing": put([*MARK, "view"], "front"),
    "true for a place": put([*MARK, "x"], True),
    "mark without a number": put([*MARK, "number"], 0),
    "mark without a place": lambda plain: plain["regions"]["eyes.left"]["findings"][0][
        "mark"
    ].pop("y"),
    "closer drawing of nothing": closer(view="tail"),
    "closer place below it": closer(y=1001),
    "closer place is true": closer(x=True),
    "foot of no side": closer(limb=None),
    "foot of the other side": closer(limb="right"),
    "udder of one side": closer(view="udder"),
    "no version": lambda plain: plain.pop("version"),
    "version is true": put(["version"], True),
    "version 0": put(["version"], 0),
    "id missing": lambda plain: plain.pop("exam_id"),
    "number for a text": put(["protocol_id"], 7),
    "text for a number": put(["revision"], "1"),
    "true for a number": put(["revision"], True),
    "one for true": put(["is_demo"], 1),
    "float": put(["revision"], 1.5),
    "unknown word": put(["scope"], "everything"),
    "list for a word": put(["scope"], ["intake"]),
    "text for a list": put(["focus"], "nose"),
    "list for a map": put(["vitals"], []),
    "list for fields": put(["animal"], []),
    "null for fields": put(["animal"], None),
    "empty list for an entry": put(["regions", "nose"], []),
    "decimal as a number": put(["vitals", "heart_rate", "reading", "value"], 100),
    "decimal not a number": put(["vitals", "heart_rate", "reading", "value"], "NaN"),
    "decimal far too long": put(
        ["vitals", "heart_rate", "reading", "value"], "9" * 5_000
    ),
    "evidence without kind": lambda plain: plain["vitals"]["heart_rate"][
        "evidence"
    ].pop("kind"),
    "evidence of unknown kind": put(["vitals", "heart_rate", "evidence", "kind"], "x"),
    "evidence kind is a list": put(["vitals", "heart_rate", "evidence", "kind"], []),
    "huge integer": put(["started", "utc_ms"], 2**64),
}


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=DAMAGES)
def test_damaged_draft_is_refused_with_its_faults(damage):
    plain = copy.deepcopy(to_plain(MARKED))
    damage(plain)
    with pytest.raises(DraftDamagedError) as refusal:
        from_plain(Exam, plain)
    assert refusal.value.problems


def test_every_fault_is_named_at_once_with_its_place():
    plain = to_plain(EXAM)
    plain["animal"]["name"] = 1
    plain["people"][0]["role"] = "king"
    del plain["started_by"]
    with pytest.raises(DraftDamagedError) as refusal:
        from_plain(Exam, plain)
    places = {problem.rpartition(" @ ")[2] for problem in refusal.value.problems}
    assert places == {"$.animal.name", "$.people[0].role", "$.started_by"}


def test_fault_repeats_nothing_that_was_written_in_the_draft():
    plain = to_plain(EXAM)
    plain["animal"]["age_days"] = "secret words"
    with pytest.raises(DraftDamagedError) as refusal:
        from_plain(Exam, plain)
    assert "secret" not in str(refusal.value)
    assert "secret" not in " ".join(refusal.value.problems)


@pytest.mark.parametrize("plain", [None, [], "{}", 3])
def test_something_else_than_fields_is_refused(plain):
    with pytest.raises(DraftDamagedError):
        from_plain(Exam, plain)


def test_draft_nested_without_end_is_refused():
    deep = []
    for _ in range(100_000):
        deep = [deep]
    with pytest.raises(DraftDamagedError):
        from_plain(Exam, to_plain(EXAM) | {"later": deep})
    # Freed as it is, it would take more stack than there is in a browser.
    while deep:
        deep = deep.pop()


def test_draft_with_far_too_many_values_is_refused():
    with pytest.raises(DraftDamagedError):
        from_plain(Exam, to_plain(EXAM) | {"later": [0] * 300_000})


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=4),
    lambda parts: (
        st.lists(parts, max_size=3) | st.dictionaries(st.text(max_size=4), parts)
    ),
    max_leaves=6,
)


@given(st.data())
def test_any_field_replaced_by_anything_reads_or_is_refused(data):
    plain = to_plain(EXAM)
    name = data.draw(st.sampled_from(sorted(plain)))
    plain[name] = data.draw(JSON)
    try:
        from_plain(Exam, plain)
    except (DraftDamagedError, RecordTooNewError):
        return


def test_role_and_decimal_are_the_real_things_after_reading():
    exam = from_plain(Exam, through_json(to_plain(EXAM)))
    assert exam.people[0].role is Role.TECHNICIAN
    assert isinstance(exam.vitals["heart_rate"].reading.value, Decimal)
