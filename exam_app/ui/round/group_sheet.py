"""What is said of a group as a whole: how many there are, how they are kept."""

from collections.abc import Callable, Mapping
from dataclasses import asdict
from functools import partial
from typing import Any

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.form import Ask, Form, Kind
from exam_app.domain.animal.groups import GroupNumbersError, set_group
from exam_app.domain.exam.visit import GroupFacts
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import pick
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.texts import across, quiet, side_by_side

_NUMBERS = {
    "present": to_translate("How many are present"),
    "examined": to_translate("How many are examined"),
    "affected": to_translate("How many look affected"),
    "dead": to_translate("How many are dead"),
}
_ASKS = (
    *(Ask(name, label, kind=Kind.NUMBER) for name, label in _NUMBERS.items()),
    Ask("chosen", to_translate("How the examined ones were chosen")),
    Ask("feed", to_translate("Feed, as seen or told")),
    Ask("housing", to_translate("Housing, as seen or told")),
    Ask("note", to_translate("Note")),
)
_WAYS = (
    to_translate("every one"),
    to_translate("every third"),
    to_translate("as they came"),
    to_translate("those that looked ill"),
)


def open_group(
    tab: Tab, editor: ExamEditor, rows: int, on_done: Callable[[], None]
) -> None:
    """Open the sheet.

    Args:
        rows: How many animals of the round have an exam; said, never filled in.
        on_done: Called after the facts were recorded.
    """
    facts = asdict(editor.exam.group or GroupFacts())
    known = {name: "" if said is None else str(said) for name, said in facts.items()}
    typed = exam_sessions.typed_in(tab.session, editor, "group", tr("The group"))
    form = Form(_ASKS, "group-field", known, typed=typed)
    view = FormView(form)

    async def save() -> None:
        if view.show_problem(*_no_number(form)):
            return
        said = _facts(form.values())
        try:
            set_group(editor.exam, said)
        except GroupNumbersError as refusal:
            reason = tr(str(refusal)).capitalize()
            at = refusal.name or "present"
            view.show_problem(at, f"{reason}. {tr(refusal.advice)}")
            return
        if await tab.change_and_close(
            editor, lambda exam, _edit: set_group(exam, said), tr("The group"), typed
        ):
            on_done()

    ways = (
        pick(
            f"group-pick-{number}",
            tr(way),
            partial(view.write, "chosen", way),
            is_chosen=False,
        )
        for number, way in enumerate(_WAYS)
    )
    tab.open_sheet(
        tr("The group"),
        quiet(tr("{rows} animals have an exam in this round.", rows=rows)),
        *view.controls(*_NUMBERS, "chosen"),
        side_by_side(*ways),
        *view.controls("feed", "housing", "note"),
        typed=typed,
        foot=[
            across(button("group-save", tr("Save"), save, kind="main", size="hands"))
        ],
    )


def _no_number(form: Form) -> tuple[str, str]:
    """Return the first count that is none, and what to do about it."""
    for name in _NUMBERS:
        typed = form[name]
        if typed and not (typed.isascii() and typed.isdigit() and len(typed) < 7):
            return name, tr("Type a whole number, or leave it empty.")
    return "", ""


def _facts(said: Mapping[str, str]) -> GroupFacts:
    counts: dict[str, Any] = {n: int(said[n]) if said[n] else None for n in _NUMBERS}
    return GroupFacts(**{**said, **counts})
