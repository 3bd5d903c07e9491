"""The hand that does the work: the thumb stays at the foot and the list moves."""

from dataclasses import replace

import pytest

from exam_app.domain.animal.signalment import Animal
from exam_app.domain.protocol.protocol import Scope
from tests.browser.driver import LAPTOP, PHONE, SMALL
from tests.browser.exam_drafts import BRAMBLE, EXAM_ID, SMOKE, prepare_exam
from tests.browser.prepared import unlock
from tests.browser.whole_exam import (
    Hand,
    answer_row,
    give_words,
    take_rate,
    take_weight,
)

SIZES = pytest.mark.parametrize("size", [PHONE, SMALL], ids=["phone", "small"])
EXAM = f"/exam/{EXAM_ID}"
SNAPS = replace(BRAMBLE, dangers="may snap when the hind feet are lifted")
STALLION = Animal("9" * 32, "Ash Demo", "horse", is_demo=True)


def begin(driver, folder, run_app) -> None:
    unlock(driver, run_app(folder=folder))
    driver.go(EXAM)
    driver.wait("exam-progress")


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_what_is_answered_folds_and_the_next_open_place_comes_up(
    size, tmp_path, run_app, open_page
):
    driver = open_page(size)
    begin(driver, prepare_exam(tmp_path / "exams"), run_app)
    hand = Hand(driver)
    hand.tap("region-distance-normal")
    driver.wait_text("region-distance-state", "No abnormality")
    take_weight(hand)
    take_rate(hand, "resting", "20")
    driver.wait_text("screen", "Still resting, as said at the rate before?")
    take_rate(hand, "", "90")
    hand.tap("vital-reason-refused")
    driver.wait_text("vital-temperature", "refused")
    give_words(hand)
    driver.wait("region-head-normal")
    assert hand.taps.count("vital-save") == 3


def test_a_pair_stays_until_its_second_side_is_answered(phone, tmp_path, run_app):
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("eyes", "nose"))
    begin(phone, folder, run_app)
    phone.click("region-eyes.right-normal")
    phone.wait_text("region-eyes.right-state", "Right: No abnormality")
    phone.wait_text("region-eyes.left-normal", "Eyes, left: no abnormality")
    phone.click("region-eyes.left-normal")
    phone.wait_text("region-eyes.left-state", "Both: no abnormality")
    phone.wait("region-nose-normal")


def test_the_pad_takes_digits_after_two_parts_were_answered(phone, tmp_path, run_app):
    begin(phone, prepare_exam(tmp_path / "exams"), run_app)
    hand = Hand(phone)
    for part in ("eyes", "ears"):
        answer_row(hand, part)
    phone.click("vital-weight")
    take_weight(hand)


def test_undo_stands_beside_the_answered_line_and_gives_way_to_redo(
    phone, tmp_path, run_app
):
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("eyes", "nose"))
    begin(phone, folder, run_app)
    assert not phone.has("exam-undo")
    phone.click("region-eyes-normal")
    phone.wait_text("exam-undo", "Take back: Eyes, both: no abnormality")
    phone.click("exam-undo")
    phone.wait_text("told", "Taken back: Eyes, both: no abnormality")
    phone.wait_text("exam-redo", "Do again: Eyes, both: no abnormality")
    phone.click("exam-redo")
    phone.wait_text("told", "Done again: Eyes, both: no abnormality")
    phone.wait_text("exam-progress", "2 of 3")
    phone.wait("region-nose-normal")


def test_undo_says_after_a_restart_why_nothing_can_be_taken_back(
    phone, tmp_path, run_app
):
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("eyes", "nose"))
    app = run_app(folder=folder)
    unlock(phone, app)
    phone.go(EXAM)
    phone.click("region-eyes-normal")
    phone.wait_text("saved", "Saved")
    unlock(phone, run_app(folder=app.killed()))
    phone.go(EXAM)
    # It goes on where it was left, and offers no step of before.
    phone.wait("region-nose-normal")
    assert not phone.has("exam-undo")
    phone.click("exam-more")
    phone.click("more-undo")
    phone.wait_text("told", "nothing was changed since the exam was opened here")


