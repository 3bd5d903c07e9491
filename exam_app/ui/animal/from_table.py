"""Animals from a CSV file: which column is what, what would become of every row, undo.

Nothing is guessed and nothing is joined. What is to be said stands where it is asked
for; below it every row that would not come in has its reason.
"""

from collections.abc import Iterable
from functools import partial

import flet as ft

from exam_app.app.animal_import.importing import (
    AnimalImport,
    imports_of,
    undo_import,
)
from exam_app.app.animal_import.table_choice import (
    FIELD_LABELS,
    alike_lines,
    column_words,
    examples_of,
    import_words,
    plan_words,
    planned_line,
    refusal_words,
    species_labels,
    table_choice,
)
from exam_app.app.exam_sessions import now
from exam_app.app.forms import table_form
from exam_app.app.forms.animal_form import SEX_LABELS
from exam_app.app.forms.form import YES, Ask, Form
from exam_app.domain.wording.visible_text import visible
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.files import pick_files
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import GrowingList, line_button
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import (
    across,
    paragraph,
    quiet,
    section,
    side_by_side,
    stack,
)

_PAGE = 10
_NOT_TAKEN = "none"
_WHAT = to_translate(
    "A table of animals from another program or a spreadsheet, saved as CSV with the "
    "names of its columns in the first line. You see what would become of every row "
    "before anything is taken in. No animal is joined to another by itself."
)
_UNDONE = to_translate(
    "Every animal that this import brought is removed, but for those that were changed "
    "or examined since: these stay and are named."
)


async def build(tab: Tab) -> Screen:
    """Build the screen, with the table that was in hand."""
    shown = _FromTable(tab)
    return Screen(
        tr("Animals from a table"),
        [
            section("", paragraph(tr(_WHAT)), shown.file.control),
            shown.columns.control,
            shown.asked.control,
            shown.rows.control,
            shown.earlier.control,
        ],
        back="/settings",
        pinned=[shown.lacking.control],
        bottom=[shown.way.control],
    )


