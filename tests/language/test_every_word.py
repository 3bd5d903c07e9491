"""Every word of every screen and sheet comes out of the catalogues."""

import re
import tomllib
from functools import cache
from pathlib import Path

import pytest

from exam_app.app.queries.kept_records import read_kept
from exam_app.domain.animal.groups import young_word
from exam_app.domain.exam.corrections import statements
from exam_app.language import catalogue
from exam_app.language.catalogue import LANGUAGES
from exam_app.protocols.loader import available, load_protocol
from sync.trust.words import WORDS as SPOKEN
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
# A hash or a key, or the first digits of one, and the path of a file.
_NO_WORDS = re.compile(
    r"(?<![^\W_])(?=[0-9a-f]*[0-9])(?=[0-9a-f]*[a-f])[0-9a-f]{12,64}(?![^\W_])|(?<!\S)/\S+"
)
_SOURCES = ("sources-dog", "sources-ranges")
# Where a row of the store keeps the name of a person, a device or an animal.
_NAMES = frozenset(("name", "initials", "by", "decided_by", "paired_by", "revoked_by"))
# How many words a hash is read out in.
_HASH_WORDS = (6, 7)
_SPOKEN = frozenset(SPOKEN)
# Units, signs and proper names that are the same in every language.
_SAME = re.compile(
    r"(?:kg|g|mg|lb|oz|mm|cm|in|mL|L|mmol|dL|mmHg|kPa|kcal|min|h|s|IU|µg|F|C|kB|MB|GB"
    r"|UTC|SHA|PIN|QR|PDF|CSV|JSON|FHIR|R4|R5|A4|ID|CRT|BCS|HTTP|HTTPS|JPEG|PNG|ISO|T|Z|x)"
    r"[0-9]*",
)


@pytest.fixture
def pseudo(monkeypatch):
    pseudo = Pseudo()
    monkeypatch.setattr(catalogue._Chosen, "translations", pseudo)
    monkeypatch.setattr(catalogue._Chosen, "code", "es")
    # A store that is opened shows the system's language, and then reads this one.
    monkeypatch.setenv("LC_ALL", "es_ES.UTF-8")
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


@cache
def source_titles() -> tuple[str, ...]:
    """Return how every source of a protocol is named beside a number."""
    return tuple(one.title for one in _sources())


@cache
def printed_sources() -> tuple[str, ...]:
    """Return what every source is called in full, and where in it was read."""
    texts = {
        text.rstrip(".")
        for one in _sources()
        for text in (one.title, one.work, one.publisher, one.where)
    }
    return tuple(sorted(filter(None, texts), key=len, reverse=True))


def _sources():
    for species in available():
        yield from load_protocol(species).protocol.sources


def names_kept(vault):
    """Yield every name in the rows of a store; whoever tests invented it."""
    yield vault.settings.get("practice", "")
    for table in vault.tables.tables():
        for row in vault.tables.table(table).all():
            yield from _names(dict(row), table)


def _names(row, table):
    if not isinstance(row, dict):
        return
    for key, value in row.items():
        if isinstance(value, str) and key in _NAMES:
            yield value
        elif isinstance(value, dict):
            yield from _names(value, table)
        elif isinstance(value, list):
            for one in value:
                yield from _names(one, table)


def signed_statements(vault) -> str:
    """Return what the records state, which a correction quotes as it was signed."""
    kept = (
        read_kept(vault, r.exam_id, r.record_hash) for r in vault.closed.everything()
    )
    return "\n".join(
        words for one in kept for _, words in statements(one.exam, one.loaded.protocol)
    )


def is_known(run: str, known: str) -> bool:
    """Whether a text that nobody translates says this, from word to word."""
    return bool(re.search(rf"(?<![A-Za-z]){re.escape(run)}(?![A-Za-z])", known))


def english(driver, known, quoted=()):
    """Give what stands on the page in plain letters and is nobody's own words.

    Args:
        known: What persons wrote, and names.
        quoted: Whole texts that stand in the language in which they were printed.
    """

    def look():
        found = set()
        for shown in driver._client.shown():
            texts = [shown.control.get(name) for name in WORDS]
            texts += [span.get("text") for span in shown.control.get("spans", [])]
            for text in texts:
                if isinstance(text, str):
                    found |= set(runs(without(text, quoted), known))
        return found

    return driver._look(look)


def without(text, quoted):
    for one in quoted:
        text = text.replace(one, " ")
    return text


def runs(text, known):
    """Yield every run of words of a text that no catalogue and no person said."""
    text = _NO_WORDS.sub(" ", without(text, LANGUAGES.values()))
    for match in _RUN.finditer(text):
        run = re.sub(r"(?: [0-9.]+)+$", "", match[0].strip(" .-"))
        words = re.split(r"[ .-]+", run)
        if len(words) in _HASH_WORDS and _SPOKEN.issuperset(words):
            continue
        if all(_SAME.fullmatch(w) or len(w) == 1 or w.isdecimal() for w in words):
            continue
        if is_known(run, known) or _CODE.fullmatch(run):
            continue
        yield run


def started(computer, folder):
    if computer in ("field", "clinic"):
        return opened("--demo", *(["--clinic"] if computer == "clinic" else []))
    return unlocked(filled_for(computer, folder))


def left_in_english(computer, places, folder):
    """Return what stands in English on each of the places, by the place's name."""
    written, left = "\n".join((demo_words(), *source_titles())), {}
    with as_environment_asks(), started(computer, folder) as driver:
        named = ids(driver)
        vault = driver._app.session.vault
        for place in places:
            show(driver, place, named)
            known = "\n".join((written, *names_kept(vault)))
            if place.name == "correct-words":
                known += f"\n{signed_statements(vault)}"
            if place.name == "litter":
                # What they are called in the record where no name is given.
                known += f"\n{young_word('dog')}"
            quoted = printed_sources() if place.name in _SOURCES else ()
            if found := english(driver, known, quoted):
                left[place.name] = sorted(found)
    return left


@pytest.mark.slow
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
