"""Record a finding: side, then term, and it is saved; details may follow.

The third tap of "Finding, Both, term" saves; everything on the details sheet is
optional and saved at once, each on its own.

The size and feel of a lump become one lump when they are saved.
"""

from dataclasses import dataclass, field, replace
from typing import Any

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms import lump_form
from exam_app.app.forms.finding_form import (
    Place,
    asks_of,
    graded,
    texts_of,
)
from exam_app.app.forms.form import Ask, Form
from exam_app.app.region_changes import Found, finding_of
from exam_app.app.view.later_details import put_off
from exam_app.app.view.region_presenter import keys_of, label_of, step_name, term_label
from exam_app.domain.errors import ExamError, LumpSizeError, ReadingError
from exam_app.domain.exam.findings import Call, Finding, Severity
from exam_app.domain.lumps.lump_history import earlier_lumps, lump_line
from exam_app.domain.lumps.lumps import Lump
from exam_app.domain.protocol.protocol import Region, Term
from exam_app.domain.wording.source_words import cited
from exam_app.ui.exam.seen_earlier import open_seen_earlier, seen_earlier_button
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import side_question
from exam_app.ui.widgets.flags import source_note
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.hands import HANDS
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.texts import across, paragraph, quiet, stack, strong

_TITLE = "Lump: size and feel"


def open_lump(tab: Tab, editor: ExamEditor, find: Found) -> None:
    """Ask for size and feel; two readings are offered."""
    key, finding_id = find.findings[0]
    finding = finding_of(editor.exam, key, finding_id)
    typed = exam_sessions.typed_in(tab.session, editor, f"lump-{finding_id}", _TITLE)
    saved = lump_form.texts_of(finding.lump if finding else None)
    form = Form(lump_form.ASKS, "lump", saved, typed=typed, is_by_name=True)
    view, problem = FormView(form), ProblemNotice("lump-problem")

    def described() -> Lump:
        return lump_form.lump_of(
            form.values(), exam_sessions.person_now(tab.session).name
        )

    async def save() -> None:
        try:
            lump = described()
        except ExamError as refusal:
            problem.say(_sentence(refusal))
            return
        made = region_changes.detailed(find, lump=lump)
        if await tab.change_and_close(editor, made, "lump: size and feel", typed):
            tab.tell("The lump is recorded.")

    def before() -> ft.Control:
        exam = editor.exam
        finding = finding_of(exam, key, finding_id)
        told = [f"{f.date}: {f.summary}" for f in earlier_lumps(exam, key)]
        if finding is None or not told:
            return ft.Container()
        lines: list[ft.Control] = [strong("Measured here before"), *map(quiet, told)]
        try:
            beside = lump_line(exam, key, replace(finding, lump=described()))
        except ExamError:
            # Half a size is being typed: there is nothing to compare yet.
            beside = ""
        return stack(*lines, *beside_part(beside), spacing=6)

    tab.open_sheet(
        _TITLE,
        *view.controls(),
        across(button("lump-save", "Save the lump", save, kind="main tile")),
        # Below the button: it comes and goes with what is chosen above.
        problem.control,
        view.following(before),
        quiet("Two people's callipers can differ by centimetres on one lump."),
        typed=typed,
        grows=True,
    )


def beside_part(line: str) -> list[ft.Control]:
    """Show a lump beside its earlier measuring; nothing where the line is empty."""
    return [identified("lump-beside", paragraph(line), live=True)] if line else []


def _sentence(refusal: ExamError) -> str:
    if isinstance(refusal, LumpSizeError | ReadingError):
        return f"{str(refusal).capitalize()}. {refusal.advice}"
    return refusal.advice


@dataclass(slots=True, repr=False)
class DetailsSheet:
    """Everything that may be added to one find, on the sides it is recorded for."""

    tab: Tab
    editor: ExamEditor
    find: Found
    form: Form = field(init=False)
    _view: FormView = field(init=False)

    def __post_init__(self) -> None:
        """Read what is noted already."""
        found, term = self.finding, self.find.term
        self.form = Form(
            asks_of(term, self.editor.protocol),
            "finding",
            texts_of(found, term),
            typed=exam_sessions.typed_in(
                self.tab.session,
                self.editor,
                f"details-{found.finding_id}",
                f"{found.words}: details",
            ),
            saves_choices=True,
        )
        self._view = FormView(
            self.form,
            on_change=self._changed,
            on_left=self._keep_texts,
            on_enter=self._keep_texts,
        )

    @property
    def finding(self) -> Finding:
        """The finding as recorded now; the first side's where there are two."""
        found = finding_of(self.editor.exam, *self.find.findings[0])
        if found is None:
            msg = "the finding was taken back"
            raise LookupError(msg)
        return found

    def controls(self) -> list[ft.Control]:
        """Build the sheet's controls, what is wanted most often first."""
        asked, drawn = {ask.name for ask in self.form.asks}, self._view.controls
        first = (name for name in ("call", "quality", "severity") if name in asked)
        return [
            self._ends(),
            *drawn(*first),
            *self._graded(),
            *self._lump(),
            strong("Where"),
            *(drawn("place") if "place" in asked else []),
            *drawn("place-words", "since", "since-words", "extent", "note"),
        ]

    async def _set(self, **details: Any) -> bool:  # noqa: ANN401
        made = region_changes.detailed(self.find, **details)
        name = f"{self.finding.words}: details"
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
        return {name: key} if name == "since" else {}

    def _ends(self) -> ft.Control:
        async def done() -> None:
            await self._keep_texts()
            self.tab.close_sheet()

        async def take_back() -> None:
            words = self.finding.words
            made = region_changes.removed(self.find)
            if await exam_sessions.change(
                self.tab.session, self.editor, made, f"without: {words}"
            ):
                self.form.drop()
                self.tab.close_sheet()
                self.tab.tell(f"Taken back: {words}")

        return ft.Row(
            [
                button("finding-done", "Done", done, expand=3, kind="main tile"),
                button("finding-remove", "Take back", take_back, expand=2, kind="tile"),
            ],
            spacing=12,
        )

    @property
    def _scale_id(self) -> str:
        return self.find.term.scale_id if self.find.term else ""

    def _graded(self) -> list[ft.Control]:
        scale, protocol = (
            self.editor.protocol.scale(self._scale_id),
            self.editor.protocol,
        )
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
            "Change size and feel" if self.finding.lump else "Size and feel of the lump"
        )
        key = self.find.findings[0][0]
        beside = beside_part(lump_line(self.editor.exam, key, self.finding))
        return [
            button("lump-open", label, measure, icon=ft.Icons.STRAIGHTEN, kind="tile"),
            *beside,
        ]

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
            self._view.choices["since"].choose(None)
        if await self._set(**changed):
            form.was_saved("place-words", "since-words", "extent", "note")


