"""Open exams at the head of the hand-over: continue, stop early, or leave."""

from functools import partial

import flet as ft

from exam_app.app.exam_sessions import open_exam
from exam_app.app.exam_words import draft_line
from exam_app.app.forms.form import Ask, Form
from exam_app.app.queries.bite_concerns import name_with_concern
from exam_app.app.view import hand_over_presenter as words
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.repositories.rows import OpenExam
from exam_app.ui.exam.stop_early import open_stop_early
from exam_app.ui.shell.own_sheet import OwnSheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import pick
from exam_app.ui.widgets.even_rows import evenly
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.texts import quiet, section, stack, strong

LEFT = "left_open"
_REASONS = (
    ("later-today", to_translate("Goes on later today")),
    ("tomorrow", to_translate("Goes on tomorrow")),
    ("waits", to_translate("Waits for the owner or a result")),
    ("other-person", to_translate("Another person goes on with it")),
)

_OWN = Ask(
    "own",
    to_translate("Another reason, in your words"),
    required=to_translate("Write why it stays behind."),
    identifier="hand-leave-words",
)


def _lines(tab: Tab) -> tuple[tuple[OpenExam, str], ...]:
    left = tab.vault.settings.get(LEFT, {})
    return words.draft_lines(tab.vault.drafts.open(), left)


def undecided_drafts(tab: Tab) -> int:
    """Return how many open exams nobody has decided about."""
    return words.undecided(_lines(tab))


def draft_section(tab: Tab) -> list[ft.Control]:
    """List every open exam, with what was decided about it."""
    lines = _lines(tab)
    if not lines:
        return []
    return [section(tr("Still open"), *[_draft(tab, *line) for line in lines])]


def _draft(tab: Tab, row: OpenExam, left: str) -> ft.Control:
    exam_id = row.exam_id

    async def stop() -> None:
        own = OwnSheet(tab)
        editor = await open_exam(tab.session, exam_id)
        if not own.is_left:
            open_stop_early(tab, editor)

    go_on = for_choice("hand-draft-go-on", exam_id)
    leave, other = partial(_ask, tab, row), for_choice("hand-draft-leave", exam_id)
    texts = [strong(name_with_concern(row.name, row.bite)), quiet(draft_line(row))]
    if left:
        texts.append(strong(tr("Stays behind: {reason}", reason=_left_words(left))))
    leaving = tr("Other reason") if left else tr("Leave, with a reason")
    ways = [
        button(go_on, tr("Continue"), tab.way(f"/exam/{exam_id}"), kind="main"),
        button(for_choice("hand-draft-stop", exam_id), tr("Stop early"), stop),
        button(other, leaving, leave, kind="tile"),
    ]
    return identified(for_choice("hand-draft", exam_id), stack(*texts, evenly(ways)))


def _left_words(left: str) -> str:
    """Return why an exam stays behind and who said so; a kept reason in its words."""
    for _, reason in _REASONS:
        if left.startswith(f"{reason} ("):
            return tr(reason) + left.removeprefix(reason)
    return left


def _ask(tab: Tab, row: OpenExam) -> None:
    place, label = f"leave/{row.exam_id}", "Why an exam stays behind"
    typed = tab.typed(place, label)
    view, sheet = FormView(Form((_OWN,), typed=typed)), OwnSheet(tab)

    async def keep(reason: str) -> None:
        vault, name = tab.vault, tab.person.name
        kept = words.leave(
            vault.settings.get(LEFT, {}), vault.drafts.open(), row, reason, name
        )
        await tab.save(lambda: vault.settings.put(LEFT, kept))
        typed.drop()
        await sheet.show_anew()

    async def keep_own() -> None:
        if view.is_complete():
            await keep(view.form["own"])

    reasons = [
        pick(
            for_choice("hand-leave-reason", key),
            tr(reason),
            partial(keep, reason),
            is_chosen=False,
            is_row=True,
        )
        for key, reason in _REASONS
    ]
    sheet.open(
        tr("Why does it stay behind?"),
        *reasons,
        *view.controls(),
        button(
            "hand-leave-save", tr("Leave it for this reason"), keep_own, kind="main"
        ),
        typed=typed,
    )
