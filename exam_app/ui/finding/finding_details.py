"""The optional details of a finding; each is saved as soon as it is given."""

from dataclasses import dataclass, field
from typing import Any

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.finding_form import (
    CALL_LABELS,
    SEVERITY_LABELS,
    SINCE_LABELS,
    Place,
    grade_label,
    graded,
    read_place,
    read_since,
    severity_of,
)
from exam_app.app.region_changes import Found, finding_of
from exam_app.app.typed_entries import Typed
from exam_app.domain.exam.findings import Call, Finding
from exam_app.domain.lumps.lump_history import lump_line
from exam_app.domain.wording.source_words import cited
from exam_app.ui.finding.lump_sheet import beside_part, open_lump
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow, ToggleRow
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.flags import source_note
from exam_app.ui.widgets.texts import strong

_FIELDS = {
    "place": "finding-place-words",
    "since": "finding-since-words",
    "extent": "finding-extent",
    "note": "finding-note",
}


@dataclass(slots=True, repr=False)
class DetailsSheet:
    """Everything that may be added to one find, on the sides it is recorded for."""

    tab: Tab
    editor: ExamEditor
    find: Found
    typed: Typed = field(init=False)
    _place: Place = field(init=False)
    _texts: dict[str, Field] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Read what is noted already."""
        found = self.finding
        name = f"details-{found.finding_id}"
        label = f"{found.words}: details"
        self.typed = exam_sessions.typed_in(self.tab.session, self.editor, name, label)
        self._place = read_place(self.finding.place, self.find.term)

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
        return [
            self._ends(),
            *self._call(),
            *self._qualities(),
            *self._severity(),
            *self._grade(),
            *self._lump(),
            *self._places(),
            *self._since(),
            self._text("finding-extent", "How much of the part", "extent"),
            self._text("finding-note", "Note", "note"),
        ]

    async def _set(self, **details: Any) -> None:  # noqa: ANN401
        made = region_changes.detailed(self.find, **details)
        name = f"{self.finding.words}: details"
        if await exam_sessions.change(self.tab.session, self.editor, made, name):
            self.typed.forget(*(_FIELDS[key] for key in details if key in _FIELDS))

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
                self.typed.drop()
                self.tab.close_sheet()
                self.tab.tell(f"Taken back: {words}")

        return ft.Row(
            [
                button("finding-done", "Done", done, expand=3, kind="main tile"),
                button("finding-remove", "Take back", take_back, expand=2, kind="tile"),
            ],
            spacing=12,
        )

    def _call(self) -> list[ft.Control]:
        async def chosen(value: str) -> None:
            await self._set(call=Call(value))

        row = ChoiceRow("finding-call", CALL_LABELS, chosen, self.finding.call.value)
        return [strong("Your call"), row.control]

    def _qualities(self) -> list[ft.Control]:
        offered = self.find.term.qualities if self.find.term else ()
        if not offered:
            return []

        async def toggled(keys: tuple[str, ...]) -> None:
            await self._set(qualities=keys)

        options = [(quality, quality) for quality in offered]
        row = ToggleRow("finding-quality", options, toggled, self.finding.qualities)
        return [strong("Which kind"), row.control]

    def _severity(self) -> list[ft.Control]:
        async def chosen(value: str) -> None:
            await self._set(severity=severity_of(value))

        now = self.finding.severity.value if self.finding.severity else None
        row = ChoiceRow(
            "finding-severity", SEVERITY_LABELS, chosen, now, clearable=True
        )
        return [strong("How marked"), row.control]

    def _grade(self) -> list[ft.Control]:
        scale_id = self.find.term.scale_id if self.find.term else ""
        scale = self.editor.protocol.scale(scale_id)
        if scale is None:
            return []

        async def chosen(value: str) -> None:
            grades = graded(self.finding, self.editor.protocol, scale_id, value)
            await self._set(grades=grades)

        given = [g.value for g in self.finding.grades if g.scale_id == scale_id]
        options = [(g.value, grade_label(g.value, g.label)) for g in scale.grades]
        row = ChoiceRow(
            "finding-grade", options, chosen, next(iter(given), None), clearable=True
        )
        about = cited(self.editor.protocol, (scale.source_id,), scale.provenance)
        note = source_note(scale_id, (about,))
        return [strong(scale.label), row.control, note]

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

    def _places(self) -> list[ft.Control]:
        offered = self.find.term.places if self.find.term else ()

        async def chosen(value: str) -> None:
            self._place = Place(value, self._texts["place"].value)
            await self._set(place=self._place.text())

        async def left() -> None:
            self._place = Place(self._place.landmark, self._texts["place"].value)
            if self.finding.place != self._place.text():
                await self._set(place=self._place.text())

        words = text_field(
            "finding-place-words",
            "Where: landmark and distance",
            value=self._place.words,
            on_blur=left,
            on_submit=left,
            typed=self.typed,
        )
        self._texts["place"] = words
        shown: list[ft.Control] = [strong("Where")]
        if offered:
            options = [(place, place) for place in offered]
            now = self._place.landmark or None
            row = ChoiceRow("finding-place", options, chosen, now, clearable=True)
            shown.append(row.control)
        return [*shown, words.control]

    def _since(self) -> list[ft.Control]:
        offered, typed = read_since(self.finding.since)

        async def chosen(value: str) -> None:
            self._texts["since"].clear()
            await self._set(since=value)

        row = ChoiceRow(
            "finding-since", SINCE_LABELS, chosen, offered or None, clearable=True
        )

        async def left() -> None:
            words = self._texts["since"].value
            if words and words != self.finding.since:
                row.choose(None)
                await self._set(since=words)

        words = text_field(
            "finding-since-words",
            "Since when, in words",
            value=typed,
            on_blur=left,
            on_submit=left,
            typed=self.typed,
        )
        self._texts["since"] = words
        return [strong("Since when"), row.control, words.control]

    def _text(self, identifier: str, label: str, name: str) -> ft.Control:
        async def left() -> None:
            if self._texts[name].value != getattr(self.finding, name):
                await self._set(**{name: self._texts[name].value})

        kept = getattr(self.finding, name)
        entry = text_field(
            identifier,
            label,
            value=kept,
            on_blur=left,
            on_submit=left,
            typed=self.typed,
        )
        self._texts[name] = entry
        return entry.control

    async def _keep_texts(self) -> None:
        """Keep what is still in a field that was not left."""
        place = Place(self._place.landmark, self._texts["place"].value).text()
        since = self._texts["since"].value or self.finding.since
        now = {
            "place": place,
            "since": since,
            "extent": self._texts["extent"].value,
            "note": self._texts["note"].value,
        }
        changed = {k: v for k, v in now.items() if v != getattr(self.finding, k)}
        if changed:
            await self._set(**changed)
