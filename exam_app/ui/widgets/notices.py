"""Notices: a sign, a word and a sentence; never a colour alone."""

from enum import Enum

import flet as ft

from exam_app.ui.shell.theme import CORNER, GAP
from exam_app.ui.widgets.buttons import colour_button
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, side_by_side


class Tone(Enum):
    """How a notice speaks: its sign, its text colour and its ground."""

    PLAIN = (
        ft.Icons.INFO_OUTLINE,
        ft.Colors.ON_PRIMARY_CONTAINER,
        ft.Colors.PRIMARY_CONTAINER,
    )
    NOTICE = (ft.Icons.WARNING_AMBER, ft.Colors.ON_TERTIARY, ft.Colors.TERTIARY)
    URGENT = (ft.Icons.PRIORITY_HIGH, ft.Colors.ON_ERROR, ft.Colors.ERROR)


def banner(
    identifier: str,
    text: str,
    tone: Tone = Tone.PLAIN,
    *actions: ft.Control,
) -> ft.Control:
    """Write a notice across the screen, with what can be done about it.

    Args:
        text: One or two sentences; an urgent one begins with the word.
        *actions: Buttons below the text; none at all is allowed.
    """
    sign, colour, ground = tone.value
    said = paragraph(text)
    said.color, said.expand = colour, True
    words = ft.Row(
        [ft.Icon(sign, color=colour), said],
        spacing=GAP,
        vertical_alignment=ft.CrossAxisAlignment.START,
    )
    for action in actions:
        colour_button(action, colour)
    rows: list[ft.Control] = [words, *([side_by_side(*actions)] if actions else [])]
    box = ft.Container(
        content=ft.Column(rows, spacing=GAP, tight=True),
        bgcolor=ground,
        border_radius=CORNER,
        padding=14,
    )
    return identified(identifier, box, live=True)


class ProblemNotice(Slot):
    """The place of a notice that says what is wrong; empty while nothing is."""

    def __init__(
        self, identifier: str, *, hides_empty: bool = False, calm: str = ""
    ) -> None:
        """Begin without a problem; place ``control`` on a screen.

        Args:
            identifier: Finds the notice.
            hides_empty: As of any slot.
            calm: Stands there while nothing is wrong.
        """
        self._identifier, self._calm, self.text = identifier, calm, ""
        super().__init__(self._notice, hides_empty=hides_empty)

    def say(self, sentence: str) -> bool:
        """Say what is wrong, or nothing where it is empty; tell whether there is."""
        self.text = sentence
        self.refresh()
        return bool(sentence)

    def clear(self) -> None:
        """Take away what was said, since it is being corrected."""
        if self.text:
            self.say("")

    def _notice(self) -> ft.Control:
        if self.text:
            return banner(self._identifier, self.text, Tone.NOTICE)
        return banner(self._identifier, self._calm) if self._calm else ft.Container()


def refused_protocols(words: str) -> list[ft.Control]:
    """Say which of the practice's own files are not used; nothing if all are."""
    return [banner("protocol-refused", words, Tone.NOTICE)] if words else []
