"""Messages in the language that was chosen, and English where it is stored."""

import gettext

import pytest

from exam_app.language import catalogue
from exam_app.language.catalogue import (
    in_english,
    tr,
    tr_context,
    tr_plural,
    use,
)


class Shouted(gettext.NullTranslations):
    """Another language: every message in capitals, whatever stands in braces kept."""

    def gettext(self, message):
        return "GO {where}" if message == "Go {where}" else message.upper()

    def ngettext(self, one, many, count):
        return (one if count == 1 else many).upper().replace("{COUNT}", "{count}")

    def pgettext(self, context, message):
        return f"{context}: {message}"


@pytest.fixture
def shouted(monkeypatch):
    monkeypatch.setattr(catalogue._Chosen, "translations", Shouted())


def test_english_is_what_stands_in_the_code():
    assert tr("Save") == "Save"
    assert tr("Go {where}", where="home") == "Go home"
    assert tr("Braces {alone} stay") == "Braces {alone} stay"
    assert tr_plural("{count} part", "{count} parts", 1) == "1 part"
    assert tr_plural("{count} part", "{count} parts", 3) == "3 parts"
    assert tr_context("a place", "Today") == "Today"


@pytest.mark.usefixtures("shouted")
def test_every_message_is_asked_of_the_chosen_catalogue():
    assert tr("Save") == "SAVE"
    assert tr("Go {where}", where="home") == "GO home"
    assert tr_plural("{count} part", "{count} parts", 3) == "3 PARTS"
    assert tr_context("a place", "Today") == "a place: Today"
    assert tr("") == ""


@pytest.mark.usefixtures("shouted")
def test_what_is_stored_is_english_and_the_screen_goes_on_as_before():
    with in_english():
        assert tr("Save") == "Save"
    assert tr("Save") == "SAVE"


def test_a_language_that_is_not_here_means_english():
    use("xx")
    assert catalogue.chosen() == "en"
