"""The quiet way to say that something, or all, was seen before it was entered."""

from collections.abc import Awaitable, Callable

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Change, ExamEditor
from exam_app.app.late_entry import begin_late_entry, end_late_entry, late_words
from exam_app.domain.errors import LateEntryError
from exam_app.domain.exam.late_entries import minutes_before, read_clock
from exam_app.domain.moments import Moment
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import OnClick, button
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, quiet

_OFFERED = (
    (5, "5 minutes ago"),
    (15, "15 minutes ago"),
    (30, "30 minutes ago"),
    (60, "1 hour ago"),
)


def seen_earlier_button(ask: OnClick) -> ft.Control:
    """Make the button that asks when; it stands last on a sheet."""
    label = "It was seen earlier …"
    return button("seen-earlier", label, ask, icon=ft.Icons.HISTORY, kind="quiet")


def open_seen_earlier(tab: Tab, editor: ExamEditor, name: str, made: Change) -> None:
    """Ask when something was seen, and date it so.

    Args:
        name: What it is, for the title and for undo.
        made: The change that dates it by the attribution it is given.
    """

    async def seen(observed: Moment) -> bool:
        what = f"{name}: seen {observed.clock()}"
        if not await exam_sessions.change(tab.session, editor, made, what, observed):
            return False
        tab.tell(what)
        return True

    _ask_when(tab, editor, name, seen)


def open_late_entry(tab: Tab, editor: ExamEditor) -> None:
    """Ask when all was seen that is entered from now on."""

    async def seen(observed: Moment) -> bool:
        await begin_late_entry(tab.session, editor, observed)
        return True

    _ask_when(
        tab,
        editor,
        "All I enter now",
        seen,
        "It holds for parts, values and signs, until you end it above the exam. What "
        "is counted here, given, done or told keeps its own time.",
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
        tab.tell("What you enter is seen now again.")

    def draw() -> ft.Control:
        seen = editor.seen_late
        if seen is None or editor.exam.is_closed:
            return ft.Container()
        words = f"{late_words(seen, editor.now())}. End this"
        icon = ft.Icons.HISTORY
        return across(
            button("late-end", words, end, icon=icon, kind="tile", size="thumb")
        )

    follows = (editor.view.late, editor.view.people)
    return [Slot(draw, *follows, hides_empty=True).control]


def _ask_when(
    tab: Tab,
    editor: ExamEditor,
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
        tab.session, editor, f"seen-{_ascii(name)}", f"{name}: seen when"
    )
    clock = text_field(
        "seen-earlier-clock", "Or the time it was seen", hint="13:45", typed=typed
    )

    async def save() -> None:
        try:
            observed = read_clock(clock.value, editor.now())
        except LateEntryError as refusal:
            clock.show_problem(refusal.advice)
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

    tiles = [offer(minutes, label) for minutes, label in _OFFERED]
    tab.open_sheet(
        f"{name}: seen when?",
        quiet("The record names both times: when it was seen and when entered."),
        *map(quiet, more),
        ft.Row(tiles[:2], spacing=10),
        ft.Row(tiles[2:], spacing=10),
        clock.control,
        across(button("seen-earlier-save", "Save this time", save, kind="tile")),
        typed=typed,
    )


def _ascii(name: str) -> str:
    return name.encode("ascii", "backslashreplace").decode()
