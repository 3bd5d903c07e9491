"""A flag beside a value: its sign, its word, two lines; a tap opens what is behind."""

from collections.abc import Callable, Iterable

import flet as ft

from exam_app.app.view.vital_presenter import LOUD, FlagNotice, FlagWeight
from exam_app.language.catalogue import tr
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, stack


def source_note(key: str, lines: Iterable[str], label: str = "") -> ft.Control:
    """Make a button that opens and closes its sources below itself.

    Args:
        key: What it belongs to, for the button's identifier.
        lines: A line for each source: who, when, read or recalled.
        label: What the button says; that something comes from there, without one.
    """
    written, label = tuple(lines), label or tr("Where this comes from")
    name = for_choice("source-note", key.replace("_", "-"))
    return opens_below(
        name, lambda: [quiet(line) for line in written], label, label, spacing=6
    )


def opens_below(
    identifier: str,
    draw: Callable[[], list[ft.Control]],
    closed: str,
    opened: str,
    *,
    spacing: int,
) -> ft.Control:
    """Make a button that opens and closes something below itself.

    Args:
        identifier: Of the button.
        draw: Gives what is shown while it is open.
        closed: What the button says while it is closed.
        opened: What it says while it is open.
    """
    is_open = [False]

    def toggled() -> None:
        is_open[0] = not is_open[0]
        slot.refresh()

    def shown() -> ft.Control:
        label = opened if is_open[0] else closed
        icon = ft.Icons.EXPAND_LESS if is_open[0] else ft.Icons.EXPAND_MORE
        action = button(identifier, label, toggled, icon=icon, kind="quiet")
        return stack(action, *draw(), spacing=spacing) if is_open[0] else action

    slot = Slot(shown)
    return slot.control


_SIGNS = {
    FlagWeight.OUTSIDE: ft.Icons.WARNING_AMBER,
    FlagWeight.NEAR: ft.Icons.COMPARE_ARROWS,
    FlagWeight.DISPUTED: ft.Icons.ALT_ROUTE,
    FlagWeight.WITHIN: ft.Icons.CHECK,
}


def flag_line(notice: FlagNotice) -> ft.Control:
    """Write a flag in its two lines."""
    is_loud = notice.weight in LOUD
    colour = ft.Colors.ON_TERTIARY if is_loud else ft.Colors.ON_SURFACE_VARIANT
    bold = ft.TextStyle(weight=ft.FontWeight.W_700)
    words = ft.Text(
        spans=[ft.TextSpan(notice.word, bold), ft.TextSpan(notice.text)],
        theme_style=ft.TextThemeStyle.BODY_SMALL,
        color=colour,
        expand=True,
    )
    row = ft.Row(
        [ft.Icon(_SIGNS[notice.weight], size=20, color=colour), words],
        spacing=8,
        vertical_alignment=ft.CrossAxisAlignment.START,
    )
    if not is_loud:
        return row
    return ft.Container(row, bgcolor=ft.Colors.TERTIARY, border_radius=6, padding=8)


def flag_with_ranges(notice: FlagNotice) -> ft.Control:
    """Write a flag, and a button that opens every range and its source below it."""
    line = identified("vital-flag", flag_line(notice))
    if not notice.behind:
        return line

    def draw() -> list[ft.Control]:
        return [stack(paragraph(a), quiet(b), spacing=2) for a, b in notice.behind]

    closed, opened = tr("Which ranges, from whom"), tr("Close the ranges")
    ranges = opens_below("vital-flag-ranges", draw, closed, opened, spacing=12)
    return stack(line, ranges, spacing=0)
