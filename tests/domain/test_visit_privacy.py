"""Private notes stand in no other form, and nothing outside a scope reads as normal."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.app.queries.bite_concerns import concern_words
from exam_app.app.view import visit_presenter as shown
from exam_app.app.view.review_presenter import open_count_text, point_groups
from exam_app.app.view.visit_presenter import notes_for_reader
from exam_app.domain.exam.continued import combined
from exam_app.domain.exam.exam import regions_outside_scope
from exam_app.domain.exam.visit import BiteHistory, Care, Plan, PrivateNote
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.headline import headline
from exam_app.domain.wording.kennel_card import kennel_card
from exam_app.domain.wording.written_record import write_record
from exam_app.protocols.loader import available, load_protocol
from tests.exam_samples import BY, PROTOCOL, TECHNICIAN, VETERINARIAN, new_exam

SECRETS = st.text("abcdefghij", min_size=12, max_size=30).map(lambda t: f"zq{t}qz")
SCOPES = (Scope.INTAKE, Scope.TECHNICIAN, Scope.VETERINARIAN, Scope.FOCUSED)
VOLUNTEER = replace(TECHNICIAN, person_id="d" * 32, name="Jo Fell")


def every_other_form(exam):
    view = combined(exam, (replace(exam, exam_id="f" * 32),), PROTOCOL)
    groups = point_groups(exam, PROTOCOL)
    cards = [
        shown.part_card(exam, part, reader)
        for part in shown.Part
        for reader in (TECHNICIAN, VETERINARIAN, VOLUNTEER)
    ]
    return "\n".join(
        (
            write_record(exam, PROTOCOL).as_text(),
            write_record(view, PROTOCOL).as_text(),
            str(headline(exam, PROTOCOL)),
            str(kennel_card(exam, was_seen_by_veterinarian=False, earlier=(view,))),
            str(groups),
            open_count_text(exam, PROTOCOL),
            str(cards),
            str(notes_for_reader(exam, VOLUNTEER)),
        )
    )


@given(secret=SECRETS, scope=st.sampled_from(SCOPES))
def test_private_note_appears_in_no_other_form(secret, scope):
    exam = record_visit(new_exam(scope, focus=("nose",)), PrivateNote(secret, BY))
    assert secret not in every_other_form(exam)
    private = write_record(exam, PROTOCOL, for_veterinarian=True).as_text()
    assert secret in private
    assert secret in str(notes_for_reader(exam, VETERINARIAN))


def test_author_reads_a_private_note_until_the_exam_is_closed():
    exam = record_visit(new_exam(), PrivateNote("rope mark", BY))
    assert len(shown.notes_for(exam, TECHNICIAN)) == 1
    assert shown.notes_for(exam, VOLUNTEER) == ()
    closed = replace(exam, closing=object())
    assert shown.notes_for(closed, TECHNICIAN) == ()
    assert len(shown.notes_for(closed, VETERINARIAN)) == 1


def test_row_of_the_private_note_tells_others_nothing():
    exam = record_visit(new_exam(), PrivateNote("rope mark", BY))
    assert shown.part_card(exam, shown.Part.PRIVATE, VOLUNTEER).lines == ()
    assert shown.part_card(exam, shown.Part.PRIVATE, TECHNICIAN).lines == ("written",)


@pytest.mark.parametrize("species", available())
@pytest.mark.parametrize("scope", SCOPES)
def test_region_outside_the_scope_never_reads_as_normal_in_any_form(species, scope):
    protocol = load_protocol(species).protocol
    focus = (protocol.regions[0].region_id,) if scope is Scope.FOCUSED else ()
    exam = new_exam(scope, focus=focus)
    outside = regions_outside_scope(exam, protocol)
    assert outside or scope is not Scope.INTAKE
    forms = [
        write_record(exam, protocol),
        write_record(combined(exam, (), protocol), protocol),
    ]
    for written in forms:
        sections = {s.heading: s.lines for s in written.sections}
        assert "No abnormality found" not in sections
        left = "\n".join(sections.get("Not part of this exam", ()))
        for region in outside:
            label = region.plain_label if scope is Scope.INTAKE else region.label
            assert (label or region.label) in left
    card = str(kennel_card(exam, was_seen_by_veterinarian=False)).lower()
    assert "normal" not in card
    assert "abnormality" not in card


BITES = st.builds(BiteHistory, *[st.sampled_from(["", "one", "two"])] * 11)


@given(first=BITES, second=st.none() | BITES)
def test_no_later_exam_hides_what_the_first_said_of_a_bite(first, second):
    exam = record_visit(new_exam(), first)
    later = replace(new_exam(), exam_id="f" * 32, bite=second)
    both = combined(exam, (later,), PROTOCOL).bite
    for name in BiteHistory.__dataclass_fields__.keys() - {"bitten"}:
        for said in (first, second):
            text = getattr(said, name) if said else ""
            assert text in getattr(both, name)


def test_bite_of_an_older_exam_stands_on_the_kennel_card_of_a_newer_one():
    older = record_visit(new_exam(), BiteHistory("a child", "two days ago"))
    older = record_visit(older, Care(isolation="own run"))
    newer = replace(new_exam(), exam_id="f" * 32)
    lines = kennel_card(newer, was_seen_by_veterinarian=True, earlier=(older,))
    assert lines[0] == ("BITE OR SCRATCH", "two days ago")
    assert lines[1] == ("ISOLATION", "own run (said 2026-09-21)")


def test_quarantine_and_bitten_examiner_are_concerns_and_a_vaccine_is_none():
    assert BiteHistory(rabies_vaccine="as on the card").concern == ""
    assert BiteHistory(quarantine="ten days").concern == "quarantine: ten days"
    bitten = BiteHistory(examiner_bitten="left hand", examiner_when="14:05")
    assert bitten.concern == "examiner: left hand, 14:05"
    assert concern_words(["a", "", "a", "b"]) == "BITE OR SCRATCH: a; b"
    assert concern_words([""]) == ""


def test_plans_of_both_exams_stand_in_the_view():
    first = record_visit(new_exam(), Plan(recheck="Monday"))
    later = record_visit(replace(new_exam(), exam_id="f" * 32), Plan(recheck="Friday"))
    assert combined(first, (later,), PROTOCOL).plan.recheck == "Monday; later: Friday"
