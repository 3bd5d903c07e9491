"""Text fields with a label that stays, a hint below, and room for a problem."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import flet as ft

from exam_app.ui.identifiers import identified
from exam_app.ui.theme import CORNER


@dataclass(frozen=True, slots=True, repr=False)
class Field:
    """A text field and the control that places it on a screen."""

    control: ft.Semantics
    entry: ft.TextField

    @property
    def value(self) -> str:
        """What is typed, without spaces at either end."""
        return (self.entry.value or "").strip()

    @property
    def typed(self) -> str:
        """What is typed, exactly: for passphrases."""
        return self.entry.value or ""

    def show_problem(self, sentence: str | None) -> None:
        """Write a problem under the field, or take it away."""
        self.entry.error = sentence or None
        self.entry.update()

    def clear(self) -> None:
        """Empty the field."""
        self.entry.value = ""
        self.entry.update()


def text_field(
    identifier: str,
    label: str,
    *,
    value: str = "",
    hint: str | None = None,
    lines: int = 1,
    secret: bool = False,
    keyboard: ft.KeyboardType = ft.KeyboardType.TEXT,
    autofocus: bool = False,
    suffix: str | None = None,
    on_change: Callable[..., Any] | None = None,
    on_submit: Callable[..., Any] | None = None,
    on_blur: Callable[..., Any] | None = None,
    expand: bool | None = None,
) -> Field:
    """Make a labelled field.

    Args:
        identifier: One of ``identifiers``.
        label: Shown inside while empty, above once typed; also its spoken name.
        value: Text at the start.
        hint: Shown below the field.
        lines: 1, or the height of a field for several lines.
        secret: Whether dots are shown, with a button to see the text.
        keyboard: Which keyboard a phone shows.
        autofocus: Whether typing starts here.
        suffix: A unit shown at the end of the field.
        on_change: Called at every letter.
        on_submit: Called at Enter.
        on_blur: Called when another control is chosen.
        expand: As in a row.
    """
    entry = ft.TextField(
        label=label,
        value=value,
        helper=hint,
        helper_max_lines=4,
        error_max_lines=4,
        multiline=lines > 1,
        min_lines=lines,
        max_lines=max(lines, 6) if lines > 1 else 1,
        password=secret,
        can_reveal_password=secret,
        autocorrect=not secret,
        enable_suggestions=not secret,
        keyboard_type=ft.KeyboardType.MULTILINE if lines > 1 else keyboard,
        autofocus=autofocus,
        suffix=suffix,
        border_radius=CORNER,
        border_color=ft.Colors.OUTLINE,
        focused_border_color=ft.Colors.PRIMARY,
        border_width=2,
        focused_border_width=3,
        text_size=None,
        content_padding=ft.Padding.symmetric(vertical=18, horizontal=14),
        on_change=on_change,
        on_submit=on_submit,
        on_blur=on_blur,
    )
    return Field(identified(identifier, entry, expand=expand), entry)
