"""From each screen that has something to print: two taps, and a PDF is offered."""

import pytest

from tests.browser.driver import LAPTOP, PHONE
from tests.browser.in_process import opened
from tests.browser.main_screens import Place, ids, show
from tests.printed import sizes_of, words_of

RECORD = Place("record", "/record/{Ridge}", (), "record-signed", "record")
PLACES = {
    "record": (RECORD, "record", "Ridge"),
    "take-home": (RECORD, "take-home", "NOTREVIEWEDBYAVETERINARIAN"),
    "draft": (Place("d", "/record/{Moss}/draft", (), "screen"), "draft", "NOTCLOSED"),
    "kennel": (Place("k", "/kennel/{Vetch}", kind="animal"), "kennel-card", "Vetch"),
    "blank": (
        Place("start", "/start/{Ridge}", (), "start-go", "animal"),
        "blank-form",
        "blankform",
    ),
}


@pytest.fixture(scope="module", params=[PHONE, LAPTOP], ids=["phone", "laptop"])
def shown(request):
    with opened("--demo", size=request.param) as driver:
        yield driver, ids(driver)


def print_from(driver):
    """Tap the button, behind "More" where a phone keeps it there."""
    if not driver.has("print") and driver.has("record-more"):
        driver.click("record-more")
    driver.wait("print")
    driver.click("print")
    driver.wait("print-paper-letter")


@pytest.mark.slow
@pytest.mark.parametrize("what", PLACES)
def test_a_sheet_is_offered_from_its_screen_on_the_paper_chosen(shown, what):
    driver, known = shown
    place, sheet, words = PLACES[what]
    for paper, width in (("letter", 612), ("a4", 595.28)):
        show(driver, place, known)
        print_from(driver)
        driver.click(f"print-paper-{paper}")
        name, content = driver.download(f"print-sheet-{sheet}")
        assert name.startswith(sheet)
        assert name.endswith(".pdf")
        assert words in words_of(content)
        assert sizes_of(content)[0][0] == pytest.approx(width, abs=0.5)
        driver.gone("print-paper-a4")


def test_the_paper_chosen_is_kept_for_the_next_time(shown):
    driver, known = shown
    show(driver, RECORD, known)
    print_from(driver)
    driver.click("print-paper-letter")
    driver.download("print-sheet-record")
    show(driver, RECORD, known)
    print_from(driver)
    _, content = driver.download("print-sheet-record")
    assert sizes_of(content)[0][0] == pytest.approx(612)


def test_a_round_is_printed_with_its_rows_and_some_left_open(shown):
    driver, known = shown
    place = Place("round", "/round/{Hollow flock}", wait="round-more")
    show(driver, place, known)
    driver.click("round-more")
    driver.click("round-print")
    driver.wait("print-paper-letter")
    _, content = driver.download("print-sheet-round")
    assert "Hollowflock" in words_of(content)