def test_animal_named_amid_an_exam_is_called_so_and_undo_names_the_last_answer(
    phone, tmp_path, run_app
):
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("eyes", "nose"))
    begin(phone, folder, run_app)
    phone.click("region-eyes-normal")
    phone.wait_text("exam-progress", "2 of 3")
    phone.go(f"/animal/{BRAMBLE.animal_id}")
    phone.type("animal-name", "Rex Demo")
    phone.click("animal-edit")
    phone.wait("animal-search")
    phone.go("/")
    phone.wait_text(f"day-draft-{EXAM_ID}", "Rex Demo")
    phone.click(f"day-draft-{EXAM_ID}")
    phone.wait_text("screen", "Rex Demo, dog")
    phone.click("exam-review")
    phone.wait_text("review-undo", "Take back: Eyes, both: no abnormality")
    phone.click("back")
    phone.click("exam-undo")
    phone.wait_text("told", "Taken back: Eyes, both: no abnormality")
    phone.wait_text("exam-progress", "0 of 3")
    phone.click("exam-review")
    # Nothing is left to be taken back, and nothing offers to.
    phone.wait("review-status")
    assert not phone.has("review-undo")
    phone.click("back")
    phone.wait_text("screen", "Rex Demo, dog")


def test_back_and_review_lead_to_the_place_that_was_left(phone, tmp_path, run_app):
    begin(phone, prepare_exam(tmp_path / "exams"), run_app)
    phone.click("vital-temperature")
    phone.wait("vital-site-rectal")
    phone.click("exam-review")
    phone.wait("review-status")
    phone.click("back")
    phone.wait("vital-site-rectal")
    phone.click("back")
    phone.wait("day-new")
    phone.click(f"day-draft-{EXAM_ID}")
    phone.wait("vital-site-rectal")


def test_a_late_tap_answers_no_part_that_has_just_come_up(
    phone, tmp_path, run_app, monkeypatch
):
    monkeypatch.setenv("TEST_GUARD", "600")
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("eyes", "nose"))
    begin(phone, folder, run_app)
    phone.click("region-eyes-normal")
    phone.wait_text("region-eyes-normal", "Eyes, both")
    assert "0 of 3" in phone.text("exam-progress")


def test_several_finds_of_one_part_are_a_tap_each(phone, tmp_path, run_app):
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("eyes", "nose"))
    begin(phone, folder, run_app)
    hand = Hand(phone)
    hand.tap("region-eyes-finding")
    hand.tap("finding-side-both")
    hand.tap("finding-term-red")
    phone.gone("finding-term-red")
    hand.tap("finding-term-cloudy")
    phone.wait_text("finding-cloudy-card", "Cornea cloudy")
    hand.tap("finding-done")
    phone.gone("sheet")
    phone.wait_text("region-eyes-row", "Left: Red")
    phone.wait_text("region-eyes-row", "Left: Cornea cloudy")
    phone.wait_text("region-eyes-row", "Right: Cornea cloudy")
    assert len(hand.taps) == 5


def test_sounds_graded_ask_for_the_grade_before_they_close(phone, tmp_path, run_app):
    folder = prepare_exam(
        tmp_path / "exams", Scope.FOCUSED, ("gut_upper",), animal=STALLION
    )
    begin(phone, folder, run_app)
    for side, leave in (("left", "finding-done"), ("right", "sheet-close")):
        phone.click("region-gut_upper-finding")
        phone.click(f"finding-side-{side}")
        phone.click("finding-term-graded")
        # The sheet before has a way out of the same name.
        phone.named("finding-grade-")
        phone.click(leave)
        phone.wait_text("finding-ungraded", "No grade is chosen for Sounds graded.")
        phone.shot("finding-ungraded-phone")
        phone.click(leave)
        phone.gone("sheet")


