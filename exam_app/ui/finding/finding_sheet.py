"""Record a finding: side, then term, and it is saved; details may follow.

The third tap of "Finding, Both, term" saves; everything on the details sheet is
optional and saved at once, each on its own.
"""

import asyncio
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import partial

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.form import Ask, Form
from exam_app.app.region_changes import Found, finding_of
from exam_app.app.view.later_details import put_off
from exam_app.app.view.region_presenter import keys_of, label_of, step_name, term_label
from exam_app.domain.animal.body_marks import BodyMark
from exam_app.domain.protocol.protocol import Region, Term
from exam_app.domain.wording.exam_wording import found_words, mark_words
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.exam.seen_earlier import open_seen_earlier, seen_earlier_button
from exam_app.ui.finding.details import DetailsSheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import grid, pick, side_question
from exam_app.ui.widgets.even_rows import evenly
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.hands import HANDS
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, side_by_side, stack, strong

_OWN_WORDS = Ask(
    "words",
    to_translate("In your own words"),
    lines=2,
    required=to_translate("Type what was found."),
    identifier="finding-words",
)


def open_marked(
    tab: Tab, editor: ExamEditor, region: Region, key: str, mark: BodyMark
) -> None:
    """Ask what was found in a part, at a place that was tapped on the drawing."""
    _Terms(tab, editor, region, (key,), mark).open()


def open_terms(tab: Tab, editor: ExamEditor, region: Region) -> None:
    """Ask which side, where there are two, and then what was found."""
    keys = keys_of(editor.exam, editor.protocol, region)

    def chosen(sides: tuple[str, ...]) -> None:
        _Terms(tab, editor, region, sides).open()

    if len(keys) == 1:
        chosen(keys)
        return
    title = tr("{part}: which side?", part=label_of(editor.exam, region))
    tab.open_sheet(title, *side_question("finding-side", keys, chosen))


@dataclass(frozen=True, slots=True, repr=False)
class _Terms:
    """What can be found in a part, on the sides that were chosen.

    Attributes:
        mark: Where it is on a drawing, if that was tapped before.
    """

    tab: Tab
    editor: ExamEditor
    region: Region
    keys: tuple[str, ...]
    mark: BodyMark | None = None

    def open(self) -> None:
        """Offer the region's terms as buttons, and a field for own words."""
        tab, editor, place = self.tab, self.editor, f"found-{'-'.join(self.keys)}"
        label = self._name(tr("own words of a finding"))
        typed = exam_sessions.typed_in(tab.session, editor, place, label)
        view = FormView(Form((_OWN_WORDS,), typed=typed))

        async def save_words() -> None:
            if view.is_complete() and await self._record(None, view.form["words"]):
                typed.drop()

        save = button(
            "finding-words-save", tr("Save these words"), save_words, kind="tile"
        )
        marked = (
            [quiet(tr("At {place}", place=mark_words(self.mark)))] if self.mark else []
        )
        tab.open_sheet(
            self._name(tr("what was found?")),
            *marked,
            self.listed(self.region.terms),
            *view.controls(),
            side_by_side(save),
            typed=typed,
        )

    def listed(self, terms: Iterable[Term]) -> ft.Control:
        """Draw terms as buttons, of which each records at one tap."""
        buttons = list(map(self._term_button, terms))
        if HANDS.gloved or not buttons:
            return stack(*(ft.Row([action]) for action in buttons), spacing=10)
        return evenly(buttons)

    def also(self) -> "_Also":
        """Offer what else can be found on the same sides, once one was recorded."""
        entries = map(self.editor.exam.entry, self.keys)
        found = {one.term_id for entry in entries for one in entry.findings}
        others = (term for term in self.region.terms if term.term_id not in found)
        return _Also(self, tuple(others))

    def _name(self, step: str) -> str:
        return step_name(self.editor.exam, self.region, self.keys, step)

    def _term_button(self, term: Term) -> ft.Control:
        async def tapped() -> None:
            await self._record(term, "")

        return button(
            for_choice("finding-term", term.term_id),
            tr(term_label(self.editor.exam, term)),
            tapped,
            icon=ft.Icons.PRIORITY_HIGH if term.urgent_sign_id else None,
            spoken=tr("Urgent sign") if term.urgent_sign_id else None,
            expand=1 if HANDS.gloved else None,
            kind="tile",
            size="hands",
        )

    async def note(
        self,
        find: Found,
        words: str,
        mark: BodyMark | None = None,
        on_made: Callable[[], None] = lambda: None,
    ) -> bool:
        """Record a find, with its mark if it has one; return whether it is recorded.

        Args:
            on_made: Called once it stands in the exam, before that is saved.
        """
        made = region_changes.found(find, words, mark)
        name = self._find_name(find.term, words)
        if mark is not None:
            name = f"{name}, {mark_words(mark)}"
        session, editor = self.tab.session, self.editor
        return await exam_sessions.change(session, editor, made, name, on_made=on_made)

    def find(self, term: Term | None) -> Found:
        """Make a find on these sides; a term is none for own words."""
        ids = tuple((key, self.editor.new_id()) for key in self.keys)
        return Found(self.region, ids, term)

    def _find_name(self, term: Term | None, words: str) -> str:
        return self._name(tr(term_label(self.editor.exam, term)) if term else words)

    async def _record(self, term: Term | None, words: str) -> bool:
        tab, editor, sheet = self.tab, self.editor, self.tab.sheet
        find, name = self.find(term), self._find_name(term, words)

        def go_on() -> None:
            # Details need clean hands.
            if HANDS.gloved:
                tab.close_only(sheet)
            else:
                open_details(tab, editor, self.region, find.findings, self.also())

        if not await self.note(find, words, self.mark, go_on):
            return False
        if HANDS.gloved:
            tab.tell(tr("{finding}. Details can follow in the review.", finding=name))
            found_ids = tuple(finding_id for _, finding_id in find.findings)
            exam_id = editor.exam.exam_id
            await tab.save(lambda: put_off(tab.vault, exam_id, found_ids))
        return True


