"""Animals from a CSV file by the screen: said, previewed, taken in, taken out again."""

import pytest

from exam_app.record.plain_form import to_plain
from tests.browser.driver import LAPTOP, PHONE
from tests.browser.handed import animal_named
from tests.browser.in_process import unlocked
from tests.browser.prepared import in_store, prepare_folder, unlock

SIZES = pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
# Of the range for tests of ISO 11784.
CHIP, OTHER_CHIP = "999000000000001", "999000000000002"
TABLE = (
    "Call name,Kind,Sex,Born,Microchip,Weight\n"
    f"Sorrel,dog,m,03/04/2020,{CHIP},12\n"
    f"Tansy,dog,f,13/04/2021,{OTHER_CHIP},9\n"
    "Wick,dragon,m,01/01/2020,,3\n"
    "Moss,dog,m,31/02/2020,,8\n"
)


def known(folder):
    def put(vault):
        animal = to_plain(animal_named(0))
        vault.animals.put({**animal, "name": "Old Sorrel", "chip": CHIP})

    in_store(folder, put)
    return folder


def file_of(tmp_path, text=TABLE, name="animals.csv"):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def column(driver, number, of):
    driver.click(f"table-column-{number}")
    driver.click(f"table-field-{of}")
    driver.gone(f"table-field-{of}")


def say_everything(driver):
    for number, of in enumerate(("name", "species", "sex", "birth_date", "chip")):
        if number != 2:  # "Sex" is the field's own name.
            column(driver, number, of)
    driver.wait_text("table-lacking", "the order of dates")
    driver.click("table-date_order-day-month-year")
    driver.gone("table-lacking")


def say_words(driver):
    for number, word, meaning in ((1, "m", "male"), (2, "f", "female")):
        driver.wait_text(f"table-word-{number}", f"“{word}”, a sex")
        driver.click(f"table-word-{number}")
        driver.click(f"table-meaning-{meaning}")
        driver.gone(f"table-meaning-{meaning}")
        driver.wait_text(f"table-word-{number}", f"Means {meaning}")


@SIZES
def test_a_table_is_said_previewed_taken_in_and_taken_out_again(
    run_app, open_page, tmp_path, size
):
    driver = open_page(size)
    unlock(driver, run_app(folder=known(prepare_folder(tmp_path / "exams"))))
    driver.go("/settings")
    driver.click("settings-table")
    driver.wait("table-file")
    driver.choose("table-file", [file_of(tmp_path)])
    driver.wait_text("table-lacking", "which column is the name")
    driver.shot(f"table-columns-{size['width']}")
    assert "not taken" in driver.text("table-column-5")
    assert "12, 9, 3" in driver.text("table-column-5")
    say_everything(driver)
    driver.wait_text("table-counts", "0 new animals, 0 like animals here, 4 refused")
    say_words(driver)
    driver.wait_text("table-counts", "1 new animal, 1 like animals here, 2 refused")
    refused = driver.text("table-refused")
    assert "Line 4 refused. Species: it was not said what 'dragon' means" in refused
    assert "Line 5 refused. Birth date: '31/02/2020' is no day written" in refused
    alike = driver.text("table-alike")
    assert "Line 2: Sorrel may be Old Sorrel, the same chip number" in alike
    assert "Line 3: Tansy, dog, female" in driver.text("table-new")
    driver.scroll_to("table-refused")
    driver.shot(f"table-rows-{size['width']}")
    driver.wait_text("table-take", "Take in 1 animal")
    driver.click("table-take")
    driver.wait_text("told", "1 animal taken in")
    driver.wait_text("table-earlier", "1: animals.csv")
    driver.shot(f"table-taken-{size['width']}")
    driver.go("/animals")
    driver.type("animal-search", "Tansy")
    driver.wait_text("screen", "Tansy")
    driver.go("/settings/table")
    driver.click("table-undo-1")
    driver.click("table-undo-now")
    driver.wait_text("told", "1 animal removed")
    driver.wait_text("table-earlier", "taken out again")


def test_a_row_like_an_animal_here_comes_in_only_when_that_is_said(tmp_path):
    with unlocked(known(prepare_folder(tmp_path / "exams")), PHONE) as driver:
        driver.go("/settings/table")
        text = f"name,species,chip\nSorrel,dog,{CHIP}\n"
        driver.choose("table-file", [file_of(tmp_path, text)])
        driver.wait_text("table-counts", "0 new animals, 1 like animals here")
        driver.wait_text("table-take", "Take in 0 animals")
        driver.click("table-also")
        driver.wait_text("table-take", "Take in 1 animal")
        driver.click("table-take")
        driver.wait_text("told", "1 animal taken in")
        names = [one.name for one in driver.app.session.vault.animals.all()]
        assert sorted(names) == ["Old Sorrel", "Sorrel"]


def test_what_was_said_is_there_again_after_another_screen_and_for_the_next_table(
    tmp_path,
):
    with unlocked(known(prepare_folder(tmp_path / "exams")), PHONE) as driver:
        driver.go("/settings/table")
        driver.choose("table-file", [file_of(tmp_path)])
        say_everything(driver)
        say_words(driver)
        driver.click("table-alike-0")
        driver.wait("animal-save")
        driver.go("/settings/table")
        driver.wait_text("table-counts", "1 new animal, 1 like animals here")
        driver.click("table-take")
        driver.wait_text("told", "1 animal taken in")
        assert not driver.has("table-counts")
        driver.choose("table-file", [file_of(tmp_path)])
        # The other one is here now; nothing has to be said again.
        driver.wait_text("table-counts", "0 new animals, 2 like animals here")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"name,species\nSorr\xe9l,dog\n", "not written in the encoding"),
        (b'name,species\n"Sorrel,dog\n', "cannot be read as a table"),
        (b"name,name\na,b\n", "stands twice"),
        (b"", "no names of columns"),
    ],
)
def test_a_file_that_is_none_says_why_and_another_one_is_taken(tmp_path, content, said):
    with unlocked(prepare_folder(tmp_path / "exams"), PHONE) as driver:
        driver.go("/settings/table")
        driver.choose("table-file", [file_of(tmp_path, content)])
        driver.wait_text("table-problem", said)
        good = "name;species\nSorrél;dog\n".encode("cp1252")
        driver.choose("table-file", [file_of(tmp_path, good)])
        driver.click("table-encoding-windows-1252")
        driver.click("table-separator-semicolon")
        driver.wait_text("table-new", "Line 2: Sorrél, dog")


def test_a_choice_that_was_made_stands_chosen(tmp_path):
    with unlocked(prepare_folder(tmp_path / "exams"), PHONE) as driver:
        driver.go("/settings/table")
        driver.choose("table-file", [file_of(tmp_path, "a,b\nSorrel,dog\n")])
        column(driver, 0, "name")
        driver.wait_text("table-column-0", "Name")
        # Taken by another column, it is the first one's no more.
        column(driver, 1, "name")
        driver.wait_text("table-column-0", "not taken")
        column(driver, 1, "none")
        driver.wait_text("table-column-1", "not taken")
        driver.wait_text("table-lacking", "which column is the name")