def test_a_graded_find_chosen_with_others_is_not_left_without_its_grade(
    phone, tmp_path, run_app
):
    folder = prepare_exam(
        tmp_path / "exams", Scope.FOCUSED, ("gut_upper",), animal=STALLION
    )
    begin(phone, folder, run_app)
    phone.click("region-gut_upper-finding")
    phone.click("finding-side-left")
    phone.wait("finding-term-graded")
    first = next(n for n in phone.names("finding-term-") if not n.endswith("-graded"))
    phone.click(first)
    # What else was found stands on the sheet that comes then.
    phone.wait("finding-done")
    phone.click("finding-term-graded")
    phone.wait("finding-graded-card")
    phone.click("finding-done")
    phone.wait_text("finding-ungraded", "No grade is chosen for Sounds graded.")
    phone.shot("finding-cards-ungraded-phone")
    grade = phone.named("finding-graded-grade-")
    phone.click(grade)
    phone.click("finding-done")
    phone.gone("sheet")


def test_a_find_chosen_by_mistake_is_taken_back_by_a_second_tap(
    phone, tmp_path, run_app
):
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("eyes", "nose"))
    begin(phone, folder, run_app)
    phone.click("region-eyes-finding")
    phone.click("finding-side-both")
    phone.click("finding-term-red")
    phone.wait("finding-done")
    phone.click("finding-term-cloudy")
    phone.wait("finding-cloudy-card")
    phone.shot("finding-cards-phone")
    phone.click("finding-cloudy-severity-slight")
    phone.click("finding-term-cloudy")
    phone.gone("finding-cloudy-card")
    phone.click("finding-done")
    phone.gone("sheet")
    phone.wait_text("region-eyes-row", "Left: Red")
    assert "Left: Cornea" not in phone.text("region-eyes-row")


def test_the_sex_is_asked_before_it_is_said_by_an_answer(phone, tmp_path, run_app):
    folder = prepare_exam(tmp_path / "exams", animal=SMOKE)
    begin(phone, folder, run_app)
    phone.click("region-genital_male-normal")
    phone.wait_text("sheet", "is it male?")
    phone.click("sex-other")
    phone.wait_text("region-genital_male-row", "other sex")


def test_a_part_is_made_current_by_typing_its_name(phone, tmp_path, run_app):
    begin(phone, prepare_exam(tmp_path / "exams"), run_app)
    phone.click("exam-more")
    phone.click("exam-find")
    phone.type("find-name", "tai")
    phone.wait_text("find-tail", "open")
    phone.shot("find-phone")
    phone.click("find-tail")
    phone.gone("sheet")
    phone.wait("region-tail-normal")
    phone.go(f"{EXAM}/region/eyes")
    phone.click("exam-more")
    phone.click("exam-find")
    phone.type("find-name", "weight")
    phone.click("find-vital-weight")
    phone.wait("vital-save")


def test_a_laptops_key_and_enter_bring_a_part_up(laptop, tmp_path, run_app):
    begin(laptop, prepare_exam(tmp_path / "exams"), run_app)
    laptop.wait("region-distance-normal")
    laptop.press("F8")
    laptop.type("find-name", "tail")
    laptop.wait("find-tail")
    laptop.shot("find-laptop")
    laptop.press("Enter")
    laptop.gone("sheet")
    laptop.wait("region-tail-normal")


@pytest.mark.parametrize(
    ("mine", "others"),
    [("genital_male", "genital_female"), ("genital_female", "genital_male")],
)
@pytest.mark.parametrize("way", ["list", "page"])
def test_no_tap_answers_the_parts_of_a_sex_before_the_sex_was_asked(
    way, mine, others, phone, tmp_path, run_app
):
    begin(phone, prepare_exam(tmp_path / "exams", animal=SMOKE), run_app)
    if way == "page":
        phone.go(f"{EXAM}/region/{mine}")
    phone.click(f"region-{mine}-normal")
    phone.wait_text("sheet", "The sex is not noted.")
    phone.click("sheet-close")
    phone.gone("sheet")
    assert not phone.has(f"region-{mine}-state")
    phone.click(f"region-{mine}-normal")
    phone.click("sex-own")
    phone.gone("sheet")
    phone.go(EXAM)
    phone.wait(f"region-{mine}-state")
    phone.wait_text(f"region-{others}-row", "other sex")