@dataclass(slots=True, repr=False)
class _Also:
    """What else is found on the same sides: a tap each, then a short card each.

    A second tap takes one back. What a tap changes stands below all that is tapped.
    """

    terms: _Terms
    others: tuple[Term, ...]
    cards: dict[str, DetailsSheet] = field(default_factory=dict)
    _cells: Slot = field(init=False)
    _drawn: Slot = field(init=False)
    _one_at_a_time: asyncio.Lock = field(default_factory=asyncio.Lock)

    def __post_init__(self) -> None:
        """Draw what can be found, and no card yet."""
        self._cells = Slot(self._draw_cells, in_place=True)
        self._drawn = Slot(self._draw_cards, hides_empty=True)

    def controls(self) -> list[ft.Control]:
        """Return the choices and the cards; nothing where nothing else is offered."""
        if not self.others:
            return []
        return [
            strong(tr("Also found here")),
            self._cells.control,
            self._drawn.control,
        ]

    def _draw_cells(self) -> ft.Control:
        return grid([self._cell(term) for term in self.others], 3)

    def _cell(self, term: Term) -> ft.Control:
        async def tapped() -> None:
            async with self._one_at_a_time:
                await self._tapped(term)
            self._cells.refresh()
            self._drawn.refresh()

        label = tr(term_label(self.terms.editor.exam, term))
        named = pick(
            for_choice("finding-term", term.term_id),
            tr("Urgent: {finding}", finding=label) if term.urgent_sign_id else label,
            tapped,
            is_chosen=term.term_id in self.cards,
            is_cell=True,
        )
        named.key = term.term_id
        return named

    async def _tapped(self, term: Term) -> None:
        terms, known = self.terms, self.cards.get(term.term_id)
        if known is not None:
            if await known.take_back():
                del self.cards[term.term_id]
            return
        find = terms.find(term)
        if await terms.note(find, ""):
            self.cards[term.term_id] = DetailsSheet(
                terms.tab, terms.editor, find, is_card=True
            )

    def _draw_cards(self) -> ft.Control:
        cards = [card.card(partial(self._more, card)) for card in self.cards.values()]
        return stack(*cards) if cards else ft.Container()

    def _more(self, card: DetailsSheet) -> None:
        terms = self.terms
        open_details(terms.tab, terms.editor, terms.region, card.find.findings)


def open_details(
    tab: Tab,
    editor: ExamEditor,
    region: Region,
    findings: tuple[tuple[str, str], ...],
    also: _Also | None = None,
) -> None:
    """Offer what may be added to a finding that is recorded already.

    Args:
        also: What else can be found on the same sides.
    """
    first = finding_of(editor.exam, *findings[0])
    if first is None:
        tab.tell(tr("This finding was taken back."))
        return
    term = region.term(first.term_id)
    find = Found(region, findings, term)
    sheet = DetailsSheet(tab, editor, find, cards=also.cards if also else {})

    def ask_when() -> None:
        made = region_changes.detailed(find)
        open_seen_earlier(tab, editor, first.words, words, made)

    words = found_words(first)
    title = step_name(editor.exam, region, tuple(k for k, _ in findings), words)
    tab.open_sheet(
        title,
        paragraph(tr("Recorded. Everything below may be left open.")),
        *sheet.controls(also.controls() if also else ()),
        typed=sheet.form.typed,
        grows=True,
        leave=sheet.leave,
        later=[sheet.later(seen_earlier_button(ask_when))],
    )
