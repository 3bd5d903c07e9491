"""Text fields with a label that stays, a hint below, and room for a problem."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import flet as ft

from exam_app.app.typed_entries import Typed
from exam_app.ui.shell.theme import CONTROL_HEIGHT, CORNER, GLOVED_CONTROL_HEIGHT
from exam_app.ui.widgets.hands import HANDS, Size
from exam_app.ui.widgets.identifiers import identified


@dataclass(frozen=True, slots=True, repr=False)
class Field:
    """A text field and the control that places it on a screen."""

    control: ft.Semantics
    entry: ft.TextField
    kept_in: Typed | None = None
    name: str = ""
    saved: str = ""

    @property
    def value(self) -> str:
        """What is typed, without spaces at either end."""
        return (self.entry.value or "").strip()

    @property
    def typed(self) -> str:
        """What is typed, exactly: for passphrases."""
        return self.entry.value or ""

    async def focus(self) -> None:
        """Give it the cursor."""
        await self.entry.focus()  # type: ignore[no-untyped-call]

    def show_problem(self, sentence: str | None) -> None:
        """Write a problem under the field, or take it away."""
        self.entry.error = sentence or None
        self.entry.update()

    def write(self, text: str) -> None:
        """Put words into the field, as an option that is tapped does."""
        self.entry.value = text
        self.entry.update()
        if self.kept_in is not None:
            self.kept_in.note(self.name, text, self.saved)

    def asks_for(self, label: str, *, secret: bool) -> None:
        """Ask for something else in the same place, with nothing typed yet."""
        entry = self.entry
        entry.label, entry.value = label, ""
        entry.password = entry.can_reveal_password = secret
        entry.update()

    def clear(self) -> None:
        """Empty the field."""
        self.write("")


def text_field(
    identifier: str,
    label: str,
    *,
    value: str = "",
    hint: str | None = None,
    lines: int = 1,
    secret: bool = False,
    size: Size = "usual",
    keyboard: ft.KeyboardType = ft.KeyboardType.TEXT,
    autofocus: bool = False,
    on_change: Callable[..., Any] | None = None,
    on_submit: Callable[..., Any] | None = None,
    on_blur: Callable[..., Any] | None = None,
    typed: Typed | None = None,
) -> Field:
    """Make a labelled field.

    Args:
        label: Shown inside while empty, above once typed; also its spoken name.
        hint: Shown below the field.
        lines: 1, or the height of a field for several lines.
        size: With ``hands`` it is higher for dirty gloves.
        secret: Whether dots are shown, with a button to see the text.
        on_submit: Called at Enter.
        on_blur: Called when another control is chosen.
        typed: Where what is typed is kept until it is saved; a field of a form that
            holds something worth keeping has one, a secret never.
    """
    shown = typed.value(identifier, value) if typed else value
    is_large = size == "hands" and HANDS.gloved
    higher = (GLOVED_CONTROL_HEIGHT - CONTROL_HEIGHT) // 2 if is_large else 0
    entry = ft.TextField(
        label=label,
        value=shown,
        helper=hint,
        helper_max_lines=4,
        error_max_lines=6,
        multiline=lines > 1,
        min_lines=lines,
        max_lines=max(lines, 6) if lines > 1 else 1,
        password=secret,
        can_reveal_password=secret,
        autocorrect=not secret,
        enable_suggestions=not secret,
        keyboard_type=ft.KeyboardType.MULTILINE if lines > 1 else keyboard,
        autofocus=autofocus,
        border_radius=CORNER,
        border_color=ft.Colors.OUTLINE,
        focused_border_color=ft.Colors.PRIMARY,
        border_width=2,
        focused_border_width=3,
        text_size=None,
        content_padding=ft.Padding.symmetric(vertical=18 + higher, horizontal=14),
        on_change=typed.noting(identifier, value, on_change) if typed else on_change,
        on_submit=on_submit,
        on_blur=on_blur,
    )
    return Field(identified(identifier, entry), entry, typed, identifier, value)
