"""A vital in the exam's list: folded to one line, or with all that is said of it."""

from collections.abc import Callable
from dataclasses import dataclass, field

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.queries.history import history_before
from exam_app.app.view.history_presenter import before_words
from exam_app.app.view.region_presenter import Sign
from exam_app.app.view.vital_presenter import (
    LOUD,
    CardState,
    VitalCard,
    beside_name,
)
from exam_app.app.view.vital_presenter import card as card_of
from exam_app.domain.exam.vital_transitions import require_vital
from exam_app.domain.protocol.protocol import VitalKind
from exam_app.language.catalogue import tr
from exam_app.ui.animal.history import history_way
from exam_app.ui.animal.past_values import open_values
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.vital.vital_edit import VitalEdit
from exam_app.ui.vital.vital_sheet import edit_in, said_of, zone_rows
from exam_app.ui.vital.vital_zone import carried_words
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.exam_parts import card, line
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.number_pad import NumberPad
from exam_app.ui.widgets.room import ROOM, SPACE
from exam_app.ui.widgets.texts import quiet, stack, strong

_SIGNS = {
    CardState.OPEN: Sign.OPEN,
    CardState.VALUE: Sign.NORMAL,
    CardState.REASON: Sign.GAP,
}


@dataclass(slots=True, repr=False)
class VitalRow:
    """One vital, as its line, its card and its zone; each is drawn when asked for.

    Attributes:
        on_left: Called when it is answered and the hand goes on.
        edit: What is entered of it, since its zone was drawn last.
    """

    tab: Tab
    editor: ExamEditor
    vital_id: str
    on_left: Callable[[], None]
    edit: VitalEdit = field(init=False)

    def __post_init__(self) -> None:
        """Begin to answer it when its zone is drawn."""
        self.begin()

    def begin(self) -> None:
        """Begin with what the exam says, and with what was left unsaved."""
        self.edit = edit_in(self.tab, self.editor, self.vital_id, on_left=self.on_left)

    def _shown(self) -> VitalCard:
        editor = self.editor
        vital = require_vital(editor.exam, editor.protocol, self.vital_id)
        return card_of(editor.exam, editor.protocol, vital)

    def line(
        self,
        on_click: Callable[[], object],
        *more: ft.Control,
        is_chosen: bool = False,
    ) -> ft.Control:
        """Draw the vital in one line; see ``exam_parts.line``."""
        shown = self._shown()
        protocol = self.editor.protocol
        value = beside_name(protocol, self.vital_id, shown.label, shown.shown)
        said = [value, shown.detail] if shown.state is not CardState.OPEN else []
        if shown.lacks_state:
            said.append(tr("Say what the animal was doing."))
        if shown.flag and shown.flag.weight in LOUD:
            said.insert(1, f"{shown.flag.word}{shown.flag.text}")
        sign = Sign.FOUND if shown.flag and shown.flag.weight in LOUD else None
        words = " · ".join(filter(None, said))
        return line(
            for_choice("vital", self.vital_id),
            sign or _SIGNS[shown.state],
            shown.label,
            [ft.Container(quiet(words, lines=1), expand=True)],
            on_click,
            *more,
            is_chosen=is_chosen,
        )

    def card(self, *more: ft.Control) -> ft.Control:
        """Draw the vital with how it is taken, and what was said of it."""
        shown = self._shown()
        name = ft.Container(strong(shown.label), expand=True)
        parts: list[ft.Control] = [ft.Row([name, *more]), *said_of(self.edit)]
        parts += [*self._beside(shown), *map(quiet, carried_words(self.edit))]
        return card(for_choice("vital", self.vital_id), parts, self._focus)

    def headed(self, *more: ft.Control) -> ft.Control:
        """Draw the same, its title last: just above the answers of a low phone.

        Args:
            more: What stands at the end of the title.
        """
        shown = self._shown()
        words: list[ft.Control] = [
            strong(shown.label),
            *map(quiet, carried_words(self.edit)),
        ]
        # The name of the place stands with its words, and not around what is tapped.
        name = for_choice("vital", self.vital_id)
        title = identified(name, ft.Column(words, spacing=0, tight=True), expand=True)
        said = [*said_of(self.edit), *self._beside(shown)]
        return stack(*said, ft.Row([title, *more], spacing=SPACE), spacing=SPACE)

    def _beside(self, shown: VitalCard) -> list[ft.Control]:
        said = [shown.detail] if shown.detail else []
        if shown.lacks_state:
            said.append(tr("Say what the animal was doing."))
        return [*map(quiet, said), *self._before()]

    def _before(self) -> list[ft.Control]:
        """Say what it was last time; a tap opens every earlier value."""
        editor, tab, vital = self.editor, self.tab, self.edit.vital
        history = history_before(tab.vault, editor, tab.person.role)
        words = before_words(history, editor.exam, editor.protocol, vital)

        def opened() -> None:
            if self.edit.is_settling:
                return
            way = history_way(tab, editor.exam.animal.animal_id, editor.exam.exam_id)
            open_values(tab, history.series_of(self.vital_id), way)

        name = for_choice("vital-before", self.vital_id)
        icon = ft.Icons.TIMELINE
        return [button(name, words, opened, icon=icon, kind="quiet")] if words else []

    @property
    def has_pad(self) -> bool:
        """Whether it is answered with a pad, which takes the room of the list."""
        vital = self.edit.vital
        return vital.measure is not None and vital.kind is not VitalKind.GRADE

    def _focus(self) -> None:
        """Stay: a tap on the vital that is current already changes nothing."""

    @property
    def has_room(self) -> bool:
        """Whether a button has room beside the value: a rate has one unit."""
        return self.edit.vital.kind is VitalKind.RATE and ROOM.text_scale == 1

    def zone(self, pad: NumberPad, *beside: ft.Control) -> list[ft.Control]:
        """Draw the rows that answer it, and what stands beside its value."""
        return zone_rows(self.edit, pad, *beside)
