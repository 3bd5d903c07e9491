"""Every word of every screen and sheet comes out of the catalogues."""

import re
import tomllib
from pathlib import Path

import pytest

from exam_app.language import catalogue
from tests.browser.cheap_app import as_environment_asks
from tests.browser.in_process import opened, unlocked
from tests.browser.main_screens import (
    CLINIC,
    ENTRY,
    FIELD,
    PAIRED,
    QUESTIONS,
    RESTORE,
    act,
    filled_for,
    ids,
    show,
)
from tests.language.pseudo import Pseudo

DEMO = Path(__file__).resolve().parents[2] / "demo_patients"
COMPUTERS = {
    "field": FIELD,
    "clinic": CLINIC,
    "paired": PAIRED,
    "questions": QUESTIONS,
}
EVERY = 6
# Where a control keeps what a person reads or hears.
WORDS = (
    *("value", "content", "label", "text", "hint_text", "helper", "error", "title"),
    *("tooltip", "semantics_label", "subtitle", "suffix", "prefix", "counter"),
)
_RUN = re.compile(r"[A-Za-z][A-Za-z0-9'’. -]*")
# A code to be copied, as ``CWCN-P467``.
_CODE = re.compile(r"(?=.*[0-9])[A-Z0-9-]+")
# Units, signs and proper names that are the same in every language.
_SAME = re.compile(
    r"(?:kg|g|mg|lb|oz|mm|cm|in|mL|L|mmol|dL|mmHg|kPa|kcal|min|h|s|IU|µg|F|C|kB|MB|GB"
    r"|UTC|PIN|QR|PDF|CSV|JSON|FHIR|R4|R5|A4|ID|CRT|BCS|HTTP|HTTPS|JPEG|PNG|ISO|T|Z|x)"
    r"[0-9]*",
)


@pytest.fixture
def pseudo(monkeypatch):
    pseudo = Pseudo()
    monkeypatch.setattr(catalogue._Chosen, "translations", pseudo)
    monkeypatch.setattr(catalogue._Chosen, "code", "es")
    # A store that is opened chooses its language, and then reads this one.
    monkeypatch.setattr(catalogue, "_read", lambda _code: pseudo)


def demo_words() -> str:
    """Return all that was written by people of the demonstration, and typed here."""
    files = [path.read_text("utf-8") for path in sorted(DEMO.glob("*.toml"))]
    texts = [text for file in files for text in _strings(tomllib.loads(file))]
    places = (*FIELD, *CLINIC, *PAIRED, *QUESTIONS, *ENTRY, *RESTORE)
    return "\n".join([*texts, *(tap for place in places for tap in place.taps)])


def _strings(value):
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for one in value.values():
            yield from _strings(one)
    elif isinstance(value, list):
        for one in value:
            yield from _strings(one)


def english(driver, known):
    """Give what stands on the page in plain letters and is nobody's own words."""

    def look():
        found = set()
        for shown in driver._client.shown():
            texts = [shown.control.get(name) for name in WORDS]
            texts += [span.get("text") for span in shown.control.get("spans", [])]
            for text in texts:
                if isinstance(text, str):
                    found |= set(runs(text, known))
        return found

    return driver._look(look)


def runs(text, known):
    """Yield every run of words of a text that no catalogue and no person said."""
    for match in _RUN.finditer(text):
        run = match[0].strip(" .-")
        words = re.split(r"[ .-]+", run)
        if all(_SAME.fullmatch(w) or len(w) == 1 or w.isdecimal() for w in words):
            continue
        if run in known or _CODE.fullmatch(run):
            continue
        yield run


def started(computer, folder):
    if computer in ("field", "clinic"):
        return opened("--demo", *(["--clinic"] if computer == "clinic" else []))
    return unlocked(filled_for(computer, folder))


def left_in_english(computer, places, folder):
    """Return what stands in English on each of the places, by the place's name."""
    known, left = demo_words(), {}
    with as_environment_asks(), started(computer, folder) as driver:
        named = ids(driver)
        for place in places:
            show(driver, place, named)
            if found := english(driver, known):
                left[place.name] = sorted(found)
    return left


@pytest.mark.usefixtures("pseudo")
@pytest.mark.parametrize("computer", COMPUTERS)
def test_some_screens_say_nothing_outside_the_catalogues(computer, tmp_path):
    places = COMPUTERS[computer][::EVERY]
    assert left_in_english(computer, places, tmp_path) == {}


@pytest.mark.exhaustive
@pytest.mark.usefixtures("pseudo")
@pytest.mark.parametrize("computer", COMPUTERS)
def test_every_screen_says_nothing_outside_the_catalogues(computer, tmp_path):
    places = COMPUTERS[computer]
    assert left_in_english(computer, places, tmp_path) == {}
    print(f"{computer}: {len(places)} screens and sheets")


@pytest.mark.usefixtures("pseudo")
def test_setting_up_says_nothing_outside_the_catalogues(tmp_path):
    known, left = demo_words(), {}
    with as_environment_asks(), opened(folder=tmp_path / "exams") as driver:
        for place in ENTRY:
            for tap in place.taps:
                act(driver, tap)
            driver.wait(place.wait)
            if found := english(driver, known):
                left[place.name] = sorted(found)
    assert left == {}


def test_a_word_that_is_in_no_catalogue_is_found():
    assert list(runs("Ｓａｖｅ and close 3 kg", "")) == ["and close 3 kg"]
    assert list(runs("Ｗｅｉｇｈｔ: 12.4 kg, Moss", "Moss")) == []