_OWN_WORDS = Ask(
    "words",
    "In your own words",
    lines=2,
    required="Type what was found.",
    identifier="finding-words",
)


def open_terms(tab: Tab, editor: ExamEditor, region: Region) -> None:
    """Ask which side, where there are two, and then what was found."""
    keys = keys_of(editor.exam, editor.protocol, region)

    def chosen(sides: tuple[str, ...]) -> None:
        _Terms(tab, editor, region, sides).open()

    if len(keys) == 1:
        chosen(keys)
        return
    title = f"{label_of(editor.exam, region)}: which side?"
    tab.open_sheet(title, *side_question("finding-side", keys, chosen))


@dataclass(frozen=True, slots=True, repr=False)
class _Terms:
    """What can be found in a part, on the sides that were chosen."""

    tab: Tab
    editor: ExamEditor
    region: Region
    keys: tuple[str, ...]

    def open(self) -> None:
        """Offer the region's terms as buttons, and a field for own words."""
        tab, editor, place = self.tab, self.editor, f"found-{'-'.join(self.keys)}"
        label = self._name("own words of a finding")
        typed = exam_sessions.typed_in(tab.session, editor, place, label)
        view = FormView(Form((_OWN_WORDS,), typed=typed))

        async def save_words() -> None:
            if view.is_complete() and await self._record(None, view.form["words"]):
                typed.drop()

        buttons = list(map(self._term_button, self.region.terms))
        listed = (
            stack(*(ft.Row([action]) for action in buttons), spacing=10)
            if HANDS.gloved
            else ft.Row(buttons, wrap=True, spacing=10, run_spacing=10)
        )
        save = button("finding-words-save", "Save these words", save_words, kind="tile")
        tab.open_sheet(
            self._name("what was found?"),
            listed,
            *view.controls(),
            ft.Row([save]),
            typed=typed,
        )

    def _name(self, step: str) -> str:
        return step_name(self.editor.exam, self.region, self.keys, step)

    def _term_button(self, term: Term) -> ft.Control:
        async def tapped() -> None:
            await self._record(term, "")

        return button(
            for_choice("finding-term", term.term_id),
            term_label(self.editor.exam, term),
            tapped,
            icon=ft.Icons.PRIORITY_HIGH if term.urgent_sign_id else None,
            spoken="Urgent sign" if term.urgent_sign_id else None,
            expand=1 if HANDS.gloved else None,
            kind="tile",
            size="hands",
        )

    async def _record(self, term: Term | None, words: str) -> bool:
        tab, editor, sheet = self.tab, self.editor, self.tab.sheet
        findings = tuple((key, exam_sessions.new_id()) for key in self.keys)
        name = self._name(term_label(editor.exam, term) if term else words)
        made = region_changes.found(Found(self.region, findings, term), words)
        if not await exam_sessions.change(tab.session, editor, made, name):
            return False
        is_left = tab.sheet is not sheet
        if not HANDS.gloved:
            if not is_left:
                open_details(tab, editor, self.region, findings)
            return True
        # Details need clean hands: the review asks for them.
        if not is_left:
            tab.close_sheet()
        tab.tell(f"{name}. Details can follow in the review.")
        found_ids = tuple(finding_id for _, finding_id in findings)
        exam_id = editor.exam.exam_id
        await tab.save(lambda: put_off(tab.vault, exam_id, found_ids))
        return True


def open_details(
    tab: Tab,
    editor: ExamEditor,
    region: Region,
    findings: tuple[tuple[str, str], ...],
) -> None:
    """Offer what may be added to a finding that is recorded already."""
    first = finding_of(editor.exam, *findings[0])
    if first is None:
        tab.tell("This finding was taken back.")
        return
    term = next((t for t in region.terms if t.term_id == first.term_id), None)
    find = Found(region, findings, term)
    sheet = DetailsSheet(tab, editor, find)

    def ask_when() -> None:
        made = region_changes.detailed(find)
        open_seen_earlier(tab, editor, first.words, made)

    title = step_name(editor.exam, region, tuple(k for k, _ in findings), first.words)
    tab.open_sheet(
        title,
        paragraph("Recorded. Everything below may be left open."),
        *sheet.controls(),
        seen_earlier_button(ask_when),
        typed=sheet.form.typed,
        grows=True,
    )
