"""A sheet to take home: all that was found, in plain words, and nothing private."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.app.clinic.notes import keep_note, write_note
from exam_app.app.queries.kept_records import read_kept
from exam_app.domain.animal.signalment import Sex
from exam_app.domain.exam.transitions import signs_offered
from exam_app.domain.protocol.protocol import Scope
from exam_app.paper.plain_words import in_plain_words
from exam_app.paper.printing import print_take_home, reviewed_line
from exam_app.paper.sheet import PageSize
from exam_app.paper.take_home import (
    BITE_NOTED,
    NOT_REVIEWED,
    TakeHome,
    take_home_sheet,
)
from exam_app.protocols.loader import load_protocol
from exam_app.record.notes import NoteKind
from tests.exam_samples import NOW, PROTOCOL, TECHNICIAN, VETERINARIAN
from tests.filled_exams import Filler, leaves
from tests.handover_places import new_place
from tests.paper.test_record_sheet import EXAMS, LARGEST, SECRET, driven
from tests.paper_facts import facts_of
from tests.past_exams import VISITS, exam_of, keep_visits
from tests.printed import SIZES, font, images_of, is_grey, missing, pages_of, words_of

# Of an exam with every field filled: what the clinic keeps to itself.
KEPT_BACK = (
    "private_notes",
    "presentation",
    "intake",
    "samples",
    "bite.bit_or_scratched",
    "bite.when",
    "bite.examiner",
    "bite.first_aid",
    "bite.washed",
    "bite.reported",
    "bite.rabies_concern",
    "bite.bitten",
    "plan.assessment",
    "plan.differentials",
    "plan.plan",
    "plan.owner_told",
)
SAID = ("plan.recheck", "bite.quarantine", "care.", "remark", "given.product")


def sheet(exam, protocol, size=PageSize.A4, **more):
    return take_home_sheet(TakeHome(exam, protocol, **more), size, font())


@pytest.mark.slow
@given(made=EXAMS, size=st.sampled_from(SIZES))
def test_finds_flags_gaps_remarks_and_marks_are_there_as_in_the_record(made, size):
    exam, protocol = driven(*made)
    pdf = sheet(exam, protocol, size, practice="Invented", phone="555 0100")
    assert missing(facts_of(exam, protocol), pdf) == []
    printed = words_of(pdf)
    assert SECRET not in printed
    assert "Invented:5550100" in printed
    assert len(pdf) <= LARGEST


@pytest.mark.parametrize("turn", range(0, 12, 2))
def test_what_the_clinic_keeps_to_itself_is_not_on_it(turn):
    exam = Filler(turn).exam()
    printed = words_of(sheet(exam, PROTOCOL))
    said = {".".join(path): leaf for path, leaf, _ in leaves(exam)}
    kept = [w for name, w in said.items() if name.startswith(KEPT_BACK)]
    words = [w for w in kept if isinstance(w, str) and w.startswith("q")]
    assert len(words) > 20
    assert [word for word in words if word in printed] == []
    shown = [w for name, w in said.items() if name.startswith(SAID)]
    assert [word for word in shown if word not in printed] == []
    assert BITE_NOTED.replace(" ", "") in printed


def test_it_says_that_no_veterinarian_reviewed_it_until_one_did():
    exam, protocol = driven("dog", Scope.TECHNICIAN, Sex.FEMALE, 3)
    assert NOT_REVIEWED.replace(" ", "") in words_of(sheet(exam, protocol))
    told = "Acknowledged by Dr Mar Ondine, veterinarian"
    after = sheet(exam, protocol, reviewed=told)
    assert NOT_REVIEWED.replace(" ", "") not in words_of(after)
    assert missing([told], after) == []


@pytest.mark.slow
@pytest.mark.parametrize("species", ["dog", "cat", "horse", "rabbit"])
def test_when_to_call_is_what_the_signs_say_with_their_actions(species):
    exam, protocol = driven(species, Scope.TECHNICIAN, Sex.FEMALE, 3)
    pdf = sheet(exam, protocol, PageSize.LETTER)
    signs = signs_offered(exam, protocol)
    assert signs
    assert missing([sign.plain for sign in signs], pdf) == []
    assert missing({sign.action for sign in signs}, pdf) == []
    assert all(map(is_grey, images_of(pdf, 0.4)))
    assert len(pages_of(pdf)) <= 4


def test_plain_words_never_say_another_number():
    dog = load_protocol("dog").protocol
    sign = next(s for s in dog.urgent_signs if any(map(str.isdigit, s.label)))
    other = replace(sign, plain="Over 999 °F")
    protocol = replace(dog, urgent_signs=(other,))
    exam, _ = driven("dog", Scope.TECHNICIAN, Sex.FEMALE, 3)
    _, plain = in_plain_words(exam, protocol)
    assert plain.urgent_signs[0].label == sign.label


def test_no_word_of_the_trade_stands_where_the_protocol_has_a_plain_one():
    exam, protocol = driven("dog", Scope.TECHNICIAN, Sex.FEMALE, 5)
    _, plain = in_plain_words(exam, protocol)
    for before, after in zip(protocol.regions, plain.regions, strict=True):
        assert after.label == before.plain_label
        for term, told in zip(before.terms, after.terms, strict=True):
            assert told.label == (term.plain or term.label)


async def test_only_a_veterinarians_acknowledgement_takes_the_heading_away(tmp_path):
    place = await new_place(tmp_path / "clinic", "Clinic", "clinic")
    vault = place.vault
    keep_visits(vault)
    exam = exam_of(VISITS[0])
    kept = read_kept(vault, exam.exam_id)
    clear = NOT_REVIEWED.replace(" ", "")

    def acknowledged_by(person, note_id):
        kind = NoteKind.ACKNOWLEDGEMENT
        keep_note(vault, write_note(kind, kept, person, NOW, note_id))
        return print_take_home(vault, kept, PageSize.A4, font())

    assert reviewed_line(vault, kept) == ""
    assert clear in words_of(acknowledged_by(TECHNICIAN, "1" * 32))
    printed = acknowledged_by(VETERINARIAN, "2" * 32)
    assert clear not in words_of(printed)
    assert missing([f"Acknowledged by {VETERINARIAN.name}"], printed) == []
    vault.close()
