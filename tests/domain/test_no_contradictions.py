"""No record contradicts itself, and everything typed stands in its words."""

from collections import Counter
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exam_app.domain.animal.signalment import Sex
from exam_app.domain.exam.continued import combined
from exam_app.domain.exam.exam import Correction
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome, Finding
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.region_states import Conclusion, RegionEntry, StruckClause
from exam_app.domain.exam.transitions import assert_no_abnormality, mark_not_examined
from exam_app.domain.exam.visit import Photo
from exam_app.domain.wording.written_record import Section, write_record
from tests import contradictions as pairs
from tests.exam_samples import ANIMAL, BY, PROTOCOL, new_exam
from tests.generated_exams import (
    SCOPES,
    SPECIES,
    begin,
    correct,
    drive_on,
    finish,
    go_on,
)
from tests.samples import examples

STEPS = 25
DAYS = 30
KINDS_OF_RECORD = (
    "drafts",
    "closed records",
    "corrections",
    "continuations",
    "read together",
    "seen again",
    "seen again, closed",
)


def check(exam, protocol, typed, counts, kind):
    """Look for contradictions and for every word typed; count what was looked at."""
    record = write_record(exam, protocol)
    together = kind == "read together"
    found = pairs.contradictions(exam, protocol, record, is_together=together)
    assert not found, (kind, found[:3], record.as_text())
    text = record.as_text()
    lost = [w for words in typed.values() for w in words if w and w not in text]
    assert not lost, (kind, lost, text)
    counts[kind] += 1
    counts["words typed"] += sum(map(len, typed.values()))
    counts["lines read"] += sum(len(part.lines) for part in record.sections)


def day_of(species, scope, sex, seed, counts):
    """Make a draft, close it, correct it, continue it, and see the animal again."""
    drive = begin(species, scope, sex, seed)
    drive_on(drive, STEPS)
    check(drive.exam, drive.protocol, drive.typed, counts, "drafts")
    counts["refusals"] += drive.refused
    first = finish(drive)
    if first is None:
        counts["not closed"] += 1
        return
    check(first, drive.protocol, drive.typed, counts, "closed records")
    if seed % 3 == 0:
        corrected = correct(drive, first)
        if corrected is not None:
            check(corrected, drive.protocol, drive.typed, counts, "corrections")
            first = corrected
    if seed % 3 == 1:
        later = go_on(drive, first)
        if later is not None:
            check(later, drive.protocol, drive.typed, counts, "continuations")
            view = combined(first, (later,), drive.protocol)
            check(view, drive.protocol, drive.typed, counts, "read together")
    again = begin(species, scope, sex, seed + 1, earlier_of=first)
    drive_on(again, STEPS)
    check(again.exam, again.protocol, again.typed, counts, "seen again")
    second = finish(again)
    if second is not None:
        check(second, again.protocol, again.typed, counts, "seen again, closed")


