"""The language that is shown: kept in the store, else the system's, else English."""

import struct

import pytest

from exam_app.app.language_choice import (
    LANGUAGE,
    choose,
    is_missing,
    language_of,
    show_in,
    show_kept,
    system_language,
)
from exam_app.app.session import Session
from exam_app.language import catalogue
from exam_app.language.catalogue import chosen, tr, use
from exam_app.store.errors import VaultError
from tests.bracketed import Bracketed
from tests.browser.cheap_app import CHEAP_COSTS
from tests.browser.prepared import PASSPHRASE, prepare_folder


@pytest.fixture(autouse=True)
def _english_afterwards():
    yield
    use("en")


@pytest.fixture
def spanish(monkeypatch):
    def read(code):
        return Bracketed() if code == "es" else catalogue._AS_WRITTEN

    monkeypatch.setattr(catalogue, "_read", read)


def breaks(monkeypatch, error):
    def read(code):
        if code == "es":
            raise error
        return catalogue._AS_WRITTEN

    monkeypatch.setattr(catalogue, "_read", read)


@pytest.fixture
async def session(tmp_path):
    folder = prepare_folder(tmp_path / "exams")
    session = Session(folder, bounds=CHEAP_COSTS.bounds)
    await session.open_with_passphrase(PASSPHRASE)
    yield session
    session.close()


@pytest.mark.parametrize(
    ("tag", "code"),
    [
        ("es", "es"),
        ("es_MX.UTF-8", "es"),
        ("es-419", "es"),
        ("ES", "es"),
        ("en_GB", "en"),
        ("fr_FR.UTF-8", "en"),
        ("C.UTF-8", "en"),
        ("est", "en"),
        ("", "en"),
    ],
)
def test_a_systems_name_of_a_language_means_one_of_ours_or_english(tag, code):
    assert language_of(tag) == code


def test_a_system_names_its_language_in_one_order():
    assert system_language({}) == "en"
    assert system_language({"LANG": "es_ES"}) == "es"
    assert system_language({"LC_ALL": "en_US", "LANG": "es_ES"}) == "en"
    assert system_language({"LC_ALL": "", "LC_MESSAGES": "es_ES"}) == "es"


@pytest.mark.usefixtures("spanish")
async def test_a_chosen_language_is_shown_at_once_and_kept(session):
    assert await choose(session, "es")
    assert (chosen(), tr("Save")) == ("es", "⟦Save⟧")
    assert session.vault.settings.get(LANGUAGE) == "es"
    use("en")
    show_kept(session.vault)
    assert chosen() == "es"


@pytest.mark.usefixtures("spanish")
async def test_a_store_that_keeps_no_language_is_shown_in_the_systems(
    session, monkeypatch
):
    monkeypatch.setenv("LC_ALL", "es_ES.UTF-8")
    show_kept(session.vault)
    assert chosen() == "es"
    assert not is_missing(session.vault)
    await choose(session, "en")
    show_kept(session.vault)
    assert chosen() == "en"


@pytest.mark.parametrize(
    "error", [FileNotFoundError("es.mo"), struct.error("short"), ValueError("bytes")]
)
def test_missing_or_damaged_words_mean_english(monkeypatch, error):
    breaks(monkeypatch, error)
    assert not show_in("es")
    assert (chosen(), tr("Save")) == ("en", "Save")


async def test_a_language_without_words_is_not_kept(session, monkeypatch):
    breaks(monkeypatch, FileNotFoundError("es.mo"))
    assert not await choose(session, "es")
    assert session.vault.settings.get(LANGUAGE) is None
    assert not is_missing(session.vault)


async def test_a_kept_language_without_words_is_told_until_another_is_chosen(
    session, monkeypatch
):
    session.vault.settings.put(LANGUAGE, "es")
    breaks(monkeypatch, FileNotFoundError("es.mo"))
    show_kept(session.vault)
    assert chosen() == "en"
    assert is_missing(session.vault)
    await choose(session, "en")
    assert not is_missing(session.vault)


@pytest.mark.usefixtures("spanish")
async def test_a_choice_that_was_not_saved_is_not_shown_either(session, monkeypatch):
    def refused(_key, _value):
        raise VaultError

    monkeypatch.setattr(session.vault.settings, "put", refused)
    with pytest.raises(VaultError):
        await choose(session, "es")
    assert chosen() == "en"
