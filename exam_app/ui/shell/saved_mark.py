"""What the header says of the last change: saved and when, or not saved.

"Saved" is said of one exam, one animal, one page of settings: above another one, where
nothing was saved, it would be false and is not shown. That something is not saved
stands everywhere until a save has it.
"""

from collections.abc import Callable

import flet as ft

from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.room import line_width
from exam_app.ui.widgets.slot import send

# Size of its font, and its sign with the space behind it.
SAVED, _SIGN = 14, 20


class SavedMark:
    """Its line in the header; the controls stay and change their text.

    A control drawn anew would take the cursor away from whoever types while a save
    returns.
    """

    def __init__(self, room: Callable[[], float]) -> None:
        """Say nothing yet.

        Args:
            room: Gives the width beside the examiner's button, in pixels.
        """
        self.control = ft.Container()
        self._room = room
        self._said: tuple[str, bool] | None = None
        self._place = ""
        self._is_dense = self._has_progress = False
        self._sign = ft.Icon(ft.Icons.CHECK, size=16)
        # It takes a line more rather than reach below the examiner's button.
        self._text = ft.Text(
            "",
            theme_style=ft.TextThemeStyle.LABEL_SMALL,
            expand=True,
            expand_loose=True,
        )

    def stand_above(self, place: str, screen: Screen) -> None:
        """Suit a screen that is shown, and say nothing there of another place.

        Args:
            place: What its address names first.
            screen: Whose header it is in.
        """
        self._is_dense = screen.is_dense
        self._has_progress = screen.progress is not None
        if self._said is not None:
            text, is_safe = self._said
            is_elsewhere = is_safe and place != self._place
            self.show(text, self._place, is_safe=is_safe)
            # It keeps its room: nothing moves when the next save is told.
            self.control.opacity = 0 if is_elsewhere else 1
            send(self.control)

    def show(self, text: str, place: str, *, is_safe: bool) -> None:
        """Say whether the last change is stored.

        A low header, and a narrow one with large text, has room for the sign and one
        word; what is not stored is told whole.

        Args:
            text: Its words.
            place: Where the change was made.
            is_safe: Whether the store has it.
        """
        self._said, self._place, self.control.opacity = (text, is_safe), place, 1
        colour = ft.Colors.ON_SURFACE_VARIANT if is_safe else ft.Colors.ERROR
        self._sign.icon = ft.Icons.CHECK if is_safe else ft.Icons.WARNING_AMBER
        self._sign.color = self._text.color = colour
        has_room = line_width(text, SAVED) + _SIGN <= self._room()
        is_short = is_safe and (self._is_dense or not has_room)
        self._text.value = text.partition(" ")[0] if is_short else text
        self._text.visible = not (is_short and self._has_progress)
        self._sign.semantics_label = text if is_short else None
        if self.control.content is None:
            line = ft.Row([self._sign, self._text], spacing=4, tight=True)
            self.control.content = identified("saved", line)
        said = self.control.content
        if isinstance(said, ft.Semantics):
            said.live_region = not is_safe or None
        send(self.control)
