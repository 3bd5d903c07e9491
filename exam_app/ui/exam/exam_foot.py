"""What every screen of an exam keeps within reach: urgent, stop early, words, keys.

The switches change the look at one tap and redraw in place: gloves are put on and
barns are entered in the middle of an exam.
"""

from collections.abc import Callable

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.view.photograph_subjects import WHOLE
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.exam.find_place import open_find
from exam_app.ui.exam.seen_earlier import open_late_entry
from exam_app.ui.exam.stop_early import open_stop_early
from exam_app.ui.photographs.kept_sheet import (
    ICON,
    open_photographs,
    photograph_label,
)
from exam_app.ui.region.body_sheet import has_body, open_body
from exam_app.ui.shell import appearance
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.shortcuts import Shortcut, with_help
from exam_app.ui.shell.theme import ColourMode
from exam_app.ui.urgent import sign_list
from exam_app.ui.widgets.buttons import button, sign_button
from exam_app.ui.widgets.hands import GLOVES, HANDS

# None of them types anything or means something to a browser.
REVIEW_KEY, URGENT_KEY, FIND_KEY, HELP_KEY = "F2", "F4", "F8", "F9"
STOP, _REVIEW = to_translate("Stop early"), to_translate("Review: what is still open")

Go = Callable[[str], None]
Offer = tuple[str, str, Callable[..., object], ft.IconData]


def foot_buttons(tab: Tab, editor: ExamEditor) -> list[ft.Control]:
    """Make the buttons every exam has within reach: stop early, words, urgent."""
    stopping = button(
        "exam-stop",
        tr(STOP),
        _stopping(tab, editor),
        kind="icon",
        icon=ft.Icons.STOP_CIRCLE_OUTLINED,
        size="thumb",
    )
    return [stopping, words_button(tab, editor), urgent_button(tab, editor)]


def words_button(tab: Tab, editor: ExamEditor) -> ft.Semantics:
    """Make the button to the box that takes a whole line, typed or dictated."""
    return button(
        "exam-words",
        tr("In words: type or dictate a line"),
        tab.way(f"/exam/{editor.exam.exam_id}/words"),
        kind="icon",
        icon=ft.Icons.KEYBOARD_VOICE_OUTLINED,
        size="thumb",
    )


def urgent_button(tab: Tab, editor: ExamEditor) -> ft.Semantics:
    """Make the button that opens the urgent signs."""

    def urgent() -> None:
        sign_list.open_signs(tab, editor)

    word = tr("Urgent")
    return button(
        "exam-urgent",
        f"{URGENT_KEY}  {word}" if tab.is_wide else word,
        urgent,
        expand=4,
        spoken=f"{tr('Urgent signs')}{_by_key(tab, URGENT_KEY)}",
        kind="urgent",
        size="thumb",
    )


def _stopping(tab: Tab, editor: ExamEditor) -> Callable[[], None]:
    def stop() -> None:
        open_stop_early(tab, editor)

    return stop


def low_actions(tab: Tab, editor: ExamEditor, go: Go) -> list[ft.Control]:
    """Make what stands in the header of a low phone: urgent, and the rest."""

    def urgent() -> None:
        sign_list.open_signs(tab, editor)

    pressing = sign_button(
        "exam-urgent",
        tr("Urgent"),
        ft.Icons.PRIORITY_HIGH,
        urgent,
        spoken=tr("Urgent signs"),
    )
    return [pressing, more_button(tab, editor, go, is_low=True)]


def body_button(
    tab: Tab, editor: ExamEditor, take: Callable[[str], None]
) -> list[ft.Semantics]:
    """Make the button that opens the drawing, where this species has one.

    Args:
        take: Called with the part and side that is tapped there.
    """
    if not has_body(editor):
        return []

    def opened() -> None:
        open_body(tab, editor, take)

    return [
        button(
            "exam-body",
            tr("Body"),
            opened,
            spoken=tr("Body: choose a part on a drawing, or mark what was found"),
            kind="tile",
            size="thumb",
        )
    ]


def review_button(tab: Tab, editor: ExamEditor) -> ft.Semantics:
    """Make the button that leads to what is still open."""
    return button(
        "exam-review",
        f"{tr(_REVIEW)}{_by_key(tab, REVIEW_KEY)}",
        tab.way(f"/exam/{editor.exam.exam_id}/review"),
        kind="icon",
        icon=ft.Icons.FACT_CHECK_OUTLINED,
        size="thumb",
    )


def _by_key(tab: Tab, key: str) -> str:
    """Name the key of a button; a phone has none."""
    return tr(" (key {key})", key=key) if tab.is_wide else ""


