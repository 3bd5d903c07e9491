"""Words that a record keeps in English: what the app offered is shown, no own words."""

import gettext

import pytest

from exam_app.app.forms import bite_form
from exam_app.app.forms.finding_form import SINCE_LABELS
from exam_app.app.forms.scan_form import REASONS as NOT_SCANNED
from exam_app.app.forms.visit_forms import ROUTES
from exam_app.app.view.urgent_presenter import HOW
from exam_app.app.view.vital_offers import RHYTHMS
from exam_app.domain.exam.exam import StopReason
from exam_app.domain.exam.region_states import NOT_EXAMINED_REASONS, NOT_PRESENT_REASONS
from exam_app.domain.exam.visit import SCAN_SLOTS
from exam_app.domain.measure.counting import PulseMethod, pulse_comparison
from exam_app.domain.measure.pulse_sentences import pulse_words
from exam_app.domain.wording.kept_words import (
    OFFERED,
    list_shown,
    offered,
    reason_shown,
    sentence_shown,
)
from exam_app.language import catalogue
from exam_app.ui.region.region import StrikePart

OFFERS = {
    "why a part was not examined": NOT_EXAMINED_REASONS,
    "why a part is not there": NOT_PRESENT_REASONS,
    "why a claim was struck": StrikePart.REASONS,
    "why an exam was stopped": tuple(reason.value for reason in StopReason),
    "why no chip was looked for": NOT_SCANNED,
    "when a chip was looked for": SCAN_SLOTS,
    "since when": tuple(value for value, _ in SINCE_LABELS),
    "how a rate goes": RHYTHMS,
    "how something was given": ROUTES,
    "how somebody was told": tuple(value for value, _ in HOW),
    "what was done at once": bite_form._FIRST_AID,
    "who knows of a bite": bite_form._TOLD,
}


class Marked(gettext.NullTranslations):
    def gettext(self, message):
        return f"⟦{message}⟧"


@pytest.fixture
def _marked(monkeypatch):
    monkeypatch.setattr(catalogue._Chosen, "translations", Marked())
    monkeypatch.setattr(catalogue._Chosen, "code", "es")


@pytest.mark.parametrize("name", OFFERS)
def test_whatever_is_offered_for_a_record_is_known(name):
    assert set(OFFERS[name]) <= OFFERED


@pytest.mark.usefixtures("_marked")
def test_own_words_are_shown_as_they_were_typed():
    assert offered("by mouth") == "⟦by mouth⟧"
    assert offered("by mouth, in cheese") == "by mouth, in cheese"
    assert reason_shown("unsafe") == "⟦unsafe⟧"
    assert reason_shown("too dark in there") == "too dark in there"


@pytest.mark.usefixtures("_marked")
def test_a_sentence_of_the_app_is_shown_with_what_stands_in_it():
    assert reason_shown("stopped early: escaped") == "⟦stopped early: ⟦escaped⟧⟧"
    assert (
        reason_shown("not present: eaten by a fox") == "⟦not present: eaten by a fox⟧"
    )
    assert sentence_shown("12 of 20", ("{one} of {all}",)) == "⟦12 of 20⟧"


@pytest.mark.usefixtures("_marked")
def test_of_a_list_what_is_known_is_shown_and_the_rest_stands():
    known = {"left, upper": "⟦left, upper⟧", "left": "⟦left⟧", "": ""}
    said = list_shown("left, upper, as told, left", known, ", ")
    assert said == "⟦left, upper⟧, as told, ⟦left⟧"
    assert list_shown("lefty", known, ", ") == "lefty"


@pytest.mark.parametrize("seconds", [None, 30])
@pytest.mark.parametrize(
    "counted",
    [
        (PulseMethod.EVERY_BEAT_FELT, {"dropped": 0}),
        (PulseMethod.EVERY_BEAT_FELT, {"dropped": 1}),
        (PulseMethod.EVERY_BEAT_FELT, {"dropped": 4}),
        (PulseMethod.COUNTED_TOGETHER, {"beats": 40, "pulses": 39}),
        (PulseMethod.COUNTED_TOGETHER, {"beats": 40, "pulses": 30}),
        (PulseMethod.COUNTED_TOGETHER, {"beats": 30, "pulses": 40}),
        (PulseMethod.COUNTED_APART, {}),
    ],
)
@pytest.mark.usefixtures("_marked")
def test_a_pulse_is_kept_in_english_and_shown_whole(counted, seconds):
    method, numbers = counted
    kept = pulse_comparison(method, seconds, **numbers).text
    assert "⟦" not in kept
    assert pulse_words(kept) == f"⟦{kept}⟧"