@pytest.mark.chromium_only("places are measured")
@SIZES
def test_fixed_parts_take_at_most_35_hundredths_of_a_phones_height(
    size, tmp_path, run_app, open_page
):
    # All but the list counts: header, strip, the answers and the room between them.
    phone = open_page(size)
    begin(phone, prepare_exam(tmp_path / "exams"), run_app)
    phone.click("region-head-normal")
    phone.wait("region-eyes-normal")
    listed = phone.find("exam-list").first.bounding_box()
    fixed = 1 - listed["height"] / size["height"]
    print(f"\n{fixed:.1%} of {size['height']} points are not the list")
    assert fixed <= 0.35


@pytest.mark.chromium_only("places are measured")
@SIZES
def test_with_a_caution_the_fixed_parts_stay_below_35_hundredths_but_for_the_answers(
    size, tmp_path, run_app, open_page
):
    phone = open_page(size)
    begin(phone, prepare_exam(tmp_path / "exams", animal=SNAPS), run_app)
    phone.click("region-head-normal")
    phone.wait("region-eyes-normal")
    listed, zone = (
        phone.find(name).first.bounding_box() for name in ("exam-list", "exam-zone")
    )
    fixed = 1 - (listed["height"] + zone["height"]) / size["height"]
    print(f"\n{fixed:.1%} of {size['height']} points are neither list nor answers")
    assert fixed <= 0.35


def bring_up_vital(driver, folder, run_app, vital) -> None:
    """Make a vital current, and let the page be drawn until nothing moves."""
    begin(driver, folder, run_app)
    driver.click(f"vital-{vital}")
    driver.wait("vital-save")
    driver.frames(15)


@pytest.mark.chromium_only("places are measured")
@SIZES
@pytest.mark.parametrize("vital", ["heart_rate", "temperature", "weight"])
def test_all_that_a_vital_needs_is_in_view_with_a_caution_that_is_read_whole(
    vital, size, tmp_path, run_app, open_page
):
    driver = open_page(size)
    folder = prepare_exam(tmp_path / "exams", animal=SNAPS)
    bring_up_vital(driver, folder, run_app, vital)
    driver.wait_text("handling-notice", SNAPS.dangers)
    needed = [
        *(f"vital-{vital}", "vital-typed", "vital-save", "exam-body", "exam-urgent"),
        *(
            one
            for group in ("state", "site", "unit", "estimate")
            for one in driver.names(f"vital-{group}-")
        ),
    ]
    notice = driver.find("handling-notice").first.bounding_box()
    top = 0 if size == PHONE else notice["y"] + notice["height"]
    for name in needed:
        box = driver.find(name).first.bounding_box()
        assert box["y"] + box["height"] <= size["height"] + 1, name
        above = name in ("exam-body", "exam-urgent", f"vital-{vital}")
        assert box["y"] >= (0 if above else top) - 1, name
        if name != f"vital-{vital}":
            assert box["height"] >= 55.5, name


@pytest.mark.chromium_only("places are measured")
@pytest.mark.parametrize("vital", ["heart_rate", "temperature", "weight"])
def test_a_laptop_shows_what_a_vital_is_above_its_pad_with_a_caution(
    vital, laptop, tmp_path, run_app
):
    folder = prepare_exam(tmp_path / "exams", animal=SNAPS)
    bring_up_vital(laptop, folder, run_app, vital)
    laptop.wait_text("handling-notice", SNAPS.dangers)
    names = laptop.names("vital-state-") + laptop.names("vital-site-")
    first = min(
        laptop.find(one).first.bounding_box()["y"]
        for one in (*names, "vital-typed", "pad-1")
    )
    strip = laptop.find("exam-urgent").first.bounding_box()
    # A title and two lines of how it is taken.
    assert first - (strip["y"] + strip["height"]) >= 80
    save = laptop.find("vital-save").first.bounding_box()
    assert save["y"] + save["height"] <= LAPTOP["height"]


