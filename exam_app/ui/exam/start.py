"""Before the first touch: what was last time, what can hurt, how far the exam goes.

The address may name the scope and the place that the last intake had.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from urllib.parse import parse_qsl

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_start import (
    SCOPE_MEANING,
    SETTING_LABELS,
    ExamOrder,
    asks_for_sex,
    caution_sources,
    cautions_by_kind,
    own_dangers,
    scopes_for,
    usual_setting,
)
from exam_app.app.exam_words import animal_line
from exam_app.app.forms.animal_form import SEX_LABELS
from exam_app.app.practice_protocols import protocol_for
from exam_app.app.queries import animals as animal_queries
from exam_app.app.queries import day_plan
from exam_app.app.queries.animals import LastTime
from exam_app.app.queries.earlier_reactions import earlier_reactions
from exam_app.app.queries.history import read_rest
from exam_app.domain.animal.signalment import Animal, Sex
from exam_app.domain.exam.closing import regions_to_choose
from exam_app.domain.exam.handling import is_kind, reaction_words
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import SCOPE_LABELS, Scope, SpeciesProtocol
from exam_app.domain.wording.exam_wording import summary_shown
from exam_app.language.catalogue import tr
from exam_app.paper.fonts import Font
from exam_app.paper.printing import print_blank_form
from exam_app.paper.sheet import PageSize
from exam_app.ui.animal.history import history_way
from exam_app.ui.paper.print_sheet import Printable, print_button
from exam_app.ui.record.record_notes import request_lines
from exam_app.ui.record.records import open_exams_of, records_of
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import bar_button, button
from exam_app.ui.widgets.choices import ChoiceRow, ToggleRow
from exam_app.ui.widgets.flags import source_note
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import (
    heading,
    paragraph,
    quiet,
    section,
    stack,
    strong,
)

LAST_SETTING = "last_setting"


async def build(tab: Tab, animal_id: str) -> Screen:
    """Build the screen that starts an exam of one animal."""
    animal, _ = animal_queries.fetch(tab.session, animal_id)
    protocol = protocol_for(tab.session, animal.species).protocol
    # Many records take a second: in parts, so that a tap meanwhile is answered.
    await read_rest(tab.session, animal_id)
    last = animal_queries.last_time(tab.session, animal_id)
    carried = dict(parse_qsl((tab.page.route or "").partition("?")[2]))
    return StartScreen(tab, animal, protocol, last, carried).screen()


@dataclass(slots=True, repr=False)
class StartScreen:
    """What is chosen before an exam; the scope is asked first."""

    tab: Tab
    animal: Animal
    protocol: SpeciesProtocol
    last: LastTime
    carried: Mapping[str, str] = field(default_factory=dict)
    _scope: Scope = field(init=False)
    _setting: str = field(init=False)
    _is_setting_chosen: bool = False
    _focus: tuple[str, ...] = ()
    _more: Slot = field(init=False)
    _where: ChoiceRow = field(init=False)

    def __post_init__(self) -> None:
        """Offer the scope usual for the role, and the setting of last time."""
        offered = self._scopes_offered(self._role)
        named = [scope for scope in offered if scope == self.carried.get("scope")]
        self._scope = (*named, *offered)[0]
        self._setting = self.carried.get("setting") or self._usual_setting()
        self._more = Slot(self._draw_more)

    @property
    def _role(self) -> Role:
        return self.tab.person.role

    def _usual_setting(self) -> str:
        chosen = self.tab.vault.settings.get(LAST_SETTING, "")
        return usual_setting(chosen, self._role, self._scope, self.protocol).value

    def _scopes_offered(self, role: Role) -> tuple[Scope, ...]:
        return scopes_for(role, self.protocol, is_group=self.animal.is_group)

    def screen(self) -> Screen:
        """Build the screen."""
        today = datetime.now().astimezone().date()

        async def edit() -> None:
            await self.tab.go(f"/animal/{self.animal.animal_id}")

        return Screen(
            title=self.animal.name,
            back="/animals",
            # A veterinarian may choose parts that others are not offered.
            on_person=self._more.refresh,
            body=[
                paragraph(animal_line(self.animal, today)),
                *open_exams_of(self.tab, self.animal.animal_id),
                *self._own_dangers(),
                *self._last_time(),
                *self._history(),
                *request_lines(self.tab, self.animal.animal_id),
                *self._sex(),
                heading(tr("How far does this exam go?")),
                self._scopes(),
                self._more.control,
                heading(tr("Where")),
                self._settings(),
                self._cautions(),
                self._printing(),
                *records_of(self.tab, self.animal.animal_id),
            ],
            bottom=[
                ft.Row(
                    [
                        button(
                            "start-go",
                            tr("Start the exam"),
                            self._start,
                            kind="main",
                            expand=2,
                        ),
                        bar_button("plan", tr("Plan"), ft.Icons.CHECKLIST, self._plan),
                        bar_button("animal-edit", tr("Change"), ft.Icons.EDIT, edit),
                    ],
                    spacing=4,
                )
            ],
        )

    def _last_time(self) -> list[ft.Control]:
        weight, findings = self.last.weight, self.last.findings
        lines: list[ft.Control] = [
            quiet(f"{f.date}: {summary_shown(f, self.protocol)}") for f in findings
        ]
        if lines:
            lines.insert(0, strong(tr("Found, and asked again in this exam")))
        if weight:
            lines.insert(0, paragraph(tr("Weight {weight}", weight=weight)))
        if not lines:
            return []
        return [identified("start-last", section(tr("Last time"), *lines))]

    def _history(self) -> list[ft.Control]:
        animal_id = self.animal.animal_id
        return [history_way(self.tab, animal_id)] if self.last.has_history else []

    def _sex(self) -> list[ft.Control]:
        """Ask for a sex that is not known, before parts of both must be answered."""

        async def chosen(value: str) -> None:
            known, owner = animal_queries.fetch(self.tab.session, self.animal.animal_id)
            self.animal = replace(known, sex=Sex(value))
            await animal_queries.keep(self.tab.session, self.animal, owner)
            self._more.refresh()

        if not asks_for_sex(self.animal, self.protocol, self._scope):
            return []
        sexes = [(sex, tr(label)) for sex, label in SEX_LABELS]
        row = ChoiceRow("start-sex", sexes, chosen, columns=3)
        why = tr("While it is not known, the parts of both sexes are asked.")
        return [heading(tr("Which sex?")), row.control, quiet(why)]

    def _own_dangers(self) -> list[ft.Control]:
        role = self._role
        told = (
            reaction_words(one, self.protocol, role)
            for one in earlier_reactions(self.tab.vault, self.animal.animal_id)
        )
        words = " · ".join(filter(None, (own_dangers(self.animal), *told)))
        warned: list[ft.Control] = (
            [banner("start-cautions", words, Tone.NOTICE)] if words else []
        )
        kind = self.animal.behaviour if is_kind(self.animal.behaviour) else ""
        return [
            *warned,
            *([quiet(tr("Behaviour: {behaviour}", behaviour=kind))] if kind else []),
        ]

    def _scopes(self) -> ft.Control:
        async def chosen(value: str) -> None:
            self._scope = Scope(value)
            if not self._is_setting_chosen and "setting" not in self.carried:
                self._setting = self._usual_setting()
                self._where.choose(self._setting)
            self._more.refresh()

        scopes = self._scopes_offered(self._role)
        options = [(scope.value, tr(SCOPE_LABELS[scope])) for scope in scopes]
        scope = self._scope.value
        return ChoiceRow("start-scope", options, chosen, scope, columns=3).control

    def _draw_more(self) -> ft.Control:
        meaning = quiet(tr(SCOPE_MEANING[self._scope]))
        if self._scope is not Scope.FOCUSED:
            return meaning

        async def toggled(keys: tuple[str, ...]) -> None:
            self._focus = keys

        regions = regions_to_choose(self.animal, self.protocol, self._role)
        options = [(region.region_id, tr(region.label)) for region in regions]
        row = ToggleRow("start-focus", options, toggled, self._focus)
        return stack(meaning, row.control)

    def _settings(self) -> ft.Control:
        async def chosen(value: str) -> None:
            self._setting, self._is_setting_chosen = value, True

        options = [(one.value, tr(label)) for one, label in SETTING_LABELS.items()]
        setting = self._setting
        self._where = ChoiceRow("start-setting", options, chosen, setting, columns=4)
        return self._where.control

    def _cautions(self) -> ft.Control:
        lines: list[ft.Control] = []
        for kind, texts in cautions_by_kind(self.protocol):
            lines += [strong(kind), *map(quiet, texts)]
        about = caution_sources(self.protocol)
        note = source_note("cautions", about, tr("Where these come from"))
        return section(tr("Before touching it"), *lines, note)

    def _printing(self) -> ft.Control:
        """Offer a blank form of the species, for a day without power."""

        def made(size: PageSize, font: Font) -> bytes:
            loaded = protocol_for(self.tab.session, self.animal.species)
            settings = self.tab.vault.settings
            practice = (settings.get("practice", ""), settings.get("clinic_phone", ""))
            # Which parts a focused exam asks is written on the technician's form.
            is_focused = self._scope is Scope.FOCUSED
            scope = Scope.TECHNICIAN if is_focused else self._scope
            where = Setting(self._setting)
            return print_blank_form(loaded, scope, where, size, font, practice)

        blank = Printable("blank-form", tr("Blank form for paper"), made)
        return print_button(self.tab, blank)

    async def _plan(self) -> None:
        await day_plan.add(self.tab.session, [self.animal.animal_id])
        await self.tab.go("/plan")

    async def _start(self) -> None:
        if self._scope is Scope.FOCUSED and not self._focus:
            self.tab.tell(tr("Choose the parts this exam is about."))
            return
        order = ExamOrder(
            self.animal,
            self._scope,
            Setting(self._setting),
            self._focus if self._scope is Scope.FOCUSED else (),
            self.last.findings,
            marks=self.last.marks,
        )
        editor = await exam_sessions.start_exam(self.tab.session, order)
        if self._is_setting_chosen:
            vault, setting = self.tab.vault, self._setting
            await self.tab.save(lambda: vault.settings.put(LAST_SETTING, setting))
        way = "round" if self.animal.is_group else "exam"
        await self.tab.go(f"/{way}/{editor.exam.exam_id}")
        # It was stored where it was begun, and is said where it goes on.
        exam_sessions.show_save(self.tab.session, editor)
