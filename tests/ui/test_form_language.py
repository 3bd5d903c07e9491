"""A form is shown in the language chosen, and what stands in it stays English."""

from types import SimpleNamespace

import flet as ft
import pytest

from exam_app.app.forms.form import Ask, Form, Kind, choice
from exam_app.language import catalogue
from exam_app.ui.widgets.choices import side_question
from exam_app.ui.widgets.form import FormView
from tests.bracketed import Bracketed

WASHED = "washed at once"
ASKS = (
    Ask("said", "What was done", hint="In short", options=(WASHED,), block="First aid"),
    choice("depth", "How deep", (("deep", "Deep"),), required="Choose how deep."),
    Ask("several", "Which", kind=Kind.SEVERAL, choices=(("one", "One"),)),
    Ask("urgent", "Urgent", kind=Kind.TOGGLE),
    Ask("rare", "Rarely asked", is_more=True),
)


@pytest.fixture
def view(monkeypatch):
    monkeypatch.setattr(catalogue._Chosen, "translations", Bracketed())
    return FormView(Form(ASKS, "test"))


def texts(control):
    """Return every text of a control and of what stands in it."""
    if isinstance(control, ft.Text):
        return [control.value]
    if isinstance(control, ft.TextField):
        return [control.label, control.helper]
    inner = getattr(control, "content", None)
    if isinstance(inner, str):
        return [inner]
    found = list(texts(inner)) if isinstance(inner, ft.Control) else []
    for one in getattr(control, "controls", None) or []:
        found += texts(one)
    return found


def test_every_word_of_a_form_is_shown_in_the_language_chosen(view):
    shown = [text for drawn in view.controls() for text in texts(drawn) if text]
    assert {text for text in shown if not text.startswith("⟦")} == set()
    for words in ("What was done", "In short", WASHED, "First aid", "How deep"):
        assert f"⟦{words}⟧" in shown
    for words in ("Deep", "Which", "One", "Urgent", "More"):
        assert f"⟦{words}⟧" in shown


def test_an_option_stands_in_its_field_in_the_language_chosen_and_is_kept_in_english(
    view, monkeypatch
):
    view.controls()
    entry = view.fields["said"].entry
    monkeypatch.setattr(entry, "update", lambda: None)
    view.write("said", WASHED)
    assert (entry.value, view.form["said"]) == (f"⟦{WASHED}⟧", WASHED)
    view.controls()
    assert view.fields["said"].entry.value == f"⟦{WASHED}⟧"


async def test_what_a_person_types_is_kept_as_typed(view):
    view.controls()
    changed = view.fields["said"].entry.on_change
    for typed, kept in (
        ("bandaged", "bandaged"),
        (f"⟦{WASHED}⟧", WASHED),
        (f"⟦{WASHED}⟧ twice", f"⟦{WASHED}⟧ twice"),
    ):
        await changed(SimpleNamespace(control=SimpleNamespace(value=typed)))
        assert view.form["said"] == kept


def test_words_that_a_person_typed_are_never_translated(view):
    view.form.put("said", "What was done")
    view.controls()
    assert view.fields["said"].entry.value == "What was done"


@pytest.mark.usefixtures("view")
def test_a_side_is_found_by_the_same_name_in_every_language():
    chosen = []
    _, row = side_question("eye", ("eye.left", "eye.right"), chosen.append)
    assert [one.identifier for one in row.controls] == [
        "eye-left",
        "eye-both",
        "eye-right",
    ]
    assert [texts(one) for one in row.controls] == [
        ["⟦Left⟧"],
        ["⟦Both⟧"],
        ["⟦Right⟧"],
    ]
