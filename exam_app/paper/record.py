"""The veterinarian's record on paper: what presses first, then all the rest.

Every line is one of the written record's. Private notes stand in no copy of a record,
so in none on paper.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from exam_app.app.exam_words import signature_lines
from exam_app.app.view.history_presenter import legend, since_words
from exam_app.app.view.mark_presenter import (
    MARKS_LEGEND,
    on_view,
    shown_marks,
    view_title,
    views_marked,
)
from exam_app.app.view.plot import plot_of
from exam_app.domain.animal.history import Series
from exam_app.domain.exam.exam import Exam
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.photo_wording import PHOTOGRAPHS, photo_words
from exam_app.domain.wording.region_wording import MARKS
from exam_app.domain.wording.written_record import Section, WrittenRecord
from exam_app.language.catalogue import in_english
from exam_app.paper.figures import draw_plot, draw_view
from exam_app.paper.fonts import Font
from exam_app.paper.pdf_file import Picture
from exam_app.paper.sheet import PageSize, Sheet
from exam_app.protocols.bodies import is_drawn, load_body

ATTENTION = "For the veterinarian's attention"
_FIRST = (ATTENTION, "Corrections after closing", "Findings", MARKS)
# Of its letters: the first that keeps a record on its pages.
_SIZES = (8.0, 7.5, 7.0)
_PAGES = 2
_SMALL = 6.5
_PLOT_HEIGHT = 78.0
_HIGHEST = 150.0
_ACROSS = 3


@dataclass(frozen=True, slots=True)
class Signed:
    """How a record was signed, in lines.

    Attributes:
        said: When it was closed, who signed it, what that proves.
        exam_hash: In hexadecimal.
        key_id: Of the key that signed it.
    """

    said: str
    exam_hash: str
    key_id: bytes

    @property
    def lines(self) -> tuple[str, ...]:
        """Say how it was signed, and how that is verified."""
        return (self.said, *signature_lines(self.exam_hash, self.key_id), VERIFY)


VERIFY = (
    "To verify: this paper is a copy and is not signed itself. The record in the app, "
    "and exam-app verify, show the hash, the key and the same words. Six words hold "
    "the first 66 bits of a hash."
)


@dataclass(frozen=True, slots=True)
class RecordFacts:
    """What stands on the paper.

    Attributes:
        written: The record with its notes, without private ones.
        signed: ``None`` for a draft.
        weights: The animal's weight over time up to this record, if known.
        pictures: Those that are here, by the hash that the exam names them by.
        practice: Its name, and its telephone number behind it.
    """

    written: WrittenRecord
    exam: Exam
    protocol: SpeciesProtocol
    signed: Signed | None = None
    weights: Series | None = None
    pictures: Mapping[str, Picture] = field(default_factory=dict)
    practice: str = ""


@in_english()
def record_sheet(facts: RecordFacts, size: PageSize, font: Font) -> bytes:
    """Return the record as a PDF.

    It is written smaller where that keeps it on two pages; where nothing does, on as
    many as it takes.
    """
    tried = (_laid_out(facts, size, font, letters) for letters in _SIZES)
    first = next(tried)
    if first.page_count <= _PAGES:
        return first.pdf()
    fitting = (sheet for sheet in tried if sheet.page_count <= _PAGES)
    return next(fitting, first).pdf()


def _laid_out(facts: RecordFacts, size: PageSize, font: Font, letters: float) -> Sheet:
    written = facts.written
    digest = f"record {facts.signed.exam_hash[:12]}" if facts.signed else "not signed"
    foot = " · ".join(filter(None, (written.title, digest)))
    sheet = Sheet(size, font, written.title, foot)
    if facts.practice:
        sheet.text(facts.practice, letters)
    sheet.text(written.title, 12, bold=True)
    sheet.box(written.headline, letters + 0.5)
    for part in written.sections:
        if part.heading == ATTENTION:
            sheet.heading(ATTENTION, letters + 1.5)
            for line in part.lines:
                sheet.text(line, letters + 0.5, bold=True, indent=9, mark="•")
    sheet.columns(2)
    for part in _in_order(written.sections):
        if part.heading != ATTENTION:
            _section(sheet, part, facts, letters)
    if facts.signed is not None:
        sheet.heading("Signature", letters + 1.5)
        sheet.items(facts.signed.lines, letters)
    return sheet


def _in_order(sections: Iterable[Section]) -> list[Section]:
    """Return what was found before all that surrounds it, else as it is written."""
    every = [*sections]
    first = [part for name in _FIRST for part in every if part.heading == name]
    return [*first, *(part for part in every if part.heading not in _FIRST)]


def _section(sheet: Sheet, part: Section, facts: RecordFacts, letters: float) -> None:
    sheet.heading(part.heading, letters + 1.5)
    if part.heading == MARKS:
        draw_marks(sheet, facts.exam, facts.protocol)
    if part.heading == PHOTOGRAPHS:
        _photographs(sheet, facts)
    sheet.items(part.lines, letters)
    if part.heading == "Vitals" and facts.weights is not None:
        _weights(sheet, facts.weights, letters)


def draw_marks(sheet: Sheet, exam: Exam, protocol: SpeciesProtocol) -> None:
    """Draw each view that has a mark, two beside each other."""
    marks = shown_marks(exam, protocol)
    if not marks or not is_drawn(protocol.species):
        return
    views = views_marked(marks, load_body(protocol.species))
    gap = 6.0
    each = (sheet.frame.width - gap) / 2
    for at in range(0, len(views), 2):
        pair = views[at : at + 2]
        widths = [min(each, _HIGHEST * 1000 / view.height) for view in pair]
        high = max(v.height * w / 1000 for v, w in zip(pair, widths, strict=True))
        sheet.require(high + 14)
        left, top = sheet.frame.left, sheet.frame.at
        for number, (view, width) in enumerate(zip(pair, widths, strict=True)):
            x = left + number * (each + gap)
            sheet.write(view_title(view), x, top + 7, 7)
            draw_view(sheet, view, (x, top + 11), width, on_view(marks, view))
        sheet.frame.at = top + high + 14
    sheet.text(MARKS_LEGEND, _SMALL)


def _weights(sheet: Sheet, weights: Series, letters: float) -> None:
    plot = plot_of(weights.values, sheet.frame.width, _PLOT_HEIGHT, _SMALL)
    if plot is None:
        return
    # Words and plot stand together.
    sheet.require(_PLOT_HEIGHT + 5 * letters)
    named = f"{weights.label} over time: {since_words(weights)}"
    sheet.text(named, letters, before=2)
    draw_plot(sheet, plot, (sheet.frame.left, sheet.frame.at))
    sheet.frame.at += _PLOT_HEIGHT + 2
    sheet.text(legend(weights, plot), _SMALL)


def _photographs(sheet: Sheet, facts: RecordFacts) -> None:
    """Place those that are here, three beside each other, each with what it shows."""
    gap = 5.0
    each = (sheet.frame.width - gap * (_ACROSS - 1)) / _ACROSS
    shown = [
        (facts.pictures[photo.sha256], photo_words(facts.exam, facts.protocol, photo))
        for photo in facts.exam.photos
        if photo.sha256 in facts.pictures
    ]
    for at in range(0, len(shown), _ACROSS):
        _row(sheet, shown[at : at + _ACROSS], each, gap)


def _row(
    sheet: Sheet, shown: Sequence[tuple[Picture, str]], each: float, gap: float
) -> None:
    step = _SMALL * 1.25
    captions = [sheet.wrapped(words, _SMALL, each) for _, words in shown]
    # No higher than wide: a portrait is made narrower.
    widths = [each * min(1, one.width / max(1, one.height)) for one, _ in shown]
    high = max(
        width * one.height / max(1, one.width)
        for width, (one, _) in zip(widths, shown, strict=True)
    )
    below = max(map(len, captions)) * step
    sheet.require(high + below + 6)
    left, top = sheet.frame.left, sheet.frame.at
    for number, ((picture, _), width) in enumerate(zip(shown, widths, strict=True)):
        x = left + number * (each + gap)
        sheet.picture(picture, x, top, width)
        for row, line in enumerate(captions[number], 1):
            sheet.write(line, x, top + high + row * step, _SMALL)
    sheet.frame.at = top + high + below + 6
