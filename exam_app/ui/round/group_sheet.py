"""What is known of a group: how many, how those seen were chosen, feed, housing."""

from collections.abc import Callable

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.typed_entries import Typed
from exam_app.domain.animal.groups import GroupNumbersError, set_group
from exam_app.domain.exam.visit import GroupFacts
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import pick
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.texts import quiet, side_by_side

_NUMBERS = (
    ("present", "How many are present"),
    ("examined", "How many are examined"),
    ("affected", "How many look affected"),
    ("dead", "How many are dead"),
)
_TEXTS = (
    ("chosen", "How the examined ones were chosen"),
    ("feed", "Feed, as seen or told"),
    ("housing", "Housing, as seen or told"),
    ("note", "Note"),
)
_WAYS = ("every one", "every third", "as they came", "those that looked ill")


def open_group(
    tab: Tab, editor: ExamEditor, rows: int, on_done: Callable[[], None]
) -> None:
    """Open the sheet.

    Args:
        rows: How many animals of the round have an exam; said, never filled in.
        on_done: Called after the facts were recorded.
    """
    facts = editor.exam.group or GroupFacts()
    typed = exam_sessions.typed_in(tab.session, editor, "group", "The group")
    fields = {name: _number(name, label, facts, typed) for name, label in _NUMBERS}
    fields |= {name: _text(name, label, facts, typed) for name, label in _TEXTS}

    async def save() -> None:
        said = _read(fields)
        if said is None:
            return
        try:
            set_group(editor.exam, said)
        except GroupNumbersError as refusal:
            fields["present"].show_problem(f"{refusal.reason}. {refusal.advice}")
            return
        if await exam_sessions.change(
            tab.session, editor, lambda exam, _: set_group(exam, said), "The group"
        ):
            typed.drop()
            tab.close_sheet()
            on_done()

    tab.open_sheet(
        "The group",
        quiet(f"{rows} animals have an exam in this round."),
        *(fields[name].control for name, _ in _NUMBERS),
        fields["chosen"].control,
        side_by_side(*(_way(fields["chosen"], n) for n in range(len(_WAYS)))),
        *(fields[name].control for name, _ in _TEXTS[1:]),
        button("group-save", "Save", save, kind="main", size="exam"),
        typed=typed,
    )


def _number(name: str, label: str, facts: GroupFacts, typed: Typed) -> Field:
    number = getattr(facts, name)
    return text_field(
        for_choice("group-field", name),
        label,
        value="" if number is None else str(number),
        keyboard=ft.KeyboardType.NUMBER,
        typed=typed,
    )


def _text(name: str, label: str, facts: GroupFacts, typed: Typed) -> Field:
    return text_field(
        for_choice("group-field", name),
        label,
        value=getattr(facts, name),
        typed=typed,
    )


def _way(chosen: Field, number: int) -> ft.Control:
    def tapped() -> None:
        chosen.write(_WAYS[number])

    name = for_choice("group-pick", str(number))
    return pick(name, _WAYS[number], tapped, is_chosen=False)


def _read(fields: dict[str, Field]) -> GroupFacts | None:
    """Read the fields, or show what is no number."""
    counts: dict[str, int | None] = {}
    for name, _ in _NUMBERS:
        typed = fields[name].value
        if typed and not (typed.isascii() and typed.isdigit() and len(typed) < 7):
            fields[name].show_problem("Type a whole number, or leave it empty.")
            return None
        fields[name].show_problem(None)
        counts[name] = int(typed) if typed else None
    texts = {name: fields[name].value for name, _ in _TEXTS}
    return GroupFacts(**counts, **texts)  # type: ignore[arg-type]
