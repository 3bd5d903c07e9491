"""The first start: what this device is, the practice, the passphrase, a person.

The recovery code is shown once, at the end, and has to be typed back. If the app is
closed before that, the exams stay usable and every screen asks for a new code.
"""

import flet as ft

from exam_app.app.forms import person_form
from exam_app.app.forms.form import Ask, Form, Kind
from exam_app.app.maintenance.first_start import (
    SetUp,
    address_words,
    cut_off_words,
    own_address,
)
from exam_app.app.session import LockState
from exam_app.app.view.passphrase_note import passphrase_note, passphrase_problem
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.start.recovery_screen import recovery_screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import ProblemNotice, Tone, banner
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side

_ASKS = (
    Ask(
        "computer",
        "",
        kind=Kind.CHOICE,
        choices=(
            ("field", "Field device: exams are made here"),
            ("clinic", "Clinic computer: exams arrive here"),
        ),
        required="Choose what this device is.",
    ),
    Ask(
        "practice",
        "Name of the practice or shelter",
        required="Write the name of the practice or shelter.",
    ),
    Ask(
        "phone",
        "Clinic's phone number",
        kind=Kind.PHONE,
        hint="Shown with every urgent sign, so that it can be read without signal.",
        required="Write the clinic's phone number, or your veterinarian's.",
    ),
    Ask("passphrase", "Passphrase", kind=Kind.SECRET),
    Ask("passphrase-again", "The same passphrase again", kind=Kind.SECRET),
)


async def build(tab: Tab) -> Screen:
    """Build the questions of the first start, on one page."""
    form = _Answers(tab)
    following = form.view.following
    return Screen(
        title="Set up this device",
        subtitle="Once. Nothing leaves this device, and no account is needed.",
        body=[
            *_before(tab),
            section("What is this device?", *form.drawn("computer")),
            section("Practice or shelter", *form.drawn("practice", "phone")),
            section(
                "Passphrase",
                paragraph(
                    "It locks the exams on this device. Nobody can reset it: without "
                    "it and without the recovery code they cannot be read again."
                ),
                *form.drawn("passphrase"),
                following(form.draw_strength, "passphrase"),
                *form.drawn("passphrase-again"),
            ),
            section("First person", *form.drawn(*person_form.NAMES)),
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
    restoring = button(
        "setup-restore",
        "Restore from a backup file",
        restore,
        icon=ft.Icons.SETTINGS_BACKUP_RESTORE,
    )
    return [
        *([identified("setup-address", paragraph(said))] if said else []),
        *([banner("setup-cut-off", cut_off, Tone.NOTICE)] if cut_off else []),
        side_by_side(restoring),
    ]


class _Answers:
    """What is typed on the page, and what is still wrong with it."""

    def __init__(self, tab: Tab) -> None:
        self.tab = tab
        self.form = Form((*_ASKS, *person_form.ASKS), "setup")
        self.view = FormView(self.form, size="usual")
        self.drawn = self.view.controls
        self.problem = ProblemNotice("setup-problem")
        self.is_busy = False

    async def finish(self) -> None:
        """Check the answers, make the vault, and show the recovery code."""
        is_under_way = self.tab.session.state is not LockState.EMPTY or self.is_busy
        if self.problem.say(self._first_problem()) or is_under_way:
            return
        self.is_busy = True
        self.problem.say("Preparing the store …")
        form, session = self.form, self.tab.session
        answers = SetUp(
            role=form["computer"],
            practice=form["practice"],
            clinic_phone=form["phone"],
            passphrase=form.texts["passphrase"],
            person=person_form.person_of(form),
            pin=form["pin"],
            made_under=own_address(session.opener),
        )
        try:
            code = await session.set_up(answers)
        finally:
            self.is_busy = False
            self.problem.say("")
        self.tab.session.take(self.tab.key, self.tab, self.tab.lose_session)
        await self.tab.show(recovery_screen(self.tab, code, self.tab.redraw))

    def _first_problem(self) -> str:
        form = self.form
        passphrase, again = form.texts["passphrase"], form.texts["passphrase-again"]
        return (
            form.missing()[1]
            or passphrase_problem(passphrase, again)
            or person_form.problem_of(form)
        )

    def draw_strength(self) -> ft.Control:
        """Say how strong the passphrase is, as it is typed."""
        note = quiet(passphrase_note(self.form.texts["passphrase"]))
        return identified("setup-strength", note, live=True)
