"""What is decided before the first touch, and the short lines lists show."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

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
    short_progress,
)
from exam_app.domain.animal.ages import age_on
from exam_app.domain.animal.signalment import AgeBasis
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome, Finding
from exam_app.domain.exam.people import Attribution, Role
from exam_app.domain.exam.region_states import Conclusion, RegionEntry
from exam_app.domain.exam.review import how_words
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Caution, Scope
from exam_app.protocols.loader import available, load_protocol
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


# What a person says who adds one animal, for every species that comes with the program.
ONE = {
    "camelid": "a llama or alpaca",
    "cat": "a cat",
    "cattle": "a cow or bull",
    "chicken": "a chicken",
    "dog": "a dog",
    "donkey": "a donkey",
    "ferret": "a ferret",
    "goat": "a goat",
    "guinea_pig": "a guinea pig",
    "horse": "a horse",
    "pig": "a pig",
    "rabbit": "a rabbit",
    "sheep": "a sheep",
}


def test_one_animal_of_every_species_is_added_in_words_that_people_use():
    assert {s: load_protocol(s).protocol.one_animal for s in available()} == ONE
    assert replace(DOG, label="Alpaca").one_animal == "an alpaca"


def test_kind_behaviour_is_no_warning_and_one_doubtful_word_makes_it_one():
    def warns(behaviour: str) -> str:
        return own_dangers(replace(BRUNO, behaviour=behaviour))

    assert warns("friendly, licks") == ""
    assert warns("Very gentle; used to being handled.") == ""
    assert warns("friendly, but not with men") == "friendly, but not with men"
    assert warns("not friendly") == "not friendly"
    assert warns("shy") == "shy"
    licks = replace(BRUNO, behaviour="friendly, licks", dangers="kicks at the left")
    assert own_dangers(licks) == "kicks at the left"


@pytest.mark.parametrize("species", available())
def test_what_hurts_at_once_stands_before_what_one_may_catch_and_the_law(species):
    kinds = [kind for kind, _ in cautions_by_kind(load_protocol(species).protocol)]
    later = {"Zoonosis", "Hygiene", "Law"}
    first_later = min(kinds.index(kind) for kind in kinds if kind in later)
    assert set(kinds[first_later:]) <= later
    assert kinds[-1] == "Law"
    at_once = {"Bite", "Kick", "Crush"} & set(kinds)
    assert set(kinds[: len(at_once)]) == at_once


def test_ewes_and_horses_begin_with_what_kicks_and_crushes():
    def first(species: str) -> list[str]:
        protocol = load_protocol(species).protocol
        return [kind for kind, _ in cautions_by_kind(protocol)][:2]

    assert first("sheep") == ["Crush", "Kick"]
    assert first("horse") == ["Crush", "Kick"]


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
    assert progress_words(Overview(12, 31, 2, 9)) == ("12 of 31 parts\n2 of 9 vitals")
    assert progress_words(Overview(1, 2)) == "1 of 2 parts"


def test_a_low_phone_says_the_same_in_numbers_alone():
    assert short_progress(Overview(12, 31, 2, 9)) == "12/31 · 2/9"
    assert short_progress(Overview(1, 2)) == "1/2"


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


@pytest.mark.parametrize("species", available())
def test_what_is_said_to_volunteers_is_read_by_nobody_else(species):
    vitals = load_protocol(species).protocol.vitals
    for vital in vitals:
        for role in (Role.TECHNICIAN, Role.VETERINARIAN):
            told = how_words(vital, role)
            assert "olunteer" not in told
            assert vital.how.startswith(told.rstrip("."))
        assert how_words(vital, Role.VOLUNTEER) == vital.how


def test_how_a_goats_temperature_is_taken_keeps_what_everybody_needs():
    vital = load_protocol("goat").protocol.vital("temperature")
    assert how_words(vital, Role.TECHNICIAN) == (
        "Stand at the side, not behind. Against the wall of the gut: dung reads cold."
    )
