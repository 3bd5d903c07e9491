"""What can hurt whoever handles an animal stands above every screen of its exam.

It is typed before an exam, in the animal's own form, or during one; then it is kept
with the animal too, so that every later exam begins with it. How the animal answered
when a part was handled, in this exam or an earlier one, stands with it.
"""

from collections.abc import Callable
from dataclasses import replace

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.queries import animals as animal_queries
from exam_app.domain.animal.signalment import Animal
from exam_app.domain.exam.exam import words_for
from exam_app.domain.exam.handling import (
    reaction_words,
    tells_of_reaction,
    warnings_of_part,
)
from exam_app.domain.protocol.protocol import Region, split_key
from exam_app.language.catalogue import tr
from exam_app.ui.animal.bite_notice import warning_bar
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.identifiers import for_region
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph


def notice(tab: Tab) -> list[ft.Control]:
    """Draw the warnings above every screen of an open exam; a tap shows them whole."""
    kind, _, rest = (tab.page.route or "").strip("/").partition("/")
    editor = tab.session.editors.get(rest.split("/", 1)[0].split("?", 1)[0])
    if kind not in ("exam", "round") or editor is None or editor.exam.is_closed:
        return []

    def draw() -> ft.Control:
        words = warning_words(*warnings_of(tab, editor))
        if not words:
            return ft.Container()
        return warning_bar("handling-notice", words, _opener(tab, editor))

    view = editor.view
    follows = (view.visit["animal"], view.handling)
    return [Slot(draw, *follows, hides_empty=True).control]


def warnings_of(tab: Tab, editor: ExamEditor) -> tuple[str, ...]:
    """Return all that is known to hurt: as typed of the animal, then its reactions."""
    exam, handling = editor.exam, editor.view.handling
    behaviour = exam.animal.behaviour
    return (
        exam.animal.dangers,
        _known(tab, exam.animal.animal_id),
        behaviour if tells_of_reaction(behaviour) else "",
        *(
            reaction_words(one, editor.protocol, words_for(exam))
            for one in (*handling.now, *handling.earlier)
        ),
    )


def warning_words(*said: str) -> str:
    """Join what was typed in this exam, in the animal's form and before, each once."""
    each = dict.fromkeys(text.strip() for text in said if text.strip())
    return tr("CAN HURT YOU: {dangers}", dangers="; ".join(each)) if each else ""


def warnings_beside(tab: Tab, editor: ExamEditor, region: Region) -> list[ft.Control]:
    """Draw beside a part what was said of that very part; nothing where nothing was."""
    words = words_beside(editor, region)
    name = for_region(region.region_id, "warning")
    return [warning_bar(name, words, _opener(tab, editor))] if words else []


def words_beside(editor: ExamEditor, region: Region) -> str:
    """Return what was said of a very part to hurt; empty where nothing was.

    What this exam says of the part stands in its answer already.
    """
    handling = editor.view.handling
    said = list(warnings_of_part(editor.exam.animal.dangers, region))
    for one in (*handling.now, *handling.earlier):
        is_of_part = split_key(one.key)[0] == region.region_id
        if one.day and is_of_part:
            said.append(f"{one.text} ({one.day})")
        elif not one.key:
            said += warnings_of_part(one.text, region)
    return warning_words(*said)


def _opener(tab: Tab, editor: ExamEditor) -> Callable[[], None]:
    def opened() -> None:
        said = dict.fromkeys(filter(None, warnings_of(tab, editor)))
        tab.open_sheet(tr("What can hurt you"), *(paragraph(text) for text in said))

    return opened


async def keep(tab: Tab, animal: Animal) -> None:
    """Keep the warnings of an exam's animal with the animal itself."""
    if tab.vault.animals.shown(animal.animal_id) is None:
        return
    known, owner = animal_queries.fetch(tab.session, animal.animal_id)
    if known.dangers != animal.dangers:
        await animal_queries.keep(
            tab.session, replace(known, dangers=animal.dangers), owner
        )


def _known(tab: Tab, animal_id: str) -> str:
    known = tab.vault.animals.shown(animal_id)
    return known.dangers if known else ""
