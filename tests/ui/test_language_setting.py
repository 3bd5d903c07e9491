"""The language is chosen at the first start or in the settings, and holds at once."""

import pytest

from exam_app.language import catalogue
from exam_app.language.catalogue import LANGUAGES, use
from tests.bracketed import Bracketed
from tests.browser.driver import LAPTOP, PHONE
from tests.browser.in_process import give_passphrase, opened, unlocked
from tests.browser.prepared import prepare_folder

MACHINE = "translated with a machine's help, not checked by a veterinarian"


@pytest.fixture(autouse=True)
def _english_afterwards():
    yield
    use("en")


@pytest.fixture
def words(monkeypatch):
    """Give Spanish words, which one test takes away again."""
    there = {"es": Bracketed(), "en": catalogue._AS_WRITTEN}

    def read(code):
        if code not in there:
            raise FileNotFoundError(code)
        return there[code]

    monkeypatch.setattr(catalogue, "_read", read)
    return there


@pytest.fixture
def folder(tmp_path):
    return prepare_folder(tmp_path / "exams")


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
@pytest.mark.usefixtures("words")
def test_each_language_says_its_name_and_what_is_to_be_known_of_it(folder, size):
    with unlocked(folder, size) as driver:
        driver.go("/settings")
        driver.wait_text("settings-group-language", "English")
        driver.click("settings-group-language")
        for code, name in LANGUAGES.items():
            driver.wait_text(f"language-{code}", name)
        driver.wait_text("language-es", MACHINE)


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
@pytest.mark.usefixtures("words")
def test_another_language_holds_at_once_on_every_screen(folder, size):
    with unlocked(folder, size) as driver:
        driver.go("/settings/language")
        driver.click("language-es")
        driver.wait_text("screen", "⟦Language⟧")
        driver.wait_text("language-es", "Español: ⟦")
        driver.wait_text("language-en", "English")
        for route, there in {
            "/settings": "settings-about",
            "/settings/looks": "look-dark",
            "/people": "person-add",
            "/animals": "animal-add",
            "/about": "settings-sources",
        }.items():
            driver.go(route)
            driver.wait_text(there, "⟦")
        driver.go("/settings/language")
        driver.click("language-en")
        driver.wait_text("language-es", f"Español: {MACHINE}")
        assert "⟦" not in driver.text("screen")


@pytest.mark.usefixtures("words")
def test_the_next_start_speaks_the_language_that_was_chosen(folder):
    with unlocked(folder) as driver:
        driver.go("/settings/language")
        driver.click("language-es")
        driver.wait_text("screen", "⟦Language⟧")
    with opened(folder=folder) as driver:
        # Sealed: nobody knows yet what was chosen, and the system speaks English.
        driver.wait_text("cover", "Locked")
        give_passphrase(driver)
        driver.go("/settings/language")
        driver.wait_text("screen", "⟦Language⟧")
        driver.click("examiner")
        driver.click("lock-now")
        driver.wait_text("cover", "⟦Locked⟧")


@pytest.mark.usefixtures("words")
def test_the_lock_speaks_the_systems_language_before_the_store_is_open(
    folder, monkeypatch
):
    monkeypatch.setenv("LC_ALL", "es_ES.UTF-8")
    with opened(folder=folder) as driver:
        driver.wait_text("cover", "⟦Locked⟧")


def test_words_that_are_not_there_mean_english_with_a_sentence(folder, words):
    del words["es"]
    with unlocked(folder) as driver:
        driver.go("/settings/language")
        driver.click("language-es")
        driver.wait_text("language-problem", "are missing or damaged")
        driver.go("/settings")
        driver.wait_text("settings-group-language", "English")
        assert not driver.has("language-missing")


def test_chosen_words_that_are_gone_are_told_until_another_is_chosen(folder, words):
    with unlocked(folder) as driver:
        driver.go("/settings/language")
        driver.click("language-es")
        driver.wait_text("screen", "⟦Language⟧")
    del words["es"]
    with unlocked(folder) as driver:
        driver.wait_text("language-missing", "everything is shown in English")
        driver.click("language-missing-open")
        driver.click("language-en")
        driver.gone("language-missing")


@pytest.mark.usefixtures("words")
def test_the_first_start_offers_the_systems_language_and_every_other(
    tmp_path, monkeypatch
):
    monkeypatch.setenv("LC_ALL", "es_ES.UTF-8")
    with opened(folder=tmp_path / "exams") as driver:
        driver.wait_text("setup-computer-field", "⟦Field device")
        driver.type("setup-practice", "Hill practice")
        driver.click("language-offer")
        driver.wait_text("language-es", "Español")
        driver.click("language-en")
        driver.wait_text("setup-computer-field", "Field device: exams")
        driver.gone("sheet")
        assert driver.value("setup-practice") == "Hill practice"
        driver.click("language-offer")
        driver.click("language-es")
        driver.wait_text("setup-next", "⟦Next⟧")
        driver.click("setup-computer-field")
        driver.type("setup-phone", "555 0123")
        driver.click("setup-next")
        driver.wait_text(
            "screen",
            "⟦{step} of {count}: {title}⟧".format(
                step=2, count=3, title="⟦Passphrase⟧"
            ),
        )
        driver.type("setup-passphrase", "seven blue kettles sing")
        driver.type("setup-passphrase-again", "seven blue kettles sing")
        driver.click("setup-next")
        driver.type("person-name", "Alex Rowan")
        driver.click("person-role-technician")
        driver.type("person-pin", "4321")
        driver.type("person-pin-again", "4321")
        driver.click("setup-next")
        driver.wait_text("screen", "⟦Recovery code⟧")
        code = driver.text("setup-recovery-code").strip().split()[-1]
        driver.type("setup-recovery-typed", code)
        driver.click("setup-next")
        driver.wait("examiner")
        monkeypatch.setenv("LC_ALL", "C.UTF-8")
        driver.go("/settings")
        driver.wait_text("settings-group-language", "Español")
