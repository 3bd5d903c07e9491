"""A bite or a rabies concern stays on every view of its exam and its animal.

Lists carry the words in their rows; every screen that belongs to one animal shows
them above everything else.
"""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import flet as ft

from exam_app.domain.exam import Exam
from exam_app.ui import exam_room, identifiers
from exam_app.ui.exam_desk import ExamDesk
from exam_app.ui.identifiers import identified
from exam_app.ui.parts.live import LiveSlot
from exam_app.ui.theme import CORNER

if TYPE_CHECKING:
    from exam_app.ui.tab import Tab

BITE = "bite"
_OF_EXAM = {"exam", "record"}
# A kennel card says it itself, first of all.
_OF_ANIMAL = {"animal", "start"}


def concern_of(exam: Exam) -> str:
    """Return an exam's concern in words, for the rows of lists; empty when none."""
    return exam.bite.concern if exam.bite else ""


def concern_words(texts: Iterable[object]) -> str:
    """Join what several exams say, each sentence once; empty when nothing is said."""
    said = dict.fromkeys(str(text) for text in texts if text)
    return f"BITE OR SCRATCH: {'; '.join(said)}" if said else ""


def name_with_concern(row: Mapping[str, Any]) -> str:
    """Return an animal's name as a list shows it, with the concern beside it."""
    name = str(row.get("name"))
    return f"{name} · bite or scratch" if row.get(BITE) else name


def notice(tab: "Tab") -> list[ft.Control]:
    """Draw the concern above every screen of its exam and its animal."""
    kind, _, rest = (tab.page.route or "").strip("/").partition("/")
    key = rest.split("/", 1)[0].split("?", 1)[0]
    if not key or kind not in _OF_EXAM | _OF_ANIMAL:
        return []
    if kind in _OF_ANIMAL:
        return _shown(said_of_animal(tab, key))
    desk = exam_room.opened(key)
    if desk is None or desk.exam.is_closed:
        return _shown(said_of_animal(tab, _animal_of(tab, key)))
    return [_live(tab, desk)]


def said_of_animal(tab: "Tab", animal_id: str, but: str = "") -> list[str]:
    """Return the concerns of an animal's exams, open ones first.

    Args:
        but: ``exam_id`` of an exam that is left out.
    """
    drafts = tab.vault.drafts.open()
    rows = [row for row in drafts if row.get("animal_id") == animal_id]
    rows += tab.vault.closed.for_animal(animal_id)
    return [str(r[BITE]) for r in rows if r.get(BITE) and r["exam_id"] != but]


def _animal_of(tab: "Tab", exam_id: str) -> str:
    drafts = (row for row in tab.vault.drafts.open() if row["exam_id"] == exam_id)
    rows = [*drafts, *tab.vault.closed.claims(exam_id)]
    return str(rows[0].get("animal_id")) if rows else ""


def _live(tab: "Tab", desk: ExamDesk) -> ft.Control:
    others = said_of_animal(tab, desk.exam.animal.animal_id, desk.exam.exam_id)

    def draw() -> ft.Control:
        words = concern_words([concern_of(desk.exam), *others])
        return _bar(words) if words else ft.Container(height=0)

    return LiveSlot(draw, desk.mirrors.visit["bite"]).control


def _shown(said: list[str]) -> list[ft.Control]:
    words = concern_words(said)
    return [_bar(words)] if words else []


def _bar(words: str) -> ft.Control:
    """Draw two lines at most: it stands on every screen, also on small ones."""
    colour = ft.Colors.ON_TERTIARY
    text = ft.Text(
        words,
        color=colour,
        expand=True,
        max_lines=2,
        overflow=ft.TextOverflow.ELLIPSIS,
        theme_style=ft.TextThemeStyle.TITLE_MEDIUM,
    )
    box = ft.Container(
        ft.Row([ft.Icon(ft.Icons.WARNING_AMBER, color=colour), text], spacing=10),
        bgcolor=ft.Colors.TERTIARY,
        border_radius=CORNER,
        padding=ft.Padding.symmetric(vertical=8, horizontal=12),
    )
    return identified(identifiers.BITE_NOTICE, box, live=True)
