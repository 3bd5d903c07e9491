"""Pulse beside heartbeat, on the pulse's sheet: one tap, or a few digits."""

from dataclasses import dataclass, field, replace

import flet as ft

from exam_app.app.forms import pulse_form, vital_form
from exam_app.app.forms.pulse_form import PulseForm
from exam_app.domain.measure.counting import PulseMethod
from exam_app.domain.measure.pulse_sentences import pulse_words
from exam_app.language.catalogue import tr
from exam_app.ui.vital.vital_edit import VitalEdit
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow, grid, pick
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.number_pad import number_pad
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, stack, strong


@dataclass(slots=True, repr=False)
class PulsePart:
    """Asks whether every beat was felt; the sentence shown is what is recorded.

    Attributes:
        slot: Place its control on the sheet.
    """

    edit: VitalEdit
    slot: Slot = field(init=False)
    _form: PulseForm | None = None
    _problem: str = ""
    # What changes with a digit. The keys stay what they are: a button that is made anew
    # between press and release is not tapped.
    _asked: Slot = field(init=False)
    _answered: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Begin with what was said before."""
        self._asked = Slot(self._draw_asked, in_place=True)
        self._answered = Slot(self._draw_answered, in_place=True)
        self.slot = Slot(self._draw)

    def _draw(self) -> ft.Control:
        lines = [strong(tr("Heartbeat heard, pulse felt")), self._choices()]
        if self._form is None:
            # Below: what takes it back never comes under the finger that said it.
            return stack(*lines, *self._said(), spacing=8)
        self._asked.refresh()
        self._answered.refresh()
        parts = [self._asked.control, *self._seconds()]
        if self._form.method is PulseMethod.COUNTED_TOGETHER:
            parts = [*self._seconds(), self._asked.control]
        return stack(*lines, *parts, *self._pad(), spacing=8)

    def _said(self) -> list[ft.Control]:
        said = self.edit.form.beats_felt
        if not said:
            editor = self.edit.editor
            note = pulse_form.apart_note(editor.exam, editor.protocol, self.edit.vital)
            return [quiet(note)] if note else []
        stands = self.edit.entry.beats_felt == said
        shown = pulse_words(said)
        if not stands:
            shown = tr("{said} Kept with the rate.", said=shown)
        take_back = button(
            for_choice("pulse", "none"),
            tr("Take this back"),
            self._take_back,
            kind="quiet",
        )
        return [identified("pulse-said", paragraph(shown), live=True), take_back]

    def _choices(self) -> ft.Control:
        form, said = self._form, self.edit.form.beats_felt
        method = form.method if form else None
        felt = said == pulse_form.EVERY_BEAT_FELT and form is None
        cells = [
            pick(
                for_choice("pulse", "every-beat"),
                tr("Every beat felt"),
                self._every_beat,
                is_chosen=felt,
                is_cell=True,
            ),
            pick(
                for_choice("pulse", "dropped"),
                tr("Beats without a pulse …"),
                self._begin_dropped,
                is_chosen=method is PulseMethod.EVERY_BEAT_FELT,
                is_cell=True,
            ),
            pick(
                for_choice("pulse", "together"),
                tr("Both counted together …"),
                self._begin_together,
                is_chosen=method is PulseMethod.COUNTED_TOGETHER,
                is_cell=True,
            ),
        ]
        return grid(cells, 3)

    def _draw_asked(self) -> ft.Control:
        form = self._form
        if form is None:
            return ft.Container()
        if form.method is not PulseMethod.COUNTED_TOGETHER:
            return strong(
                tr("Beats without a pulse: {number}", number=form.dropped or "…")
            )
        # One above the other, each as wide as the sheet: their words grow with digits.
        return stack(
            pick(
                for_choice("pulse", "beats"),
                tr("Beats heard: {number}", number=form.beats or "…"),
                lambda: self._turn_to(is_at_pulses=False),
                is_chosen=not form.is_at_pulses,
                is_row=True,
            ),
            pick(
                for_choice("pulse", "pulses"),
                tr("Pulses felt: {number}", number=form.pulses or "…"),
                lambda: self._turn_to(is_at_pulses=True),
                is_chosen=form.is_at_pulses,
                is_row=True,
            ),
            spacing=8,
        )

    def _seconds(self) -> list[ft.Control]:
        form = self._form
        now = str(form.seconds) if form and form.seconds else None
        is_needed = form is not None and form.method is PulseMethod.COUNTED_TOGETHER

        async def chosen(key: str) -> None:
            if self._form is not None:
                seconds = int(key) if key else None
                self._show(replace(self._form, seconds=seconds))

        options = [(str(seconds), f"{seconds} s") for seconds in pulse_form.WINDOWS]
        row = ChoiceRow(
            "pulse-seconds", options, chosen, chosen=now, clearable=not is_needed
        )
        return [quiet(tr("Over how long")), row.control]

    def _pad(self) -> list[ft.Control]:
        save = button(
            "pulse-save", tr("Save this"), self._save, kind="main", size="exam"
        )
        # Below the button: it comes and goes with the digits above.
        return [
            number_pad(self._press, has_point=False),
            save,
            self._answered.control,
        ]

    def _draw_answered(self) -> ft.Control:
        if self._problem:
            return banner("pulse-problem", self._problem, Tone.NOTICE)
        words = pulse_form.sentence(self._form) if self._form else ""
        return paragraph(pulse_words(words)) if words else ft.Container()

    def _begin_dropped(self) -> None:
        self._show(PulseForm(PulseMethod.EVERY_BEAT_FELT))

    def _begin_together(self) -> None:
        self._show(pulse_form.begin_together())

    def _turn_to(self, *, is_at_pulses: bool) -> None:
        if self._form is not None:
            self._show(replace(self._form, is_at_pulses=is_at_pulses))

    async def _press(self, key: str) -> None:
        if self._form is not None:
            self._show(pulse_form.press(self._form, key))

    async def _every_beat(self) -> None:
        await self._keep(pulse_form.EVERY_BEAT_FELT)

    async def _take_back(self) -> None:
        await self._keep("")

    async def _save(self) -> None:
        form = self._form
        if form is None:
            return
        refused = pulse_form.problem(form)
        if refused:
            self._show(form, refused)
            return
        count = pulse_form.pulse_count(form)
        if count is not None and self.edit.entry.reading is None:
            edit = self.edit
            edit.form = vital_form.take_count(edit.form, edit.vital, count)
        await self._keep(pulse_form.sentence(form))

    async def _keep(self, words: str) -> None:
        edit = self.edit
        has_rate = edit.entry.reading is not None
        edit.form = replace(edit.form, beats_felt=words)
        # Until there is a rate the words wait in the form and go with it.
        if has_rate or edit.form.evidence is not None:
            await edit.accept(stays=has_rate)
        self._show(None)

    def _show(self, form: PulseForm | None, problem: str = "") -> None:
        before, now = (one.method if one else None for one in (self._form, form))
        self._form, self._problem = form, problem
        if now is None or now is not before:
            self.slot.refresh()
            return
        self._asked.refresh()
        self._answered.refresh()
