"""A number pad for a gloved thumb: keys of exam height, apart, in a fixed order."""

from collections.abc import Awaitable, Callable, Sequence

import flet as ft

from exam_app.app.language_choice import system_country
from exam_app.language.catalogue import chosen, tr
from exam_app.language.regional import decimal_sign
from exam_app.ui.shell.theme import LARGEST_SIGN
from exam_app.ui.widgets.hands import HANDS, Size, control_height
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.room import ROOM
from exam_app.ui.widgets.still_button import THIN, StillButton, still

ERASE = "erase"
OnKey = Callable[[str], Awaitable[None]]
_SPACE = 6
_DIGIT = 25
_ROWS = (("1", "2", "3"), ("4", "5", "6"), ("7", "8", "9"))
_LAST = (".", "0", ERASE)


class NumberPad:
    """The keys, which stay the controls they are whatever they are pressed for.

    A quick tap on a key that is made anew between its press and its release is lost.
    """

    def __init__(self, size: Size = "hands") -> None:
        """Make the keys; ``show`` says what they do."""
        self._size = size
        self._on_key: OnKey | None = None
        self._control = ft.Column([], spacing=_SPACE, tight=True)
        self._make()

    def _make(self) -> None:
        self._has_keys = HANDS.has_keys
        keys = [pad_keys(self._pressed, row, self._size) for row in (*_ROWS, _LAST)]
        self._last = keys[-1]
        self._point = self._last.controls[0]
        self._blank = _key(self._pressed, "", control_height(self._size))
        self._control.controls = [ft.Row([row], spacing=_SPACE) for row in keys]

    async def _pressed(self, key: str) -> None:
        if self._on_key is not None:
            await self._on_key(key)

    def show(
        self, on_key: OnKey, *, has_point: bool, beside: Sequence[ft.Control] = ()
    ) -> ft.Column:
        """Draw the pad for what is typed now.

        Args:
            on_key: Awaited with a digit, ``.`` (whatever sign its key bears) or
                ``erase``.
            has_point: Whether a fraction can be typed.
            beside: What stands at the right of its four rows; none, or one for each.

        Returns:
            The same control each time.
        """
        if self._has_keys is not HANDS.has_keys:
            self._make()
        self._on_key = on_key
        self._last.controls[0] = self._point if has_point else self._blank
        for number, line in enumerate(self._control.controls):
            if isinstance(line, ft.Row):
                line.controls = [line.controls[0], *beside[number : number + 1]]
        return self._control


def number_pad(
    on_key: OnKey, *, has_point: bool = True, size: Size = "hands"
) -> ft.Control:
    """Make the pad of a screen; see ``NumberPad.show``."""
    return NumberPad(size).show(on_key, has_point=has_point)


def pad_keys(on_key: OnKey, keys: Sequence[str], size: Size) -> ft.Row:
    """Make a row of keys; an empty one keeps its room."""
    height = control_height(size)
    row = [_key(on_key, key, height) for key in keys]
    return ft.Row(row, spacing=_SPACE, expand=2)


def _key(on_key: OnKey, key: str, height: int) -> ft.Control:
    if not key:
        return ft.Container(expand=True, height=height)

    async def pressed() -> None:
        await on_key(key)

    # Never higher than its key, whatever the text size.
    face: ft.Control = ft.Text(
        decimal_sign(chosen(), system_country()) if key == "." else key,
        size=_DIGIT * min(ROOM.text_scale, LARGEST_SIGN),
        weight=ft.FontWeight.W_700,
        color=ft.Colors.ON_SURFACE,
    )
    if key == ERASE:
        face = ft.Icon(
            ft.Icons.BACKSPACE_OUTLINED,
            size=_DIGIT,
            semantics_label=tr("Erase"),
            color=ft.Colors.ON_SURFACE,
        )

    def make() -> ft.Control:
        style = ft.ButtonStyle(padding=0)
        return ft.OutlinedButton(
            content=face, on_click=pressed, height=height, style=style
        )

    middle = ft.Row([face], alignment=ft.MainAxisAlignment.CENTER)
    tapped = still(make, middle, pressed, frame=THIN, above=THIN.width, height=height)
    name = "point" if key == "." else key
    named = identified(for_choice("pad", name), tapped, expand=True)
    named.button = isinstance(tapped, StillButton)
    return named
