"""One vital being answered on its sheet: what was entered, asked, recorded, shown."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.exam_sessions import record, told, typed_in
from exam_app.app.forms import vital_form as forms
from exam_app.app.language_choice import system_country
from exam_app.app.queries.history import last_weight
from exam_app.app.typed_entries import Typed
from exam_app.app.view.vital_offers import begun_with, keep_entered
from exam_app.app.view.vital_presenter import LOUD, recount_advice, vital_notice
from exam_app.domain.errors import MissingReasonError, ReadingError, UnitMismatchError
from exam_app.domain.exam.exam import words_for
from exam_app.domain.exam.review import vital_label
from exam_app.domain.exam.vitals import RateState, VitalEntry
from exam_app.domain.measure.counting import CountAlong, TapTimes
from exam_app.domain.protocol.protocol import Vital, VitalKind
from exam_app.language.catalogue import to_translate, tr
from exam_app.language.regional import first_unit
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets import identifiers
from exam_app.ui.widgets.buttons import Kind, button
from exam_app.ui.widgets.flags import flag_with_ranges
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, side_by_side, stack, strong

STATE_LABELS = {
    RateState.ASLEEP: to_translate("asleep"),
    RateState.RESTING: to_translate("resting"),
    RateState.ALERT: to_translate("alert"),
    RateState.RESTRAINED: to_translate("restrained or stressed"),
    RateState.AFTER_EXERTION: to_translate("after exertion"),
    RateState.HOT: to_translate("hot"),
}


def unit_setting(vital_id: str) -> str:
    """Name the setting that keeps the unit last used for a vital."""
    return f"unit_{vital_id}"


def usual_unit(tab: Tab, vital: Vital) -> str:
    """Return the unit of a vital last used here, or the first one of this country."""
    used = str(tab.vault.settings.get(unit_setting(vital.vital_id), ""))
    offered = vital.measure.units_offered if vital.measure else ()
    return used or (first_unit(offered, system_country()) if offered else "")


@dataclass(slots=True, repr=False)
class VitalEdit:
    """The sheet's state; its parts call ``accept`` and ``give_reason``.

    Attributes:
        begun: What the sheet begins with, beside what was left in it unsaved.
        typed: Where what is entered is kept until it is recorded.
        asked: The place for a question or a problem.
        is_on_sheet: Whether a sheet is open; a count fills a screen instead.
        came_from: Route of the screen the sheet lay over, where a count returns to.
        reopen: Opens the sheet anew for a second reading; a rate is counted instead.
        on_left: Called when it is answered, where it stands in the list and not on a
            sheet of its own.
    """

    tab: Tab
    editor: ExamEditor
    vital: Vital
    begun: forms.VitalForm
    is_on_sheet: bool = True
    came_from: str = ""
    reopen: Callable[[], None] | None = None
    on_left: Callable[[], None] | None = None
    asked: Slot = field(init=False)
    typed: Typed = field(init=False)
    _saved: forms.VitalForm = field(init=False)
    _form: forms.VitalForm = field(init=False)
    _notice: ft.Control | None = None

    def __post_init__(self) -> None:
        """Begin with what was left here; the place for questions is empty."""
        name = f"vital-{self.vital.vital_id}"
        self.typed = typed_in(self.tab.session, self.editor, name, self.label)
        self._saved = self._recorded()
        self._form = begun_with(self.typed, self.begun)
        self.came_from = self.came_from or f"/exam/{self.editor.exam.exam_id}"
        self.ask_here()

    def ask_here(self) -> ft.Control:
        """Make the place where questions appear from now on, and return it.

        It stands where the hand is: over the button that was tapped, so that no key
        and no answer moves, and a second tap meets the question's words.
        """
        self.asked = Slot(lambda: self._notice or ft.Container(), hides_empty=True)
        return self.asked.control

    @property
    def form(self) -> forms.VitalForm:
        """What is entered so far."""
        return self._form

    @form.setter
    def form(self, form: forms.VitalForm) -> None:
        """Keep what is entered, until it is recorded."""
        self._form = form
        keep_entered(self.typed, form, self._saved)

    def _recorded(self) -> forms.VitalForm:
        """Return the form of what the exam says now."""
        unit, editor = usual_unit(self.tab, self.vital), self.editor
        return forms.form_for(
            editor.exam, editor.protocol, self.vital, editor.now(), unit
        )

    @property
    def label(self) -> str:
        """The vital's name in the exam's words."""
        return tr(vital_label(self.vital, words_for(self.editor.exam)))

    @property
    def entry(self) -> VitalEntry:
        """What the exam says of this vital now."""
        return self.editor.exam.vital(self.vital.vital_id)

    async def save(self) -> None:
        """Record what the form holds; for a button, which passes nothing."""
        if not self.is_settling:
            await self.accept()

    async def accept(self, *, stays: bool = False) -> None:
        """Record what the form holds, or ask what is missing first.

        Args:
            stays: Whether the sheet stays open for more.
        """
        try:
            entry = forms.to_entry(
                self.editor.exam, self.editor.protocol, self.vital, self.form
            )
        except (ReadingError, UnitMismatchError) as refusal:
            reason = tr(getattr(refusal, "reason", ""))
            self.ask(f"{reason}. {tr(refusal.advice)}".lstrip(". "))
            return
        except MissingReasonError:
            self.ask(
                tr("Nothing is entered yet. Enter a value, or choose a reason below.")
            )
            return
        sheet, asked = self.tab.sheet, self._asked(entry)
        if asked is not None:
            self._ask_plausible(asked)
        elif self._lacks_state(entry):
            self._ask_state()
        elif await record(
            self.tab.session,
            self.editor,
            self.vital,
            entry,
            is_repeat=self.form.is_repeat,
        ):
            await self._remember_unit(entry)
            self.form = replace(self.form, is_repeat=False)
            self.settle()
            if not stays:
                self._after(entry, sheet)

    async def _remember_unit(self, entry: VitalEntry) -> None:
        name, settings = unit_setting(self.vital.vital_id), self.tab.vault.settings
        measure, reading = self.vital.measure, entry.reading
        if measure is None or reading is None or len(measure.units_offered) < 2:
            return
        if reading.unit != usual_unit(self.tab, self.vital):
            await self.tab.session.write(lambda: settings.put(name, reading.unit))

    async def give_reason(self, reason: str) -> None:
        """Record why there is no value."""
        if self.is_settling:
            return
        entry = VitalEntry(reason=reason, note=self.form.note.strip())
        sheet = self.tab.sheet
        if await record(self.tab.session, self.editor, self.vital, entry):
            self.settle()
            await self.leave(sheet)

    def settle(self) -> None:
        """Forget what was kept, since the exam says it now."""
        self.typed.drop()
        self._saved = self._recorded()

    def ask(self, text: str, *answers: ft.Control) -> None:
        """Show a question or a problem above the parts."""
        self._notice = banner("vital-asked", text, Tone.NOTICE, *answers)
        self.asked.refresh()

    def unask(self) -> None:
        """Take the question away."""
        if self._notice is not None:
            self._notice = None
            self.asked.refresh()

    async def leave(self, sheet: ft.Control | None = None) -> None:
        """Close the sheet, or go back to the exam; its row shows what was recorded.

        Nothing else is told: a bar would lie over the urgent button.

        Args:
            sheet: What lay there before it was saved; none if it is gone already.
        """
        if self.is_on_sheet:
            self.tab.close_only(sheet)
        else:
            await self.tab.back()
        if self.on_left is not None:
            self.on_left()

    @property
    def is_settling(self) -> bool:
        """Whether a tap now may have been meant for what stood here before."""
        return self.on_left is not None and self.editor.view.current.is_settling

    def _lacks_state(self, entry: VitalEntry) -> bool:
        is_rate = self.vital.kind is VitalKind.RATE
        return is_rate and entry.reading is not None and entry.state is None

    def _asked(self, entry: VitalEntry) -> forms.Question | None:
        editor, vital, role = self.editor, self.vital, self.tab.person.role
        last = last_weight(self.tab.vault, editor, vital, role)
        return forms.what_is_asked(editor.exam, editor.protocol, vital, entry, last)

    def _ask_plausible(self, question: forms.Question) -> None:
        async def confirmed() -> None:
            self.form = replace(self.form, is_confirmed=True)
            self.unask()
            await self.accept()

        likelier = [self._unit_answer(choice) for choice in question.units]
        kind: Kind = "other" if likelier else "main"
        self.ask(
            question.text,
            *likelier,
            button(
                "vital-asked-no", tr("Correct it"), self.unask, kind=kind, size="exam"
            ),
            button("vital-asked-yes", question.as_typed, confirmed, size="exam"),
        )

    def _unit_answer(self, choice: forms.UnitChoice) -> ft.Control:
        async def chosen() -> None:
            self.form = forms.in_this_unit(self.form, choice.reading)
            self.unask()
            await self.accept()

        name = identifiers.for_choice("vital-asked", choice.reading.unit)
        return button(name, choice.label, chosen, kind="main", size="exam")

    def _ask_state(self) -> None:
        self.ask(
            tr("What was the animal doing?"),
            *(self._state_answer(state) for state in RateState),
        )

    def _state_answer(self, state: RateState) -> ft.Control:
        async def chosen() -> None:
            self.form = replace(self.form, state=state)
            self.unask()
            await self.accept()

        name = identifiers.for_choice(
            "vital-asked", state.name.lower().replace("_", "-")
        )
        return button(name, tr(STATE_LABELS[state]), chosen, size="exam")

    def _after(self, entry: VitalEntry, sheet: ft.Control | None) -> None:
        notice = vital_notice(self.editor.exam, self.editor.protocol, self.vital)
        message = told(self.editor, self.vital, entry)
        advice = recount_advice(self.editor.exam, self.editor.protocol, self.vital)
        is_quiet = notice is None or notice.weight not in LOUD
        if is_quiet and not advice:
            self.tab.start(self.leave(sheet))
            return
        controls: list[ft.Control] = [strong(message)]
        if notice is not None:
            controls.append(flag_with_ranges(notice))
        if advice:
            controls.append(paragraph(advice))
        buttons = self._recount_buttons() if advice else [self._seen()]
        self.tab.open_sheet(self.label, stack(*controls), side_by_side(*buttons))

    def _seen(self) -> ft.Control:
        async def seen() -> None:
            self.tab.close_sheet()
            await self.leave()

        return button("vital-flag-seen", tr("Seen"), seen, kind="main", size="exam")

    def _recount_buttons(self) -> list[ft.Control]:
        is_rate = self.vital.kind is VitalKind.RATE

        async def again() -> None:
            self.tab.close_sheet()
            if self.reopen is not None and not is_rate:
                self.reopen()
            else:
                await self.count_again()

        async def keep() -> None:
            self.tab.close_sheet()
            await self.leave()

        return [
            button(
                "vital-recount",
                tr("Count again") if is_rate else tr("Measure again"),
                again,
                kind="main",
                size="exam",
            ),
            button(
                "vital-keep-count",
                tr("Keep this count") if is_rate else tr("Keep this one"),
                keep,
                size="exam",
            ),
        ]

    async def count_again(self) -> None:
        """Count once more in the same way; a typed rate is counted along."""
        exam_id, vital_id = self.editor.exam.exam_id, self.vital.vital_id
        self.tab.session.counting[exam_id, vital_id] = self.form, self.came_from
        evidence = self.form.evidence
        way = "tap" if isinstance(evidence, TapTimes) else "count"
        rest = f"/{evidence.seconds}" if isinstance(evidence, CountAlong) else ""
        await self.tab.go(f"/exam/{exam_id}/{way}/{vital_id}{rest}")
