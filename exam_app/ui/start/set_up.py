"""The first start: what this device is, the practice, the passphrase, a person.

The recovery code is shown once, at the end, and has to be typed back. If the app is
closed before that, the exams stay usable and every screen asks for a new code.
"""

from dataclasses import dataclass, field

import flet as ft

from exam_app.app.maintenance.first_start import (
    SetUp,
    address_words,
    cut_off_words,
    own_address,
)
from exam_app.app.session import LockState
from exam_app.app.view.passphrase_note import passphrase_note, passphrase_problem
from exam_app.ui.settings.person_form import PersonForm
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.start.recovery_screen import recovery_screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side

_COMPUTERS = (
    ("field", "Field device: exams are made here"),
    ("clinic", "Clinic computer: exams arrive here"),
)


async def build(tab: Tab) -> Screen:
    """Build the questions of the first start, on one page."""
    form = _Answers(tab)
    return Screen(
        title="Set up this device",
        subtitle="Once. Nothing leaves this device, and no account is needed.",
        body=[
            *_before(tab),
            section("What is this device?", form.computer.control),
            section("Practice or shelter", form.practice.control, form.phone.control),
            section(
                "Passphrase",
                paragraph(
                    "It locks the exams on this device. Nobody can reset it: without "
                    "it and without the recovery code they cannot be read again."
                ),
                form.passphrase.control,
                form.strength.control,
                form.again.control,
            ),
            section("First person", form.person.control),
            form.problem.control,
            side_by_side(button("setup-next", "Set up", form.finish, kind="main")),
        ],
        has_examiner=False,
    )


def _before(tab: Tab) -> list[ft.Control]:
    """Say where exams belong, and offer those of a backup in place of new ones."""

    async def restore() -> None:
        # Seldom wanted, and it loads much: the first screen does not wait for it.
        from exam_app.ui.start import restore  # noqa: PLC0415

        await tab.show(restore.build(tab))

    session = tab.session
    said = address_words(own_address(session.opener))
    cut_off = cut_off_words(session.folder, session.opener)
    action = button(
        "setup-restore",
        "Restore from a backup file",
        restore,
        icon=ft.Icons.SETTINGS_BACKUP_RESTORE,
    )
    above: list[ft.Control] = []
    if said:
        above.append(identified("setup-address", paragraph(said)))
    if cut_off:
        above.append(banner("setup-cut-off", cut_off, Tone.NOTICE))
    return [*above, side_by_side(action)]


@dataclass(slots=True, repr=False)
class _Answers:
    """What is typed on the page, and what is still wrong with it."""

    tab: Tab
    computer: ChoiceRow = field(init=False)
    practice: Field = field(init=False)
    phone: Field = field(init=False)
    passphrase: Field = field(init=False)
    again: Field = field(init=False)
    person: PersonForm = field(default_factory=PersonForm)
    strength: Slot = field(init=False)
    problem: Slot = field(init=False)
    wrong: str = ""
    is_busy: bool = False

    def __post_init__(self) -> None:
        """Build empty fields."""
        self.computer = ChoiceRow("setup-computer", _COMPUTERS, _accept, size="usual")
        self.practice = text_field("setup-practice", "Name of the practice or shelter")
        self.phone = text_field(
            "setup-phone",
            "Clinic's phone number",
            keyboard=ft.KeyboardType.PHONE,
            hint="Shown with every urgent sign, so that it can be read without signal.",
        )
        self.passphrase = text_field(
            "setup-passphrase",
            "Passphrase",
            secret=True,
            on_change=self._show_strength,
        )
        self.again = text_field(
            "setup-passphrase-again", "The same passphrase again", secret=True
        )
        self.strength = Slot(self._draw_strength)
        self.problem = Slot(self._draw_problem)

    async def finish(self) -> None:
        """Check the answers, make the vault, and show the recovery code."""
        is_under_way = self.tab.session.state is not LockState.EMPTY or self.is_busy
        self._say(self._first_problem() or "")
        if self.wrong or is_under_way:
            return
        self.is_busy = True
        self._say("Preparing the store …")
        try:
            code = await self._set_up()
        finally:
            self.is_busy = False
            self._say("")
        self.tab.session.take(self.tab.key, self.tab, self.tab.lose_session)
        await self.tab.show(recovery_screen(self.tab, code, self.tab.redraw))

    async def _set_up(self) -> str:
        return await self.tab.session.set_up(
            SetUp(
                role=self.computer.chosen or "field",
                practice=self.practice.value,
                clinic_phone=self.phone.value,
                passphrase=self.passphrase.typed,
                person=self.person.person(),
                pin=self.person.pin,
                made_under=own_address(self.tab.session.opener),
            )
        )

    def _say(self, sentence: str) -> None:
        self.wrong = sentence
        self.problem.refresh()

    def _first_problem(self) -> str | None:
        if self.computer.chosen is None:
            return "Choose what this device is."
        if not self.practice.value:
            return "Write the name of the practice or shelter."
        if not self.phone.value:
            return "Write the clinic's phone number, or your veterinarian's."
        passphrase, again = self.passphrase.typed, self.again.typed
        return passphrase_problem(passphrase, again) or self.person.problem()

    def _show_strength(self) -> None:
        self.strength.refresh()

    def _draw_strength(self) -> ft.Control:
        note = quiet(passphrase_note(self.passphrase.typed))
        return identified("setup-strength", note, live=True)

    def _draw_problem(self) -> ft.Control:
        if not self.wrong:
            return ft.Container()
        return banner("setup-problem", self.wrong, Tone.NOTICE)


async def _accept(_: str) -> None:
    return None
