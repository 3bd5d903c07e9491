"""What is decided before the first touch, and the short lines lists show."""

from dataclasses import replace
from datetime import date, timedelta

from exam_app.app.exam_start import (
    ExamOrder,
    begin_exam,
    cautions_by_kind,
    open_findings,
    own_dangers,
    scopes_for,
)
from exam_app.app.exam_view import Overview
from exam_app.app.exam_words import (
    animal_line,
    begun_words,
    closed_line,
    draft_line,
    exam_subtitle,
    known_age,
    progress_words,
)
from exam_app.domain.animal.ages import age_on
from exam_app.domain.animal.signalment import AgeBasis
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome, Finding
from exam_app.domain.exam.people import Attribution, Role
from exam_app.domain.exam.region_states import Conclusion, RegionEntry
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Caution, Scope
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from tests.small_dog import (
    BRUNO,
    COLLEAGUE,
    DOG,
    NINE_O_CLOCK,
    TECHNICIAN,
    new_exam,
)

BY = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, NINE_O_CLOCK, NINE_O_CLOCK)


def begun(order: ExamOrder, now: Moment = NINE_O_CLOCK):
    return begin_exam(order, DOG, "0" * 64, TECHNICIAN, "9" * 32, now)


def test_a_new_exam_answers_nothing_and_names_its_starter():
    exam = begun(ExamOrder(BRUNO, Scope.TECHNICIAN, Setting.SHELTER))
    assert dict(exam.regions) == {}
    assert dict(exam.vitals) == {}
    assert exam.people == (TECHNICIAN,)
    assert exam.is_demo


def test_life_stage_follows_from_the_birth_date_on_the_day_of_the_exam():
    young = replace(BRUNO, birth_date="2025-10-01", age_basis=AgeBasis.BIRTH_DATE)
    assert (
        begun(ExamOrder(young, Scope.TECHNICIAN, Setting.CLINIC)).life_stage == "young"
    )
    year_later = Moment(NINE_O_CLOCK.utc_ms + 366 * 86_400_000)
    order = ExamOrder(young, Scope.TECHNICIAN, Setting.CLINIC)
    assert begun(order, year_later).life_stage == "adult"


def test_age_that_is_not_known_gives_no_life_stage():
    assert begun(ExamOrder(BRUNO, Scope.TECHNICIAN, Setting.CLINIC)).life_stage == ""


def test_age_told_some_time_ago_has_grown_since():
    told = replace(BRUNO, age_days=100, age_on="2026-01-01")
    assert age_on(told, date(2026, 1, 11)) == 110
    assert age_on(replace(BRUNO, birth_date="2026-01-01"), date(2026, 1, 1)) == 0
    assert age_on(BRUNO, date(2026, 1, 1)) is None


def test_focused_exam_keeps_its_parts_head_to_tail():
    order = ExamOrder(BRUNO, Scope.FOCUSED, Setting.CLINIC, ("heart", "nose"))
    exam = begun(order)
    assert exam.focus == ("nose", "heart")
    assert exam_subtitle(exam, DOG) == (
        "Dog · age not known · Focused exam: Nose, Heart · Clinic · Demo"
    )


def test_the_scope_usual_for_the_role_stands_first_and_none_is_withheld():
    assert scopes_for(Role.VOLUNTEER, DOG)[0] is Scope.INTAKE
    assert scopes_for(Role.VETERINARIAN, DOG)[0] is Scope.VETERINARIAN
    assert set(scopes_for(Role.VOLUNTEER, DOG)) == set(
        scopes_for(Role.VETERINARIAN, DOG)
    )
    assert Scope.GROUP not in scopes_for(Role.TECHNICIAN, DOG)


def test_the_animals_own_dangers_are_told_dangers_first():
    biter = replace(BRUNO, dangers="bites when lifted", behaviour="shy")
    assert own_dangers(biter) == "bites when lifted · shy"
    assert own_dangers(BRUNO) == ""


def test_cautions_of_the_species_stand_under_their_kinds():
    more = (*DOG.cautions, Caution("teeth", "bite", "muzzle when afraid"))
    assert cautions_by_kind(replace(DOG, cautions=more)) == (
        ("Bite", ("may bite when the mouth is opened", "muzzle when afraid")),
    )


def found_before(key: str, finding_id: str, words: str):
    return {key: RegionEntry(findings=(Finding(finding_id, words, BY),))}