def exam_shortcuts(
    tab: Tab,
    editor: ExamEditor,
    go: Go | None = None,
    more: tuple[Shortcut, ...] = (),
) -> tuple[Shortcut, ...]:
    """List the keys that reach the foot without walking the whole list.

    Args:
        go: Brings a place up; without it, the exam's list is shown.
        more: Those of one screen alone.
    """

    def urgent() -> None:
        sign_list.open_signs(tab, editor)

    def find() -> None:
        open_find(tab, editor, go)

    review = tab.way(f"/exam/{editor.exam.exam_id}/review")
    keys = (
        Shortcut(REVIEW_KEY, tr(_REVIEW), review),
        Shortcut(URGENT_KEY, tr("Urgent signs"), urgent),
        Shortcut(FIND_KEY, tr("Find a part or a value by its name"), find),
    )
    return with_help(tab, HELP_KEY, (*keys, *more))


def more_button(
    tab: Tab,
    editor: ExamEditor,
    go: Go | None = None,
    *,
    keys: tuple[Shortcut, ...] = (),
    is_low: bool = False,
) -> ft.Semantics:
    """Make the one button behind which everything else lies.

    Args:
        go: Brings a place up; without it, the exam's list is shown.
        keys: Those of the screen, listed where there is a keyboard.
        is_low: Whether the way to the review and to an early stop lie there too.
    """

    def opened() -> None:
        _open_more(tab, editor, go, keys, is_low=is_low)

    return button("exam-more", tr("More"), opened, kind="icon", icon=ft.Icons.MORE_VERT)


def _low_ways(tab: Tab, editor: ExamEditor) -> list[Offer]:
    review = tab.way(f"/exam/{editor.exam.exam_id}/review")
    stop, sign = _stopping(tab, editor), ft.Icons.STOP_CIRCLE_OUTLINED
    return [
        ("exam-review", tr(_REVIEW), review, ft.Icons.FACT_CHECK_OUTLINED),
        ("exam-stop", tr(STOP), stop, sign),
    ]


def _open_more(
    tab: Tab,
    editor: ExamEditor,
    go: Go | None,
    keys: tuple[Shortcut, ...],
    *,
    is_low: bool,
) -> None:
    async def back() -> None:
        tab.close_sheet()
        await exam_sessions.undo(tab.session, editor)

    async def again() -> None:
        tab.close_sheet()
        await exam_sessions.redo(tab.session, editor)

    async def change_hands() -> None:
        # The new screen takes the sheet away: nobody taps on the one before.
        HANDS.gloved = not HANDS.gloved
        await tab.save(lambda: tab.vault.settings.put(GLOVES, HANDS.gloved))
        await tab.show_route()

    async def change_look() -> None:
        tab.close_sheet()
        look, _ = appearance.chosen(tab.session)
        other = ColourMode.LIGHT if look is ColourMode.DARK else ColourMode.DARK
        await tab.save(lambda: tab.vault.settings.put("look", other.value))
        appearance.apply(tab.page, tab.session)

    def find() -> None:
        open_find(tab, editor, go)

    def say_when() -> None:
        open_late_entry(tab, editor)

    steps, read = editor.view.steps, f"/record/{editor.exam.exam_id}/draft"
    words = f"/exam/{editor.exam.exam_id}/words"
    hands = (
        tr("All buttons again") if HANDS.gloved else tr("Dirty gloves: large buttons")
    )
    offers: list[Offer] = [
        (
            "exam-words-more",
            tr("In words: type or dictate"),
            tab.way(words),
            ft.Icons.KEYBOARD,
        ),
        (
            "exam-find",
            f"{tr('Find by name')}{_by_key(tab, FIND_KEY)}",
            find,
            ft.Icons.SEARCH,
        ),
        _photographs(tab, editor),
        ("exam-late", tr("All I enter now was seen …"), say_when, ft.Icons.HISTORY),
        ("exam-read", tr("Read it as written so far"), tab.way(read), ft.Icons.ARTICLE),
        ("exam-gloves", hands, change_hands, ft.Icons.BACK_HAND_OUTLINED),
        ("exam-look", tr("Dark or light"), change_look, ft.Icons.CONTRAST),
    ]
    offers[:0] = _low_ways(tab, editor) if is_low else []
    if steps.again is not None:
        label = tr("Do again: {step}", step=steps.again or tr("the last step"))
        offers.insert(0, ("more-redo", label, again, ft.Icons.REDO))
    label = tr("Take back: {step}", step=steps.back or tr("the last step"))
    offers.insert(0, ("more-undo", label, back, ft.Icons.UNDO))
    tab.open_sheet(
        editor.exam.animal.name,
        *(
            ft.Row([button(name, words, tapped, icon=icon, kind="tile", expand=1)])
            for name, words, tapped, icon in [*offers, *_keys_offered(tab, keys)]
        ),
    )


def _photographs(tab: Tab, editor: ExamEditor) -> Offer:
    def opened() -> None:
        open_photographs(tab, editor, WHOLE)

    return ("exam-photographs", photograph_label(editor, WHOLE), opened, ICON)


def _keys_offered(tab: Tab, keys: tuple[Shortcut, ...]) -> list[Offer]:
    def listed() -> None:
        tab.close_sheet()
        keys[-1].act()

    words = f"{tr('Keys of this screen')}{_by_key(tab, HELP_KEY)}"
    offer = ("exam-shortcuts", words, listed, ft.Icons.KEYBOARD)
    return [offer] if keys and tab.is_wide else []