def test_a_vital_of_a_low_phone_has_the_drawing_as_a_part_has(
    tmp_path, run_app, open_page
):
    driver = open_page(SMALL)
    begin(driver, prepare_exam(tmp_path / "exams"), run_app)
    for place in ("vital-temperature", "vital-mucous_membrane_colour"):
        driver.click(place)
        driver.click("exam-body")
        driver.wait_text("body-name", "Tap a part")
        driver.click("sheet-close")
        driver.gone("sheet")


def test_header_of_a_low_phone_holds_urgent_progress_and_what_else_there_is(
    tmp_path, run_app, open_page
):
    driver = open_page(SMALL)
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("eyes", "nose"))
    begin(driver, folder, run_app)
    driver.wait_text("exam-progress", "0 of 3 parts")
    driver.click("region-eyes-normal")
    driver.wait_text("exam-progress", "2 of 3 parts")
    driver.wait_text("saved", "Saved")
    driver.click("exam-urgent")
    driver.wait_text("sheet", "What is urgent?")
    driver.click("sheet-close")
    driver.gone("sheet")
    driver.click("exam-more")
    driver.wait("exam-stop")
    driver.click("exam-review")
    driver.wait("review-status")


def test_one_heading_of_a_phone_leads_to_all_of_them(phone, tmp_path, run_app):
    begin(phone, prepare_exam(tmp_path / "exams"), run_app)
    phone.wait_text("exam-headings", "From a distance 1")
    phone.click("exam-headings")
    phone.wait_text("sheet", "Done and planned")
    phone.click("exam-jump-head")
    phone.gone("sheet")
    phone.wait("region-head-normal")
    phone.wait_text("exam-headings", "Head")


@pytest.mark.chromium_only("places are measured")
def test_eight_parts_stand_on_one_phone_screen(phone, tmp_path, run_app):
    begin(phone, prepare_exam(tmp_path / "exams"), run_app)
    phone.click("region-head-normal")
    phone.wait("region-eyes-normal")
    top = phone.find("exam-list").first.bounding_box()
    inside = [
        name
        for name in phone.names("region-")
        if name.endswith("-row")
        and (box := phone.find(name).first.bounding_box())
        and box["y"] >= top["y"] - 1
        and box["y"] + box["height"] <= top["y"] + top["height"] + 1
    ]
    print(f"\n{len(inside)} parts: {inside}")
    assert len(inside) >= 8


@pytest.mark.chromium_only("places are measured")
@SIZES
@pytest.mark.parametrize("vital", ["heart_rate", "temperature", "weight"])
def test_no_key_moves_while_a_vital_is_entered_and_save_is_in_view(
    vital, size, tmp_path, run_app, open_page
):
    driver = open_page(size)
    folder = prepare_exam(tmp_path / "exams")
    bring_up_vital(driver, folder, run_app, vital)
    watched = [*driver.names("pad-"), "vital-save", "vital-typed"]

    def places():
        return [driver.find(name).first.bounding_box() for name in watched]

    before = places()
    assert all(box["y"] + box["height"] <= size["height"] for box in before if box)
    taps = driver.names("vital-state-") or driver.names("vital-site-")
    for tap in [*taps, "pad-1", "pad-0", "pad-0"]:
        driver.touch(tap) if size == PHONE else driver._tappable(tap).click()
        driver.frames(6)
        assert places() == before, tap


@SIZES
def test_what_was_parked_stays_beside_the_headings_of_a_phone(
    size, tmp_path, run_app, open_page
):
    parts = ("eyes", "nose", "mouth")
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, parts)
    phone = open_page(size)
    begin(phone, folder, run_app)
    for part in ("eyes", "nose"):
        phone.click(f"region-{part}-more")
        if part == "eyes":
            phone.click("more-side-both")
        phone.click("more-choice-later")
        phone.gone("sheet")
    phone.wait_text("exam-parked-next", "2")
    phone.wait("region-mouth-normal")
    phone.click("exam-parked-next")
    phone.wait("region-eyes-normal")
    phone.click("exam-parked-next")
    phone.wait("region-nose-normal")
    phone.click("region-nose-normal")
    phone.wait_text("exam-parked-next", "1")
