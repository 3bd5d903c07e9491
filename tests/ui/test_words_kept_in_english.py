"""What is kept stays English, and is shown in the language that was chosen."""

import gettext

import pytest

from exam_app.language import catalogue
from exam_app.ui.clinic import receive
from exam_app.ui.handover import drafts
from sync.transport.folder_reading import DEEPEST, WaitingReason


class Bracketed(gettext.NullTranslations):
    def gettext(self, message):
        return f"⟦{message}⟧"


@pytest.fixture
def other_language(monkeypatch):
    monkeypatch.setattr(catalogue._Chosen, "translations", Bracketed())


@pytest.mark.parametrize("reason", WaitingReason)
def test_a_reason_that_a_file_waits_reads_in_english_as_it_is_named(reason):
    words = catalogue.tr(receive._WAITING[reason], count=DEEPEST)
    assert words == reason.value


@pytest.mark.usefixtures("other_language")
def test_a_reason_that_a_tap_gave_is_shown_in_the_language():
    left = "Goes on tomorrow (Ana (night))"
    assert drafts._left_words("Goes on tomorrow (Ana)") == "⟦Goes on tomorrow⟧ (Ana)"
    assert drafts._left_words(left) == "⟦Goes on tomorrow⟧ (Ana (night))"


@pytest.mark.usefixtures("other_language")
def test_a_reason_in_own_words_is_shown_as_it_was_typed():
    left = "Goes on tomorrow, I hope (Ana)"
    assert drafts._left_words(left) == left