class _FromTable:
    """The state of the screen; what was chosen is the store's table in hand."""

    def __init__(self, tab: Tab) -> None:
        self.tab, self.choice = tab, table_choice(tab.vault)
        self.file = Slot(self._draw_file)
        self.columns = Slot(self._draw_columns, hides_empty=True)
        self.asked = Slot(self._draw_asked, hides_empty=True)
        self.lacking = Slot(self._draw_lacking, hides_empty=True)
        self.rows = Slot(self._draw_rows, hides_empty=True)
        self.earlier = Slot(self._draw_earlier, hides_empty=True)
        self.way = Slot(self._draw_way)

    # What is chosen and said.

    async def _pick(self) -> None:
        files = await pick_files(self.tab)
        if files:
            self.choice.choose(*files[0])
            await self._follow()

    async def _written(self, name: str, form: Form) -> None:
        setattr(self.choice, name, form[name])
        self.choice.read()
        await self._follow()

    async def _said(self, name: str, form: Form) -> None:
        self.choice.say(name, form[name])
        await self._plan()

    async def _follow(self) -> None:
        """Draw what follows from the file and its columns."""
        self.columns.refresh()
        self.asked.refresh()
        self.file.refresh()
        await self._plan()

    async def _plan(self) -> None:
        today, choice_, vault = now().local().date(), self.choice, self.tab.vault
        await self.tab.session.write(lambda: choice_.plan_anew(vault, today))
        for slot in (self.lacking, self.rows, self.way):
            slot.refresh()

    async def _take_in(self) -> None:
        tab, choice_ = self.tab, self.choice
        made = await tab.save(lambda: choice_.take_in(tab.vault, now()))
        if made is None:
            await self._plan()
            tab.tell(
                tr("What is kept here has changed. Look again: nothing was taken in.")
            )
            return
        await self._follow()
        self.earlier.refresh()
        said = tr_plural(
            "{count} animal taken in.", "{count} animals taken in.", made.count
        )
        tab.tell(said, partial(self._undo, made.number))

    async def _undo(self, number: int) -> None:
        tab, sheet = self.tab, self.tab.sheet
        done = await tab.save(lambda: undo_import(tab.vault, number, now()))
        tab.close_only(sheet)
        self.earlier.refresh()
        await self._plan()
        said = tr_plural(
            "{count} animal removed.", "{count} animals removed.", done.removed
        )
        if done.kept:
            names = ", ".join(done.kept)
            kept = tr("Kept, since they were used: {names}.", names=names)
            said = f"{said} {kept}"
        tab.tell(visible(said))

    # What is drawn.

    def _draw_file(self) -> ft.Control:
        named = visible(self.choice.file)
        label = tr("Choose another file") if named else tr("Choose a CSV file")
        icon = ft.Icons.FILE_OPEN_OUTLINED
        picked = side_by_side(button("table-file", label, self._pick, icon=icon))
        if not named:
            return picked
        saved = {name: getattr(self.choice, name) for name in ("encoding", "separator")}
        form = Form(table_form.WRITTEN, "table", saved)
        view = FormView(form, on_change=lambda name: self._written(name, form))
        table = self.choice.table
        rows = tr("not read")
        if table:
            rows = tr_plural("{count} row", "{count} rows", len(table.rows))
        problem = self.choice.problem
        told = [banner("table-problem", problem, Tone.NOTICE)] if problem else []
        return stack(picked, paragraph(f"{named}: {rows}"), *told, *view.controls())

    def _draw_columns(self) -> ft.Control:
        table = self.choice.table
        if table is None:
            return ft.Container()
        matched = self.choice.matched(self.tab.vault)
        lines = [
            line_button(
                for_choice("table-column", str(number)),
                column_words(column, matched),
                examples_of(table, column),
                partial(self._ask_column, column),
                icon=ft.Icons.VIEW_COLUMN_OUTLINED,
            )
            for number, column in enumerate(table.header)
            if column
        ]
        said = quiet(tr("Tap a column to say what it is. The first words stand below."))
        return section(tr("What each column is"), said, *lines)

    def _ask_column(self, column: str) -> None:
        matched = self.choice.matched(self.tab.vault)
        now_is = [of for of, name in matched.columns.items() if name == column]

        async def chosen(key: str) -> None:
            of = "" if key == _NOT_TAKEN else key
            self.choice.take_column(self.tab.vault, column, of)
            self.tab.close_sheet()
            await self._follow()

        labels = (*FIELD_LABELS, (_NOT_TAKEN, to_translate("Not taken")))
        options = [(key, tr(label)) for key, label in labels]
        row = ChoiceRow(
            "table-field", options, chosen, now_is[0] if now_is else _NOT_TAKEN
        )
        self.tab.open_sheet(
            tr("What is “{column}”?", column=visible(column)), row.control
        )

    def _draw_asked(self) -> ft.Control:
        if self.choice.table is None:
            return ft.Container()
        matched = self.choice.matched(self.tab.vault)
        labels = tuple(species_labels().items())
        asks: list[Ask] = []
        if "species" not in matched.columns:
            asks.append(table_form.species_asked(labels))
        if "birth_date" in matched.columns:
            asks.append(table_form.ORDER)
        if "age" in matched.columns:
            asks += [table_form.UNIT, table_form.DAY]
        words = self._draw_words(labels)
        if not asks and not words:
            return ft.Container()
        form = Form(
            tuple(asks), "table", {one.name: getattr(matched, one.name) for one in asks}
        )
        view = FormView(form, on_change=lambda name: self._said(name, form))
        fields = view.controls() if asks else []
        return section(tr("What it means"), *fields, *words)

    def _draw_words(self, species: tuple[tuple[str, str], ...]) -> list[ft.Control]:
        options = {"species": species, "sex": SEX_LABELS}
        lines = [
            self._word_line(number, of, word, meaning, options[of])
            for number, (of, word, meaning) in enumerate(
                self.choice.foreign_words(self.tab.vault)
            )
        ]
        if not lines:
            return []

        def draw(count: int) -> tuple[list[ft.Control], str]:
            return [*lines[:count]], _more(len(lines), count)

        return [GrowingList("table-word-more", _PAGE).drawn(draw)]

    def _word_line(
        self,
        number: int,
        of: str,
        word: str,
        meaning: str,
        options: tuple[tuple[str, str], ...],
    ) -> ft.Control:
        said = dict(options).get(meaning, "")
        words = tr("Tap to say what it means.")
        if said:
            words = tr("Means {meaning}.", meaning=tr(said).lower())
        return line_button(
            for_choice("table-word", str(number)),
            tr(table_form.WORD_OF[of], word=visible(word)),
            words,
            partial(self._ask_word, of, word, meaning, options),
            icon=ft.Icons.CHECK if said else ft.Icons.HELP_OUTLINE,
        )

    def _ask_word(
        self, of: str, word: str, meaning: str, options: tuple[tuple[str, str], ...]
    ) -> None:
        async def chosen(key: str) -> None:
            self.choice.say_word(of, word, key)
            self.tab.close_sheet()
            await self._follow()

        labels = [(key, tr(label)) for key, label in options]
        row = ChoiceRow("table-meaning", labels, chosen, meaning or None)
        self.tab.open_sheet(
            tr("What does “{word}” mean?", word=visible(word)), row.control
        )

    def _draw_lacking(self) -> ft.Control:
        lacking = self.choice.lacking(self.tab.vault)
        if not lacking:
            return ft.Container()
        said = tr("Still to be said: {what}.", what="; ".join(lacking))
        return banner("table-lacking", visible(said), Tone.NOTICE)

    def _draw_rows(self) -> ft.Control:
        plan = self.choice.plan
        if plan is None:
            return ft.Container()
        today = now().local().date()
        new = [planned_line(one, today) for one in plan.new]
        refused = [refusal_words(one) for one in plan.refused]
        parts = [
            identified("table-counts", paragraph(plan_words(plan))),
            *_listed("table-refused", tr("Refused, with the reason"), refused),
            *self._draw_alike(),
            *_listed("table-new", tr("New animals"), new),
        ]
        return section(tr("What would become of it"), *parts)

    def _draw_alike(self) -> list[ft.Control]:
        if self.choice.plan is None or not self.choice.plan.alike:
            return []
        form = Form((table_form.ALSO,), "table", {"also": YES * self.choice.also_alike})

        def changed(_name: str) -> None:
            self.choice.also_alike = bool(form["also"])
            self.way.refresh()

        found = [*alike_lines(self.tab.vault, self.choice.plan)]
        lines = [
            line_button(
                for_choice("table-alike", str(number)),
                said,
                tr("Tap to look at the animal that is here."),
                self.tab.way(f"/animal/{known[0]}"),
                icon=ft.Icons.PETS,
            )
            for number, (said, known) in enumerate(found)
        ]

        def draw(count: int) -> tuple[list[ft.Control], str]:
            return [*lines[:count]], _more(len(lines), count)

        listed = GrowingList("table-alike-more", _PAGE).drawn(draw)
        said = quiet(tr("They stay as they are, and are joined to none."))
        view = FormView(form, on_change=changed)
        part = stack(said, listed, *view.controls())
        return [identified("table-alike", section(tr("Like animals here"), part))]

    def _draw_way(self) -> ft.Control:
        count = len(self.choice.taken)
        return across(
            button(
                "table-take",
                tr_plural("Take in {count} animal", "Take in {count} animals", count),
                self._take_in,
                icon=ft.Icons.DOWNLOAD_DONE,
                kind="main",
                size="exam",
                disabled=not count,
            )
        )

    def _draw_earlier(self) -> ft.Control:
        made = imports_of(self.tab.vault)
        if not made:
            return ft.Container()
        lines = [self._earlier_line(one) for one in reversed(made)]
        return identified("table-earlier", section(tr("Taken in before"), *lines))

    def _earlier_line(self, one: AnimalImport) -> ft.Control:
        said = paragraph(import_words(one))
        if one.undone:
            return said
        ask, name = (
            partial(self._ask_undo, one),
            for_choice("table-undo", str(one.number)),
        )
        action = button(name, tr("Take out again"), ask, icon=ft.Icons.UNDO)
        return stack(said, side_by_side(action))

    def _ask_undo(self, one: AnimalImport) -> None:
        undo = button(
            "table-undo-now", tr("Take them out"), partial(self._undo, one.number)
        )
        said = paragraph(import_words(one))
        self.tab.open_sheet(
            tr("Take out again?"), said, quiet(tr(_UNDONE)), across(undo)
        )


def _listed(name: str, title: str, lines: list[str]) -> list[ft.Control]:
    """Draw a list that grows, under its title; nothing where it is empty."""
    if not lines:
        return []

    def draw(count: int) -> tuple[list[ft.Control], str]:
        return [*_paragraphs(lines[:count])], _more(len(lines), count)

    listed = GrowingList(f"{name}-more", _PAGE).drawn(draw)
    return [identified(name, section(title, listed))]


def _paragraphs(lines: Iterable[str]) -> Iterable[ft.Control]:
    return map(paragraph, lines)


def _more(whole: int, shown: int) -> str:
    return tr("Show more: {count} left", count=whole - shown) if whole > shown else ""
