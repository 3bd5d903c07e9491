"""What can hurt whoever handles an animal stands above every screen of its exam.

It is typed before an exam, in the animal's own form, or during one; then it is kept
with the animal too, so that every later exam begins with it.
"""

from dataclasses import replace
from typing import TYPE_CHECKING

import flet as ft

from exam_app.domain.handling import warnings_of_part
from exam_app.domain.protocol import Region
from exam_app.domain.signalment import Animal
from exam_app.ui import animal_shelf, exam_room
from exam_app.ui.bite_concerns import warning_bar
from exam_app.ui.identifiers import HANDLING_NOTICE, REGION_WARNING, for_region
from exam_app.ui.parts.live import LiveSlot

if TYPE_CHECKING:
    from exam_app.ui.exam_desk import ExamDesk
    from exam_app.ui.tab import Tab


def notice(tab: "Tab") -> list[ft.Control]:
    """Draw the warnings above every screen of an open exam."""
    kind, _, rest = (tab.page.route or "").strip("/").partition("/")
    desk = exam_room.opened(rest.split("/", 1)[0].split("?", 1)[0])
    if kind not in ("exam", "round") or desk is None or desk.exam.is_closed:
        return []
    slot = LiveSlot(
        lambda: _drawn(tab, desk), desk.mirrors.visit["animal"], hides_empty=True
    )
    return [slot.control]


def warning_words(here: str, known: str = "") -> str:
    """Join what was typed in this exam and in the animal's form, each once."""
    said = dict.fromkeys(text.strip() for text in (here, known) if text.strip())
    return f"CAN HURT YOU: {'; '.join(said)}" if said else ""


def warnings_beside(desk: "ExamDesk", region: Region) -> list[ft.Control]:
    """Draw beside a part what was said of that very part; nothing where nothing was."""
    said = warnings_of_part(desk.exam.animal.dangers, region)
    name = for_region(region.region_id, REGION_WARNING)
    return [warning_bar(name, warning_words("; ".join(said)))] if said else []


async def keep(tab: "Tab", animal: Animal) -> None:
    """Keep the warnings of an exam's animal with the animal itself."""
    if tab.vault.animals.get(animal.animal_id) is None:
        return
    known, owner = animal_shelf.fetch(tab, animal.animal_id)
    if known.dangers != animal.dangers:
        await animal_shelf.keep(tab, replace(known, dangers=animal.dangers), owner)


def _drawn(tab: "Tab", desk: "ExamDesk") -> ft.Control:
    animal = desk.exam.animal
    words = warning_words(animal.dangers, _known(tab, animal.animal_id))
    if not words:
        return ft.Container()
    return warning_bar(HANDLING_NOTICE, words)


def _known(tab: "Tab", animal_id: str) -> str:
    plain = tab.vault.animals.get(animal_id)
    return str(plain.get("dangers") or "") if plain else ""
