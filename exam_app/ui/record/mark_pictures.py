"""The drawings of a record with its marks, as they were placed."""

import flet as ft

from exam_app.app.view.mark_presenter import (
    MARKS_LEGEND,
    drawing_words,
    on_view,
    shown_marks,
    view_title,
    views_marked,
)
from exam_app.domain.exam.exam import Exam
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.language.catalogue import tr
from exam_app.protocols.bodies import is_drawn, load_body
from exam_app.ui.shell.theme import CORNER
from exam_app.ui.widgets.body_picture import marked_picture
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.room import ROOM
from exam_app.ui.widgets.texts import quiet, side_by_side, stack

# Of a screen's frame and of the section it stands in, at both sides.
_FRAME = 64
_WIDEST = 320


def mark_pictures(exam: Exam, protocol: SpeciesProtocol) -> list[ft.Control]:
    """Draw each view that has a mark; nothing for a species without a drawing.

    What they say stands in words below them, for whoever does not see them.
    """
    marks = shown_marks(exam, protocol)
    if not marks or not is_drawn(protocol.species):
        return []
    width = min(_WIDEST, ROOM.width - _FRAME)
    drawn = []
    for view in views_marked(marks, load_body(protocol.species)):
        placed = on_view(marks, view)
        name = view_title(view)
        paper = ft.Container(
            marked_picture(view, width, placed),
            bgcolor=ft.Colors.SURFACE,
            border_radius=CORNER,
            clip_behavior=ft.ClipBehavior.ANTI_ALIAS,
        )
        words = drawing_words(view, placed)
        shown = identified(for_choice("record-mark", view.name), paper, label=words)
        drawn.append(stack(quiet(name), shown, spacing=2))
    return [side_by_side(*drawn), quiet(tr(MARKS_LEGEND))] if drawn else []
