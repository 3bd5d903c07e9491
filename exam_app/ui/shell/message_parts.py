"""Words over a screen: what was done, what was refused, what went wrong."""

import asyncio
import inspect
from collections.abc import Awaitable, Callable, Coroutine, Iterable
from dataclasses import dataclass
from typing import Any

import flet as ft

from exam_app.app.typed_entries import Typed
from exam_app.domain.exam.people import Person
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.focus import wants_typing
from exam_app.ui.shell.layout import Frame
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.texts import heading, paragraph, quiet, side_by_side, stack

OnClick = Callable[..., Any]
# It lies over the list: no longer than it takes to read, or to reach its "Undo".
TOLD_SECONDS = 5.0
UNDO_SECONDS = 7.0


@dataclass(slots=True, repr=False)
class MessageBar:
    """What is told in one tab, one sentence at a time.

    Attributes:
        frame: Where it is shown.
        start: Runs what takes it away again.
    """

    frame: Frame
    start: Callable[[Coroutine[Any, Any, None]], object]
    _number: int = 0

    def tell(self, sentence: str, undo: Callable[[], Awaitable[None]] | None) -> None:
        """Show a sentence in the place of the one before it, for a few seconds."""
        self._number += 1

        def close() -> None:
            self.frame.take_off("told")

        async def undone() -> None:
            close()
            if undo:
                await undo()

        leave = button(
            "told-close", tr("Close"), close, kind="icon", icon=ft.Icons.CLOSE
        )
        row = [
            ft.Container(paragraph(sentence), expand=True),
            *([button("told-undo", tr("Undo"), undone, kind="quiet")] if undo else []),
            leave,
        ]
        self.frame.lay_over(
            "told", identified("told", ft.Row(row, spacing=4), live=True)
        )
        self.start(self._forget(self._number, UNDO_SECONDS if undo else TOLD_SECONDS))

    async def _forget(self, number: int, seconds: float) -> None:
        await asyncio.sleep(seconds)
        if number == self._number:
            self.frame.take_off("told")


def sheet(title: str, controls: list[ft.Control], close: OnClick) -> ft.Control:
    """Put controls under a title and a button that closes."""
    leave = button(
        "sheet-close",
        tr("Close"),
        close,
        # Where nothing is to be typed, the keyboard begins at the sheet's first button.
        autofocus=not any(map(wants_typing, controls)),
        kind="icon",
        icon=ft.Icons.CLOSE,
    )
    top = ft.Row([ft.Container(heading(title), expand=True), leave])
    return identified("sheet", stack(top, *controls))


def typed_before(throw_away: OnClick) -> ft.Control:
    """Say that what stands in the fields was typed before, and offer to drop it."""
    said = quiet(tr("Typed before and not saved yet; it is still here."))
    drop = button("typed-drop", tr("Throw it away"), throw_away, kind="quiet")
    return ft.Row([ft.Container(said, expand=True), drop])


def kept_before(
    typed: Typed | None, leave: Callable[[], Any], tell: Callable[..., None]
) -> list[ft.Control]:
    """Say that words typed before were kept, if so, and offer to drop them.

    Args:
        typed: Where the words of the form are kept.
        leave: Called when they were dropped.
        tell: Tells it, with the way back.
    """
    if typed is None or not typed.was_kept:
        return []

    async def thrown() -> None:
        words, left = typed.drop(), leave()
        if inspect.isawaitable(left):
            await left

        async def undone() -> None:
            typed.restore(words)

        tell(thrown_away(words.values()), undone)

    return [typed_before(thrown)]


def thrown_away(texts: Iterable[str]) -> str:
    """Say what was typed in a form and is gone now."""
    said = "; ".join(filter(None, texts))
    return tr("Thrown away, never saved: {words}", words=said)


def examiner_words(person: Person | None) -> str:
    """Say who examines now, and that a tap changes it."""
    if person is None:
        return tr("Examiner: nobody. Change")
    return tr("Examiner: {name}. Change", name=person.name)


def refusal(error: Exception, close: OnClick) -> ft.Control:
    """Show the advice of a refusal: the cause, then the next step."""
    advice = getattr(error, "advice", "") or str(error)
    title = heading(tr(getattr(error, "title", to_translate("This was not done"))))
    read = button("refusal-close", tr("Understood"), close, autofocus=True, kind="main")
    top = ft.Row([ft.Icon(ft.Icons.BLOCK), title])
    shown = stack(top, paragraph(tr(advice)), side_by_side(read))
    return identified("refusal", shown, live=True)


def mishap(details: str, stay: OnClick, home: OnClick) -> ft.Control:
    """Show an error nobody foresaw: what happened, what is safe, what to do."""
    first_line = next(iter(details.strip().splitlines()), tr("Unknown"))
    return identified(
        "mishap",
        stack(
            ft.Row(
                [ft.Icon(ft.Icons.WARNING_AMBER), heading(tr("Something went wrong"))]
            ),
            paragraph(
                tr(
                    "What happened: the last step failed ({report}).",
                    report=first_line[:200],
                )
            ),
            paragraph(
                tr(
                    'What is safe: every change that was marked "saved" is stored. '
                    "The last step may be missing."
                )
            ),
            paragraph(
                tr(
                    "What to do: look whether the last step is there and do it again "
                    "if not. If it fails again, note it on paper and report the line "
                    "above."
                )
            ),
            side_by_side(
                button(
                    "mishap-stay", tr("Stay here"), stay, autofocus=True, kind="main"
                ),
                button("mishap-home", tr("Go to the first screen"), home),
            ),
            quiet(tr("The full report was written where the app was started.")),
        ),
        live=True,
    )
