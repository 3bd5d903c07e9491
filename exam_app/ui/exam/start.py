"""Before the first touch: what can hurt, how far the exam goes, and where it is."""

from dataclasses import dataclass, field
from datetime import datetime

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_start import (
    SCOPE_MEANING,
    SETTING_LABELS,
    ExamOrder,
    caution_sources,
    cautions_by_kind,
    own_dangers,
    scopes_for,
)
from exam_app.app.exam_words import animal_line
from exam_app.app.practice_protocols import protocol_for
from exam_app.app.queries import animals as animal_queries
from exam_app.app.queries import day_plan
from exam_app.app.queries.earlier_reactions import earlier_reactions
from exam_app.domain.animal.signalment import Animal
from exam_app.domain.exam.closing import regions_to_choose
from exam_app.domain.exam.findings import EarlierFinding
from exam_app.domain.exam.handling import reaction_words
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import SCOPE_LABELS, Scope, SpeciesProtocol
from exam_app.ui.record.record_notes import request_lines
from exam_app.ui.record.records import records_of
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow, ToggleRow
from exam_app.ui.widgets.flags import source_note
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import heading, quiet, section, stack, strong

LAST_SETTING = "last_setting"


async def build(tab: Tab, animal_id: str) -> Screen:
    """Build the screen that starts an exam of one animal."""
    animal, _ = animal_queries.fetch(tab.session, animal_id)
    protocol = protocol_for(tab.session, animal.species).protocol
    earlier = animal_queries.earlier_findings(tab.session, animal_id)
    return StartScreen(tab, animal, protocol, earlier).screen()


@dataclass(slots=True, repr=False)
class StartScreen:
    """What is chosen before an exam; the scope is asked first."""

    tab: Tab
    animal: Animal
    protocol: SpeciesProtocol
    earlier: tuple[EarlierFinding, ...]
    _scope: Scope = field(init=False)
    _setting: str = field(init=False)
    _focus: tuple[str, ...] = ()
    _more: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Offer the scope usual for the role, and the setting of last time."""
        role = Role(self.tab.person["role"])
        self._scope = self._scopes_offered(role)[0]
        kept = self.tab.vault.settings.get(LAST_SETTING, Setting.CLINIC.value)
        self._setting = kept
        self._more = Slot(self._draw_more)

    def _scopes_offered(self, role: Role) -> tuple[Scope, ...]:
        return scopes_for(role, self.protocol, is_group=self.animal.is_group)

    def screen(self) -> Screen:
        """Build the screen."""
        today = datetime.now().astimezone().date()

        async def edit() -> None:
            await self.tab.go(f"/animal/{self.animal.animal_id}")

        return Screen(
            title=self.animal.name,
            subtitle=animal_line(self.animal, today),
            back="/animals",
            # A veterinarian may choose parts that others are not offered.
            on_person=self._more.refresh,
            body=[
                self._own_dangers(),
                *request_lines(self.tab, self.animal.animal_id),
                heading("How far does this exam go?"),
                self._scopes(),
                self._more.control,
                heading("Where"),
                self._settings(),
                self._earlier_part(),
                self._cautions(),
                *records_of(self.tab, self.animal.animal_id),
            ],
            bottom=[
                button(
                    "start-go", "Start the exam", self._start, kind="main", size="exam"
                ),
                button("plan", "Plan for today", self._plan, size="exam"),
                button("animal-edit", "Change the animal", edit, size="exam"),
            ],
        )

    def _own_dangers(self) -> ft.Control:
        role = Role(self.tab.person["role"])
        told = (
            reaction_words(one, self.protocol, role)
            for one in earlier_reactions(self.tab.vault, self.animal.animal_id)
        )
        words = " · ".join(filter(None, (own_dangers(self.animal), *told)))
        if not words:
            return ft.Container()
        return banner("start-cautions", words, Tone.NOTICE)

    def _scopes(self) -> ft.Control:
        async def chosen(value: str) -> None:
            self._scope = Scope(value)
            self._more.refresh()

        scopes = self._scopes_offered(Role(self.tab.person["role"]))
        options = [(scope.value, SCOPE_LABELS[scope]) for scope in scopes]
        return ChoiceRow("start-scope", options, chosen, self._scope.value).control

    def _draw_more(self) -> ft.Control:
        meaning = quiet(SCOPE_MEANING[self._scope])
        if self._scope is not Scope.FOCUSED:
            return meaning

        async def toggled(keys: tuple[str, ...]) -> None:
            self._focus = keys

        role = Role(self.tab.person["role"])
        regions = regions_to_choose(self.animal, self.protocol, role)
        options = [(region.region_id, region.label) for region in regions]
        row = ToggleRow("start-focus", options, toggled, self._focus)
        return stack(meaning, row.control)

    def _settings(self) -> ft.Control:
        async def chosen(value: str) -> None:
            self._setting = value

        options = [(setting.value, label) for setting, label in SETTING_LABELS.items()]
        return ChoiceRow("start-setting", options, chosen, self._setting).control

    def _earlier_part(self) -> ft.Control:
        if not self.earlier:
            return ft.Container()
        lines = [quiet(f"{f.date}: {f.summary}") for f in self.earlier]
        return section("Found last time, asked again in this exam", *lines)

    def _cautions(self) -> ft.Control:
        lines: list[ft.Control] = []
        for kind, texts in cautions_by_kind(self.protocol):
            lines += [strong(kind), *(quiet(text) for text in texts)]
        about = caution_sources(self.protocol)
        note = source_note("cautions", about, "Where these come from")
        return section("Before touching it", *lines, note)

    async def _plan(self) -> None:
        await day_plan.add(self.tab.session, [self.animal.animal_id])
        await self.tab.go("/plan")

    async def _start(self) -> None:
        if self._scope is Scope.FOCUSED and not self._focus:
            self.tab.tell("Choose the parts this exam is about.")
            return
        order = ExamOrder(
            self.animal,
            self._scope,
            Setting(self._setting),
            self._focus if self._scope is Scope.FOCUSED else (),
            self.earlier,
        )
        editor = await exam_sessions.start_exam(self.tab.session, order)
        if self.tab.vault.settings.get(LAST_SETTING) != self._setting:
            vault, setting = self.tab.vault, self._setting
            await self.tab.save(lambda: vault.settings.put(LAST_SETTING, setting))
        way = "round" if self.animal.is_group else "exam"
        await self.tab.go(f"/{way}/{editor.exam.exam_id}")
