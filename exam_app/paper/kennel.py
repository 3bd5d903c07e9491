"""A kennel card to hang on a door: large, for whoever passes.

No owner, no private note and nobody who was bitten stands on it: of a bite only when
it was, and what quarantine was said. The code holds the id of the newest exam and
nothing else.
"""

from collections.abc import Iterator, Sequence

from exam_app.domain.exam.exam import Exam
from exam_app.domain.wording.kennel_card import (
    NOT_YET_SEEN,
    WARNINGS,
    is_by_veterinarian,
    kennel_card,
)
from exam_app.language.catalogue import in_english
from exam_app.paper.figures import draw_code
from exam_app.paper.fonts import Font
from exam_app.paper.sheet import MARGIN, PageSize, Sheet

_CODE = 96.0
_NAMED_ABOVE = ("Name", "Number")
_TO_FILL_IN = ("Feeding", "Handling, said by hand")


@in_english()
def kennel_sheet(
    exams: Sequence[Exam], size: PageSize, font: Font, practice: str = ""
) -> bytes:
    """Return the card of an animal as a PDF.

    Args:
        exams: All of it, newest first, open or closed; at least one.
        size: Of the page.
        font: Everything is written in it.
        practice: Its name and number.
    """
    newest = exams[0]
    animal, demo = newest.animal, "DEMO. " * newest.is_demo
    foot = f"{demo}Kennel card, {newest.started.local():%Y-%m-%d}. {practice}"
    sheet = Sheet(size, font, f"Kennel card: {animal.name}", foot)
    draw_code(sheet, newest.exam_id, (sheet.width - MARGIN - _CODE, MARGIN), _CODE)
    sheet.narrow(_CODE + 12)
    name = " · ".join(dict.fromkeys(filter(None, (animal.name, animal.tag))))
    sheet.text(f"{demo}{name or 'Unnamed'}", 30, bold=True)
    sheet.text(f"Exam {newest.exam_id}", 7)
    sheet.columns(1)
    sheet.below(MARGIN + _CODE + 6)
    for label, text in card_lines(exams):
        if label in WARNINGS and text != NOT_YET_SEEN:
            sheet.box([f"{label}: {text}"], 17)
        elif label not in _NAMED_ABOVE:
            sheet.text(label, 9, before=5)
            sheet.text(text, 17)
    for label in _TO_FILL_IN:
        sheet.text(label, 9, before=8)
        sheet.answer_lines(1, 26)
    return sheet.pdf()


def card_lines(exams: Sequence[Exam]) -> Iterator[tuple[str, str]]:
    """Yield the lines of the card as a screen shows it, and what a door needs more."""
    seen = any(is_by_veterinarian(exam) for exam in exams if exam.is_closed)
    newest, *earlier = exams
    yield from kennel_card(newest, was_seen_by_veterinarian=seen, earlier=earlier)
    behaviour = newest.animal.behaviour
    if behaviour:
        yield "Behaviour", behaviour
    feed = newest.group.feed if newest.group else ""
    if feed:
        yield "Feed", feed
