"""The details of a find: all of them on a sheet, or the first of them on a card.

Each is optional and saved at once, on its own.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.finding_form import (
    Place,
    asks_of,
    graded,
    texts_of,
)
from exam_app.app.forms.form import Form
from exam_app.app.region_changes import Found, finding_of
from exam_app.app.view.photograph_subjects import Subject
from exam_app.app.view.rest_presenter import SIDE_LABELS, with_side
from exam_app.app.view.urgent_presenter import answered_text
from exam_app.domain.exam.finding_transitions import finding_origin
from exam_app.domain.exam.findings import Call, Finding, Severity
from exam_app.domain.lumps.lump_history import lump_line
from exam_app.domain.protocol.protocol import split_key
from exam_app.domain.wording.exam_wording import found_words, sign_words
from exam_app.domain.wording.source_words import cited
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.finding.lump_sheet import beside_part, open_lump
from exam_app.ui.finding.mark_place import mark_button
from exam_app.ui.photographs.kept_sheet import (
    ICON,
    open_photographs,
    photograph_label,
)
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.sheet_rest import MadeLater
from exam_app.ui.widgets.buttons import OnClick, button
from exam_app.ui.widgets.flags import source_note
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import ProblemNotice, Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import in_its_place, stack, strong

_UNGRADED = to_translate(
    "No grade is chosen for {finds}. Choose it below, or tap Done again to leave it "
    "out."
)


@dataclass(slots=True, repr=False)
class DetailsSheet:
    """Everything that may be added to one find, on the sides it is recorded for.

    Attributes:
        is_card: Whether it is drawn beside another's, so that its controls have names
            of their own.
        cards: The short cards of what was found with it, which close with it.
    """

    tab: Tab
    editor: ExamEditor
    find: Found
    is_card: bool = False
    cards: Mapping[str, "DetailsSheet"] = field(default_factory=dict)
    form: Form = field(init=False)
    _view: FormView = field(init=False)
    _ungraded: ProblemNotice = field(init=False)
    _rest: ft.Column = field(default_factory=stack)

    def __post_init__(self) -> None:
        """Read what is noted already."""
        found, term = self.finding, self.find.term
        self._ungraded = ProblemNotice("finding-ungraded", hides_empty=True)
        self.form = Form(
            asks_of(term, self.editor.protocol, self.find.keys[0], found),
            "finding",
            texts_of(found, term),
            typed=exam_sessions.typed_in(
                self.tab.session,
                self.editor,
                f"details-{found.finding_id}",
                tr("{finding}: details", finding=found_words(found)),
            ),
            saves_choices=True,
        )
        self.form.prefix = self.stem
        self._view = FormView(
            self.form,
            on_change=self._changed,
            on_left=self._keep_texts,
            on_enter=self._keep_texts,
        )

    @property
    def stem(self) -> str:
        """What begins the identifiers of its controls."""
        term = self.find.term
        return (
            for_choice("finding", term.term_id) if term and self.is_card else "finding"
        )

    @property
    def finding(self) -> Finding:
        """The finding as recorded now; the first side's where there are two."""
        found = finding_of(self.editor.exam, *self.find.findings[0])
        if found is None:
            msg = "the finding was taken back"
            raise LookupError(msg)
        return found

    def controls(self, also: Sequence[ft.Control] = ()) -> list[ft.Control]:
        """Build the sheet's controls, what is wanted most often first.

        Args:
            also: What else can be found on the same sides.
        """
        return [
            self._ends(),
            self._ungraded.control,
            self._call(),
            *also,
            *self._first(),
            *self._lump(),
            *self._photographs(),
            self._rest,
        ]

    def later(self, *end: ft.Control) -> MadeLater:
        """Give what stands last, and is made once the first is on its way.

        Args:
            end: Stands below it.
        """

        def make() -> list[ft.Control]:
            if finding_of(self.editor.exam, *self.find.findings[0]) is None:
                return []  # It was taken back meanwhile.
            drawn = self._view.controls
            has_places = any(ask.name == "place" for ask in self.form.asks)
            return [
                strong(tr("Where")),
                *self._mark(),
                *(drawn("place") if has_places else []),
                *drawn("place-words", "since", "since-words", "extent", "note"),
                *end,
            ]

        return MadeLater(self._rest, make)

    def card(self, more: OnClick) -> ft.Control:
        """Draw the little that is wanted most often, and the way to the rest."""
        words = found_words(self.finding)
        rest = button(
            f"{self.stem}-more",
            tr("More: {finding}", finding=words),
            more,
            kind="quiet",
        )
        drawn = stack(strong(words), self._call(), *self._first(), rest, spacing=8)
        return identified(f"{self.stem}-card", drawn)

    def leave(self) -> None:
        """Close, unless a grade was left out and nobody has been told."""
        said = self._without_grade()
        if said and said != self._ungraded.text:
            self._ungraded.say(said)
        else:
            self.tab.close_sheet()

    async def take_back(self) -> bool:
        """Take the find back; return whether it is."""
        made, session = region_changes.removed(self.find), self.tab.session
        name = tr("without: {finding}", finding=found_words(self.finding))
        is_gone = await exam_sessions.change(session, self.editor, made, name)
        if is_gone:
            self.form.drop()
        return is_gone

    def _first(self) -> list[ft.Control]:
        asked = {ask.name for ask in self.form.asks}
        first = (name for name in ("side", "quality", "severity") if name in asked)
        return [*self._view.controls(*first), *self._graded()]

    def _call(self) -> ft.Control:
        return Slot(self._draw_call, self.editor.view.urgent).control

    async def _set(self, **details: Any) -> bool:  # noqa: ANN401
        made = region_changes.detailed(self.find, **details)
        name = tr("{finding}: details", finding=found_words(self.finding))
        return await exam_sessions.change(self.tab.session, self.editor, made, name)

    async def _changed(self, name: str) -> None:
        """Save what is chosen by its tap, with the words that belong to it."""
        chosen, words = self._chosen(name), f"{name}-words"
        if name == "since":
            self._view.write(words, "")
        is_saved = bool(chosen) and await self._set(**chosen)
        if is_saved and words in self.form.texts:
            self.form.was_saved(words)

    def _chosen(self, name: str) -> dict[str, Any]:
        """Return a choice as the finding keeps it; nothing of a text field."""
        key = self.form[name]
        if name == "call":
            return {name: Call(key)}
        if name == "quality":
            return {"qualities": self.form.several(name)}
        if name == "severity":
            return {name: Severity(key) if key else None}
        if name == "grade":
            protocol, scale_id = self.editor.protocol, self._scale_id
            return {"grades": graded(self.finding, protocol, scale_id, key)}
        if name == "place":
            return {name: self._place()}
        return {name: key} if name in ("side", "since") else {}

    def _ends(self) -> ft.Control:
        async def done() -> None:
            await self._keep_texts()
            self.leave()

        async def take_back() -> None:
            words, sheet = found_words(self.finding), self.tab.sheet
            if await self.take_back():
                self.tab.close_only(sheet)
                told = tr("Taken back: {finding}.", finding=words)
                self.tab.tell(f"{told} {self._without_grade()}".strip())

        return ft.Row(
            [
                button("finding-done", tr("Done"), done, expand=3, kind="main tile"),
                button(
                    "finding-remove", tr("Take back"), take_back, expand=2, kind="tile"
                ),
            ],
            spacing=12,
        )

    def _draw_call(self) -> ft.Control:
        """Ask whom it is for; an urgent find says so, and that a person is told."""
        origins = {finding_origin(*one) for one in self.find.findings}
        signs = [one for one in self.editor.exam.urgent if one.origin in origins]
        asked = in_its_place(stack(*self._view.controls("call")), not signs)
        if not signs:
            return asked
        words = (
            tr(
                "URGENT: {sign}. {answered}",
                sign=sign_words(one),
                answered=answered_text(one),
            )
            for one in signs
        )
        said = banner(f"{self.stem}-urgent", "\n".join(words), Tone.URGENT)
        return ft.Stack([asked, said])

    def _without_grade(self) -> str:
        """Say which finds here are a grade alone, and have none; empty for none.

        One that denies a claim is a find without its grade too.
        """
        lacking = []
        for one in (self, *self.cards.values()):
            found = finding_of(self.editor.exam, *one.find.findings[0])
            term = one.find.term
            is_grade = term is not None and bool(term.scale_id) and not term.negates
            if found is not None and is_grade and not found.grades:
                lacking.append(found_words(found))
        return tr(_UNGRADED, finds=", ".join(lacking)) if lacking else ""

    @property
    def _scale_id(self) -> str:
        return self.find.term.scale_id if self.find.term else ""

    def _graded(self) -> list[ft.Control]:
        protocol = self.editor.protocol
        scale = protocol.scale(self._scale_id)
        if scale is None:
            return []
        about = cited(protocol, (scale.source_id,), scale.provenance)
        return [*self._view.controls("grade"), source_note(scale.scale_id, (about,))]

    def _lump(self) -> list[ft.Control]:
        if not (self.find.term and self.find.term.is_lump):
            return []

        async def measure() -> None:
            await self._keep_texts()
            open_lump(self.tab, self.editor, self.find)

        label = (
            tr("Change size and feel")
            if self.finding.lump
            else tr("Size and feel of the lump")
        )
        key = self.find.findings[0][0]
        beside = beside_part(lump_line(self.editor.exam, key, self.finding))
        return [
            button("lump-open", label, measure, icon=ft.Icons.STRAIGHTEN, kind="tile"),
            *beside,
        ]

    def _mark(self) -> list[ft.Control]:
        return mark_button(self.tab, self.editor, self.find)

    def _photographs(self) -> list[ft.Control]:
        """Lead to the photographs of each side that it is recorded for."""
        offers: list[ft.Control] = []
        for key, finding_id in self.find.findings:
            subject = Subject(key, finding_id)
            label = photograph_label(self.editor, subject)
            side = tr(SIDE_LABELS.get(split_key(key)[1], ""))
            words = with_side(side, label) if len(self.find.findings) > 1 else label
            name = for_choice(f"{self.stem}-photograph", finding_id)
            opened = partial(self._open_photographs, subject)
            offers.append(button(name, words, opened, icon=ICON, kind="tile"))
        return offers

    async def _open_photographs(self, subject: Subject) -> None:
        await self._keep_texts()
        open_photographs(self.tab, self.editor, subject)

    def _place(self) -> str:
        asked = self.form.values()
        return Place(asked.get("place", ""), asked["place-words"]).text()

    async def _keep_texts(self) -> None:
        """Keep what stands in the text fields and is not recorded yet."""
        form = self.form
        now = {"place": self._place(), "extent": form["extent"], "note": form["note"]}
        if form["since-words"]:
            now["since"] = form["since-words"]
        changed = {k: v for k, v in now.items() if v != getattr(self.finding, k)}
        if not changed:
            return
        if "since" in changed:
            form.put("since", "")
            if since := self._view.choices.get("since"):
                since.choose(None)
        if await self._set(**changed):
            form.was_saved("place-words", "since-words", "extent", "note")