@settings(
    max_examples=examples(60),
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
@given(
    species=st.sampled_from(SPECIES),
    scope=st.sampled_from(SCOPES),
    sex=st.sampled_from(Sex),
    seed=st.integers(0, 2**60),
)
def test_no_two_statements_of_a_record_contradict_and_no_typed_word_is_lost(
    species, scope, sex, seed
):
    day_of(species, scope, sex, seed, Counter())


@pytest.mark.exhaustive
@pytest.mark.parametrize("species", SPECIES)
def test_no_record_of_a_species_contradicts_itself(species):
    counts = Counter()
    for number, (scope, sex) in enumerate(product(SCOPES, Sex)):
        for seed in range(DAYS):
            day_of(species, scope, sex, number * DAYS + seed, counts)
    assert min(counts[kind] for kind in KINDS_OF_RECORD) > 10
    print(f"{species}: {dict(counts)}")


def said_of(exam):
    """Return the contradictions of an exam, by kind."""
    found = pairs.contradictions(exam, PROTOCOL, write_record(exam, PROTOCOL))
    return {sentence.partition(": ")[0] for sentence in found}


def clean_exam(*keys, **more):
    exam = new_exam(**more)
    for key in keys:
        exam = assert_no_abnormality(exam, PROTOCOL, (key,), Role.TECHNICIAN, BY)
    return exam


def forced(exam, key, **fields):
    """Put something into an answer that no transition would."""
    entry = replace(exam.entry(key), **fields)
    return replace(exam, regions={**exam.regions, key: entry})


DENIES = replace(
    PROTOCOL.regions[0],
    terms=(
        replace(PROTOCOL.regions[0].terms[0], negates=("nose_look",)),
        *PROTOCOL.regions[0].terms[1:],
    ),
)
PROTOCOL = replace(PROTOCOL, regions=(DENIES, *PROTOCOL.regions[1:]))
WOUND = Finding("1" * 32, "wound", BY, term_id="nose_wound")
LAST_TIME = EarlierFinding(
    "2" * 32,
    "3" * 32,
    "nose",
    "2026-01-01",
    "wound",
    EarlierOutcome.SAME,
    term_id="nose_wound",
)


@pytest.mark.parametrize(
    ("kind", "exam"),
    [
        (
            "a claim and a find that denies it",
            forced(clean_exam("nose"), "nose", findings=(WOUND,)),
        ),
        (
            "a claim and a find that denies it",
            replace(clean_exam("nose"), earlier=(LAST_TIME,)),
        ),
        (
            "not present and examined",
            forced(
                clean_exam("tail"),
                "tail",
                conclusion=Conclusion.NOT_PRESENT,
                reason="docked",
            ),
        ),
        (
            "not examined and claimed",
            forced(
                clean_exam("tail"),
                "tail",
                conclusion=Conclusion.NOT_EXAMINED,
                reason="unsafe",
            ),
        ),
        (
            "not seen and claimed",
            forced(
                clean_exam("tail"),
                "tail",
                struck=(StruckClause("tail_look", "tail even", "unsafe"),),
            ),
        ),
    ],
)
def test_the_words_of_each_contradiction_are_seen(kind, exam):
    assert kind in said_of(exam)


def test_words_that_the_record_never_writes_are_seen_too():
    exam = clean_exam("nose")
    record = write_record(exam, PROTOCOL)

    def with_line(heading, line):
        parts = [s for s in record.sections if s.heading != heading]
        return replace(record, sections=(*parts, Section(heading, (line,))))

    def kinds(changed, exam=exam):
        found = pairs.contradictions(exam, PROTOCOL, changed)
        return {sentence.partition(": ")[0] for sentence in found}

    unsafe = mark_not_examined(exam, PROTOCOL, "tail", "unsafe", BY)
    undone = write_record(unsafe, PROTOCOL)
    credited = with_line("Who and when", "Examined by Ines: Nose; Tail")
    credited = replace(
        credited,
        sections=(
            *(s for s in credited.sections if s.heading.startswith("Who")),
            *(s for s in undone.sections if s.heading.startswith("Not examined")),
        ),
    )
    assert "not examined and examined by" in kinds(credited, unsafe)
    everything = replace(record, headline=("Everything was answered", "Not done: tail"))
    assert "everything and a gap" in kinds(everything)
    weight = Section("Vitals", ("Weight: 9 kg",))
    taken = with_line("Not examined, or only partly", "Weight: NOT ANSWERED")
    taken = replace(taken, sections=(*taken.sections, weight))
    assert "a value and not taken" in kinds(taken)
    gone = replace(exam, corrections=(Correction("Weight", "8 kg", "9 kg"),))
    assert "a correction that is not shown" in kinds(record, gone)


def test_the_parts_of_both_sexes_are_seen():
    female = replace(
        PROTOCOL.regions[0], region_id="womb", label="Vulva", sexes=("female",)
    )
    both = replace(PROTOCOL, regions=(*PROTOCOL.regions, female))
    exam = new_exam(animal=replace(ANIMAL, sex=Sex.UNKNOWN))
    answered = RegionEntry(Conclusion.ASSERTED, ("even",), attribution=BY)
    exam = replace(exam, regions={"male_part": answered, "womb": answered})
    found = pairs.contradictions(exam, both, write_record(exam, both))
    assert any(sentence.startswith("both sexes") for sentence in found)


def test_a_photograph_written_with_another_side_than_its_find_is_found():
    found = replace(WOUND, side="left")
    exam = forced(clean_exam(), "nose", findings=(found,))
    exam = replace(exam, photos=(Photo("a" * 64, "close", finding_id="1" * 32),))
    record = write_record(exam, PROTOCOL)
    assert "a photograph elsewhere" not in said_of(exam)
    for words in ("Nose: right, close", "Tail: left, close"):
        sections = tuple(
            replace(one, lines=(words,)) if one.heading == "Photographs" else one
            for one in record.sections
        )
        wrong = replace(record, sections=sections)
        said = pairs.contradictions(exam, PROTOCOL, wrong)
        assert any(one.startswith("a photograph elsewhere") for one in said)
