"""Which side: left, both or right, with the picture of which way the head points."""

from collections.abc import Callable

import flet as ft

from exam_app.app.view.region_presenter import keys_chosen, side_choices
from exam_app.ui.widgets.exam_parts import from_above, tile
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.texts import quiet

_WHOSE = "The animal's own left and right, seen from above."


def side_question(
    group: str,
    keys: tuple[str, ...],
    on_choose: Callable[[tuple[str, ...]], None],
    *,
    tall: bool = False,
) -> list[ft.Control]:
    """Ask for the side of a paired part.

    Args:
        group: Identifier of the group; buttons are ``GROUP-left`` and so on.
        keys: The two region keys, left first.
        on_choose: Called with the key or keys chosen.
        tall: Whether the buttons are meant for a dirty glove.
    """

    def button(choice: str, name: str) -> ft.Control:
        def chosen() -> None:
            on_choose(keys_chosen(choice, keys))

        identifier = for_choice(group, name.lower())
        return tile(identifier, name, chosen, expand=1, tall=tall)

    return [
        ft.Row(
            [from_above(), ft.Container(quiet(_WHOSE), expand=True)],
            spacing=12,
        ),
        ft.Row([button(*choice) for choice in side_choices(keys)], spacing=12),
    ]
