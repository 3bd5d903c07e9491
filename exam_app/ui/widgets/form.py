"""The one drawing of a form: its fields, the rarer ones under "More", its problems.

A form is written in English and shown in the language chosen: its labels, hints,
blocks, choices and options, and the sentences of its problems. What stands in it stays
English.
"""

import inspect
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import flet as ft

from exam_app.app.forms.form import CHOSEN, SECRETS, YES, Ask, Form, Kind
from exam_app.domain.exam.people import Role
from exam_app.language.catalogue import tr
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow, ToggleRow, pick
from exam_app.ui.widgets.even_rows import evenly
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.hands import Size
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.slot import Slot, is_on_page
from exam_app.ui.widgets.texts import heading, quiet, side_by_side, stack, strong

_KEYBOARDS = {
    Kind.NUMBER: ft.KeyboardType.NUMBER,
    Kind.PIN: ft.KeyboardType.NUMBER,
    Kind.PHONE: ft.KeyboardType.PHONE,
    # It offers digits, letters and the point, and mends nothing.
    Kind.MEASURED: ft.KeyboardType.VISIBLE_PASSWORD,
}


@dataclass(slots=True, repr=False)
class FormView:
    """The controls of a form; a field that is drawn again shows what stands in it.

    Attributes:
        words: Whose words the labels speak.
        on_change: Called with a field's name after each letter and each choice.
        on_left: Called when a text field is left or one of its options tapped.
        on_enter: Called at Enter in a text field.
        size: Of the choices.
        autofocus: Name of the field where typing starts.
        fields: The text fields drawn last, by name.
    """

    form: Form
    words: Role = Role.TECHNICIAN
    on_change: Callable[[str], Any] | None = None
    on_left: Callable[[], Any] | None = None
    on_enter: Callable[[], Any] | None = None
    size: Size = "exam"
    autofocus: str = ""
    fields: dict[str, Field] = field(default_factory=dict)
    choices: dict[str, ChoiceRow] = field(default_factory=dict)
    _problems: dict[str, ProblemNotice] = field(default_factory=dict)
    _following: list[tuple[tuple[str, ...], Slot]] = field(default_factory=list)

    def controls(self, *names: str) -> list[ft.Control]:
        """Draw fields, each choice with its label above; then the way to the rest.

        Args:
            *names: Of the fields wanted, in this order; all where none is named.
        """
        form = self.form
        asks = tuple(map(form.ask, names)) or form.asks
        # A field with words in it is never hidden.
        rest = [ask for ask in asks if ask.is_more and not form.texts[ask.name]]
        shown = [one for ask in asks if ask not in rest for one in self._draw(ask)]
        return [*shown, self._more(rest)] if rest else shown

    def control(self, name: str) -> ft.Control:
        """Draw the field of this name, without the words around a choice."""
        ask = self.form.ask(name)
        return self._choice(ask) if ask.kind in CHOSEN else self._draw(ask)[-1]

    def following(self, draw: Callable[[], ft.Control], *names: str) -> ft.Control:
        """Draw what follows from these fields, again after each change of one.

        Args:
            draw: As of any slot.
            *names: Of the fields; every one where none is named.
        """
        slot = Slot(draw)
        self._following.append((names, slot))
        return slot.control

    def write(self, name: str, text: str) -> None:
        """Put words into a field, as an option that is tapped does."""
        self.form.put(name, text)
        self.fields[name].write(self.form.ask(name).option_label(text))

    def show_problem(self, name: str, sentence: str) -> bool:
        """Write a problem under one field and take it from the others.

        It goes when its field is changed.

        Args:
            name: Of the field; empty where there is no problem.
            sentence: What is wrong.

        Returns:
            Whether there is one.
        """
        said = tr(sentence)
        for other, entry in self.fields.items():
            if is_on_page(entry.entry):
                entry.show_problem(said if other == name else None)
        for other, line in self._problems.items():
            line.say(said if other == name else "")
        return bool(name)

    def is_complete(self) -> bool:
        """Whether nothing is missing; the first field that is says so below itself."""
        return not self.show_problem(*self.form.missing())

    async def _changed(self, name: str, text: str) -> None:
        self.form.put(name, text)
        if name in self.fields and self.fields[name].entry.error:
            self.fields[name].show_problem(None)
        if name in self._problems:
            self._problems[name].clear()
        for names, slot in self._following:
            if not names or name in names:
                slot.refresh()
        if self.on_change is not None:
            await _done(self.on_change(name))

    def _more(self, rest: list[Ask]) -> ft.Control:
        def opened() -> None:
            place.content = stack(*(one for ask in rest for one in self._draw(ask)))
            place.update()

        name = f"{self._stem}-more"
        place = ft.Container(
            side_by_side(
                self._tile(name, tr("More"), opened, icon=ft.Icons.EXPAND_MORE)
            )
        )
        return place

    @property
    def _stem(self) -> str:
        return self.form.prefix.removesuffix("-field")

    def _draw(self, ask: Ask) -> list[ft.Control]:
        if ask.kind in CHOSEN:
            is_labelled = ask.label and ask.kind is not Kind.TOGGLE
            label: list[ft.Control] = [strong(tr(ask.label))] if is_labelled else []
            hint = [quiet(tr(ask.hint))] if ask.hint else []
            return [*label, self._choice(ask), *self._problem(ask), *hint]
        entry = self._text(ask)
        above: list[ft.Control] = [heading(tr(ask.block))] if ask.block else []
        if not ask.options:
            return [stack(*above, entry) if above else entry]
        options = [self._option(ask, n, words) for n, words in enumerate(ask.options)]
        return [stack(*above, entry, evenly(options), spacing=8)]

    def _problem(self, ask: Ask) -> list[ft.Control]:
        if not ask.required:
            return []
        identifier = f"{self.form.identifier(ask)}-problem"
        line = self._problems[ask.name] = ProblemNotice(identifier, hides_empty=True)
        return [line.control]

    def _choice(self, ask: Ask) -> ft.Control:
        name, group = ask.name, self.form.identifier(ask)

        async def chosen(key: str) -> None:
            await self._changed(name, key)

        async def toggled(keys: tuple[str, ...]) -> None:
            await self._changed(name, "\n".join(keys))

        if ask.kind is Kind.TOGGLE:
            return self._toggle(ask)
        if ask.kind is Kind.SEVERAL:
            chosen_now = self.form.several(name)
            return ToggleRow(
                group, _shown(ask.choices), toggled, chosen_now, self._tiles
            ).control
        self.choices[name] = ChoiceRow(
            group,
            _shown(ask.choices),
            chosen,
            self.form.texts[name] or None,
            size=self.size,
            clearable=ask.is_clearable,
            columns=ask.columns,
        )
        return self.choices[name].control

    def _toggle(self, ask: Ask) -> ft.Control:
        async def tapped() -> None:
            await self._changed(ask.name, "" if self.form[ask.name] else YES)
            slot.refresh()

        def draw() -> ft.Control:
            group, is_chosen = self.form.identifier(ask), bool(self.form[ask.name])
            size = self.size
            return side_by_side(
                pick(group, tr(ask.label), tapped, is_chosen=is_chosen, size=size)
            )

        slot = Slot(draw, in_place=True)
        return slot.control

    def _text(self, ask: Ask) -> ft.Control:
        async def changed(event: ft.Event[ft.TextField]) -> None:
            await self._changed(ask.name, _stored(ask, event.control.value or ""))

        self.fields[ask.name] = text_field(
            self.form.identifier(ask),
            ask.in_words(self.words),
            value=ask.option_label(self.form.texts[ask.name]),
            hint=tr(ask.hint) or None,
            lines=ask.lines,
            secret=ask.kind in SECRETS,
            size=self.size,
            keyboard=_KEYBOARDS.get(ask.kind, ft.KeyboardType.TEXT),
            autofocus=ask.name == self.autofocus,
            on_change=changed,
            on_submit=self.on_enter,
            on_blur=self.on_left,
        )
        return self.fields[ask.name].control

    def _option(self, ask: Ask, number: int, words: str) -> ft.Control:
        async def tapped() -> None:
            self.write(ask.name, words)
            if self.on_left is not None:
                await _done(self.on_left())

        name = f"{self._stem}-option-{ask.name}-{number}"
        return self._tile(name, ask.option_label(words), tapped)

    def _tile(
        self,
        name: str,
        words: str,
        tapped: Callable[..., Any],
        icon: ft.IconData | None = None,
    ) -> ft.Control:
        return button(name, words, tapped, kind="tile", icon=icon, size=self._tiles)

    @property
    def _tiles(self) -> Size:
        return "hands" if self.size == "hands" else "exam"


def _shown(choices: tuple[tuple[str, str], ...]) -> list[tuple[str, str]]:
    return [(key, tr(label)) for key, label in choices]


def _stored(ask: Ask, shown: str) -> str:
    """Return what is kept of a field: one of its options in English."""
    options = ask.options
    return next((one for one in options if ask.option_label(one) == shown), shown)


async def _done(answer: Any) -> None:  # noqa: ANN401
    if inspect.isawaitable(answer):
        await answer