def test_findings_of_the_last_record_and_older_ones_not_gone_are_asked_again():
    last = replace(
        new_exam(),
        regions=found_before("nose", "1" * 32, "discharge"),
        earlier=(
            EarlierFinding("e" * 32, "2" * 32, "eyes.left", "2025-01-01", "redness"),
            EarlierFinding(
                "e" * 32, "3" * 32, "heart", "2025-01-01", "murmur", EarlierOutcome.GONE
            ),
        ),
    )
    asked = open_findings(last, DOG)
    assert [(f.key, f.summary, f.outcome) for f in asked] == [
        ("eyes.left", "redness", None),
        ("nose", "discharge", None),
    ]
    assert asked[1].exam_id == last.exam_id
    assert asked[1].date == "2025-11-25"


def test_a_lost_eye_is_not_asked_for_again():
    lost = replace(
        found_before("eyes.left", "1" * 32, "not present: enucleated")["eyes.left"],
        conclusion=Conclusion.NOT_PRESENT,
    )
    assert open_findings(replace(new_exam(), regions={"eyes.left": lost}), DOG) == ()


def test_a_finding_described_anew_with_the_same_words_is_asked_once():
    older = EarlierFinding("e" * 32, "2" * 32, "nose", "2025-01-01", "discharge")
    last = replace(
        new_exam(),
        regions=found_before("nose", "1" * 32, "discharge"),
        earlier=(replace(older, outcome=EarlierOutcome.SAME),),
    )
    assert [f.finding_id for f in open_findings(last, DOG)] == ["1" * 32]


def test_ages_are_told_in_the_unit_people_use_with_how_they_are_known():
    def words(days: int) -> str:
        animal = replace(BRUNO, age_days=days, age_basis=AgeBasis.ESTIMATED)
        return known_age(animal, date(2026, 1, 1))

    assert words(1) == "1 day (estimated)"
    assert words(56) == "8 weeks (estimated)"
    assert words(365) == "1 year (estimated)"
    assert words(1461) == "4 years (estimated)"
    assert known_age(BRUNO, date(2026, 1, 1)) == ""


def test_lines_of_lists_say_what_is_known_and_leave_out_the_rest():
    assert animal_line(BRUNO, date(2026, 1, 1)) == "dog · male"
    draft = OpenExam(
        "e1",
        scope="technician",
        examined=3,
        total=31,
        started="2026-01-01 09:30 +00:00",
    )
    assert draft_line(draft) == (
        "Technician exam · 3 of 31 parts · started 2026-01-01 09:30"
    )
    closed = ClosedExam(
        exam_id="e1", scope="intake", closed="2026-01-01 10:00 +00:00", gaps=2
    )
    assert closed_line(closed) == (
        "Intake look-over · closed 2026-01-01 10:00 · 2 not done"
    )
    assert closed_line(ClosedExam(exam_id="e1")) == "Exam · closed "


def test_progress_is_said_in_numbers():
    assert progress_words(Overview(12, 31, 2, 9)) == (
        "12 of 31 parts answered · 2 of 9 vitals"
    )
    assert progress_words(Overview(1, 2)) == "1 of 2 parts answered"


def test_exam_gone_on_with_by_another_says_who_began_it_and_whose_name_follows():
    today = NINE_O_CLOCK.local().date()
    assert begun_words(new_exam(), COLLEAGUE, today) == (
        "Tana Demo began this exam at 09:00. "
        "What you enter now carries your name: Uli Demo."
    )


def test_exam_gone_on_with_another_day_names_the_day():
    tomorrow = NINE_O_CLOCK.local().date() + timedelta(days=1)
    assert begun_words(new_exam(), TECHNICIAN, tomorrow) == (
        "You began this exam on 2025-11-25 at 09:00. "
        "What you enter now carries the time of now."
    )


def test_nothing_is_said_while_the_same_person_goes_on_the_same_day():
    today = NINE_O_CLOCK.local().date()
    assert begun_words(new_exam(), TECHNICIAN, today) == ""


def test_day_list_names_who_began_an_open_exam_of_somebody_else():
    row = OpenExam("e1", scope="technician", started="2026-01-02 10:00 +01:00")
    assert draft_line(row, "Uli Demo").endswith("started 2026-01-02 10:00 by Uli Demo")
