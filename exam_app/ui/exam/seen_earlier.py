"""The quiet way to say that something, or all, was seen before it was entered."""

from collections.abc import Awaitable, Callable

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Change, ExamEditor
from exam_app.app.late_entry import begin_late_entry, end_late_entry, late_words
from exam_app.domain.errors import LateEntryError
from exam_app.domain.exam.late_entries import minutes_before, read_clock
from exam_app.domain.moments import Moment
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import OnClick, button
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, quiet

_OFFERED = (
    (5, to_translate("5 minutes ago")),
    (15, to_translate("15 minutes ago")),
    (30, to_translate("30 minutes ago")),
    (60, to_translate("1 hour ago")),
)
_ALL = to_translate("All I enter now")


def seen_earlier_button(ask: OnClick) -> ft.Control:
    """Make the button that asks when; it stands last on a sheet."""
    label = tr("It was seen earlier …")
    return button("seen-earlier", label, ask, icon=ft.Icons.HISTORY, kind="quiet")


def open_seen_earlier(
    tab: Tab, editor: ExamEditor, place: str, name: str, made: Change
) -> None:
    """Ask when something was seen, and date it so.

    Args:
        place: What it is in English, where the time typed so far is kept.
        name: What it is, for the title and for undo.
        made: The change that dates it by the attribution it is given.
    """

    async def seen(observed: Moment) -> bool:
        what = tr("{what}: seen {clock}", what=name, clock=observed.clock())
        if not await exam_sessions.change(tab.session, editor, made, what, observed):
            return False
        tab.tell(what)
        return True

    _ask_when(tab, editor, place, name, seen)


def open_late_entry(tab: Tab, editor: ExamEditor) -> None:
    """Ask when all was seen that is entered from now on."""

    async def seen(observed: Moment) -> bool:
        await begin_late_entry(tab.session, editor, observed)
        return True

    _ask_when(
        tab,
        editor,
        _ALL,
        tr(_ALL),
        seen,
        tr(
            "It holds for parts, values and signs, until you end it above the exam. "
            "What is counted here, given, done or told keeps its own time."
        ),
    )


def notice(tab: Tab) -> list[ft.Control]:
    """Say above every screen of an exam that all was seen earlier; a tap ends it.

    A count that runs is of now, and so nothing of it stands there.
    """
    kind, exam_id, *rest = f"{(tab.page.route or '').strip('/')}/".split("/")
    editor = tab.session.editors.get(exam_id)
    if kind != "exam" or editor is None or rest[:1] in (["count"], ["tap"]):
        return []

    async def end() -> None:
        await end_late_entry(tab.session, editor)
        tab.tell(tr("What you enter is seen now again."))

    def draw() -> ft.Control:
        seen = editor.seen_late
        if seen is None or editor.exam.is_closed:
            return ft.Container()
        words = tr("{late}. End this", late=late_words(seen, editor.now()))
        icon = ft.Icons.HISTORY
        return across(
            button("late-end", words, end, icon=icon, kind="tile", size="thumb")
        )

    follows = (editor.view.late, editor.view.people)
    return [Slot(draw, *follows, hides_empty=True).control]


def _ask_when(
    tab: Tab,
    editor: ExamEditor,
    place: str,
    name: str,
    seen: Callable[[Moment], Awaitable[bool]],
    *more: str,
) -> None:
    async def taken(observed: Moment) -> None:
        sheet = tab.sheet
        if await seen(observed):
            typed.drop()
            tab.close_only(sheet)

    typed = exam_sessions.typed_in(
        tab.session, editor, f"seen-{_ascii(place)}", tr("{what}: seen when", what=name)
    )
    clock = text_field(
        "seen-earlier-clock", tr("Or the time it was seen"), hint="13:45", typed=typed
    )

    async def save() -> None:
        try:
            observed = read_clock(clock.value, editor.now())
        except LateEntryError as refusal:
            clock.show_problem(tr(refusal.advice))
            return
        await taken(observed)

    def offer(minutes: int, label: str) -> ft.Control:
        async def chosen() -> None:
            await taken(minutes_before(editor.now(), minutes))

        return button(
            for_choice("seen-earlier", str(minutes)),
            label,
            chosen,
            expand=1,
            kind="tile",
        )

    tiles = [offer(minutes, tr(label)) for minutes, label in _OFFERED]
    tab.open_sheet(
        tr("{what}: seen when?", what=name),
        quiet(tr("The record names both times: when it was seen and when entered.")),
        *map(quiet, more),
        ft.Row(tiles[:2], spacing=10),
        ft.Row(tiles[2:], spacing=10),
        clock.control,
        across(button("seen-earlier-save", tr("Save this time"), save, kind="tile")),
        typed=typed,
    )


def _ascii(words: str) -> str:
    return words.encode("ascii", "backslashreplace").decode()
