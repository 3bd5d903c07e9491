"""Fields with options that write into them; the rarer ones under "More"."""

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field

import flet as ft

from exam_app.app.forms.visit_forms import Ask
from exam_app.app.typed_entries import Typed
from exam_app.domain.exam.people import Role
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.texts import heading, stack

OnSaid = Callable[[], Awaitable[None]]


@dataclass(slots=True, repr=False)
class VisitForm:
    """The fields of one sheet.

    Attributes:
        texts: What is said already, by field; a field that is said is never hidden.
        words: Whose words the labels speak.
        on_said: Awaited when a field is left or an option tapped.
        typed: Where what is typed is kept until it is saved; a field with such words
            is never hidden either.
    """

    asks: tuple[Ask, ...]
    texts: Mapping[str, str]
    words: Role
    on_said: OnSaid | None = None
    typed: Typed | None = None
    _fields: dict[str, Field] = field(default_factory=dict)

    def controls(self) -> list[ft.Control]:
        """Build the fields that are always shown, then the way to the rest."""
        rest = [ask for ask in self.asks if ask.is_more and not self._stands(ask)]
        shown = [self._draw(ask) for ask in self.asks if ask not in rest]
        if not rest:
            return shown
        return [*shown, self._more(rest)]

    def _stands(self, ask: Ask) -> str:
        saved = self.texts[ask.name]
        name = for_choice("visit-field", ask.name)
        return self.typed.value(name, saved) if self.typed else saved

    def said(self) -> dict[str, str]:
        """Return every text as it stands now; a field never opened says nothing."""
        return dict(self.texts) | {n: entry.value for n, entry in self._fields.items()}

    def show_problem(self, name: str, sentence: str) -> bool:
        """Write a problem under one field and take it from the others.

        Args:
            name: Of the field; empty where there is no problem.

        Returns:
            Whether there is one.
        """
        for other, entry in self._fields.items():
            entry.show_problem(sentence if other == name else None)
        return bool(name)

    def _more(self, rest: list[Ask]) -> ft.Control:
        def opened() -> None:
            place.content = stack(*(self._draw(ask) for ask in rest))
            place.update()

        icon = ft.Icons.EXPAND_MORE
        more = button("visit-more", "More", opened, icon=icon, kind="tile")
        place = ft.Container(ft.Row([more]))
        return place

    def _draw(self, ask: Ask) -> ft.Control:
        async def left() -> None:
            if self.on_said is not None:
                await self.on_said()

        entry = text_field(
            for_choice("visit-field", ask.name),
            ask.in_words(self.words),
            value=self.texts[ask.name],
            hint=ask.hint or None,
            lines=ask.lines,
            on_blur=left,
            typed=self.typed,
        )
        self._fields[ask.name] = entry
        above = [heading(ask.block)] if ask.block else []
        if not ask.options:
            return stack(*above, entry.control) if above else entry.control
        options = [
            self._option(ask, number, words, entry)
            for number, words in enumerate(ask.options)
        ]
        row = ft.Row(options, wrap=True, spacing=8, run_spacing=8)
        return stack(*above, entry.control, row, spacing=8)

    def _option(self, ask: Ask, number: int, words: str, entry: Field) -> ft.Control:
        async def tapped() -> None:
            entry.write(words)
            if self.on_said is not None:
                await self.on_said()

        name = for_choice("visit-option", f"{ask.name}-{number}")
        return button(name, words, tapped, kind="tile")
