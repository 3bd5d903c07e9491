"""The first start in three steps: what this device is, the passphrase, a person.

The recovery code is shown once, at the end, and has to be typed back. If the app is
closed before that, the exams stay usable and every screen asks for a new code.
"""

import flet as ft

from exam_app.app import language_choice
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
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.settings.language import language_button
from exam_app.ui.shell import appearance
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.start.recovery_screen import recovery_screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import ProblemNotice, Tone, banner
from exam_app.ui.widgets.texts import paragraph, quiet, side_by_side, stack

_ASKS = (
    Ask(
        "computer",
        "",
        kind=Kind.CHOICE,
        choices=(
            ("field", to_translate("Field device: exams are made here")),
            ("clinic", to_translate("Clinic computer: exams arrive here")),
        ),
        required=to_translate("Choose what this device is."),
    ),
    Ask(
        "practice",
        to_translate("Name of the practice or shelter"),
        required=to_translate("Write the name of the practice or shelter."),
    ),
    Ask(
        "phone",
        to_translate("Clinic's phone number"),
        kind=Kind.PHONE,
        hint=to_translate(
            "Shown with every urgent sign, so that it can be read without signal."
        ),
        required=to_translate(
            "Write the clinic's phone number, or your veterinarian's."
        ),
    ),
    Ask("passphrase", to_translate("Passphrase"), kind=Kind.SECRET),
    Ask(
        "passphrase-again", to_translate("The same passphrase again"), kind=Kind.SECRET
    ),
)


_NEAR = 6
_NOBODY = to_translate(
    "It locks the exams on this device. Nobody can reset it: without it and without "
    "the recovery code they cannot be read again."
)
_PASSPHRASES = ("passphrase", "passphrase-again")
# What is asked in each step: short enough for a small phone without scrolling.
_STEPS = (
    (to_translate("What is this device?"), ("computer", "practice", "phone")),
    (to_translate("Passphrase"), _PASSPHRASES),
    (to_translate("First person"), person_form.NAMES),
)


async def build(tab: Tab) -> Screen:
    """Build the first of the three steps."""
    return _Answers(tab).screen()


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
        tr("Restore from a backup file"),
        restore,
        icon=ft.Icons.SETTINGS_BACKUP_RESTORE,
    )
    return [
        *([identified("setup-address", paragraph(said))] if said else []),
        *([banner("setup-cut-off", cut_off, Tone.NOTICE)] if cut_off else []),
        side_by_side(restoring),
    ]


class _Answers:
    """What is typed in the steps, and the step that is shown."""

    def __init__(self, tab: Tab) -> None:
        self.tab, self.step = tab, 0
        self.form = Form((*_ASKS, *person_form.ASKS), "setup")
        self.view = FormView(self.form, size="usual", on_enter=self.go_on)
        self.busy = ProblemNotice("setup-busy", hides_empty=True)
        self.is_busy = False

    def screen(self) -> Screen:
        """Draw the step, its buttons at the foot."""
        title, names = _STEPS[self.step]
        drawn = self.view.controls
        extra: list[ft.Control] = []
        if self.step == 0:
            shown = [*drawn(*names)]
            extra = _before(self.tab)
        elif names is _PASSPHRASES:
            strength = self.view.following(self.draw_strength, names[0])
            shown = [
                paragraph(tr(_NOBODY)),
                *drawn(names[0]),
                strength,
                *drawn(names[1]),
            ]
        else:
            shown = [*drawn(*names)]
        is_last = self.step == len(_STEPS) - 1
        label = tr("Set up") if is_last else tr("Next")
        back = button("setup-back", tr("Back"), self.go_back)
        return Screen(
            title=tr(
                "{step} of {count}: {title}",
                step=self.step + 1,
                count=len(_STEPS),
                title=tr(title),
            ),
            body=[stack(*shown, *extra, self.busy.control, spacing=_NEAR)],
            bottom=[
                *([back] if self.step else []),
                button("setup-next", label, self.go_on, kind="main"),
            ],
            has_examiner=False,
            actions=[] if self.step else [language_button(self.tab, self.draw_anew)],
        )

    async def draw_anew(self) -> None:
        """Draw the step in the language just chosen, as it was filled in."""
        appearance.apply(self.tab.page, self.tab.session)
        await self.tab.show(self.screen())

    async def go_back(self) -> None:
        """Show the step before, as it was filled in."""
        self.step -= 1
        await self.tab.show(self.screen())

    async def go_on(self) -> None:
        """Say what is wrong in this step at its field, or go to the next one."""
        name, sentence = self._first_problem()
        if self.view.show_problem(name, sentence):
            if name in self.view.fields:
                # The keyboard covers half of a phone: the cursor shows where.
                entry = self.view.fields[name].entry
                await entry.focus()  # type: ignore[no-untyped-call]
        elif self.step < len(_STEPS) - 1:
            self.step += 1
            await self.tab.show(self.screen())
        elif self.tab.session.state is LockState.EMPTY and not self.is_busy:
            await self._finish()

    async def _finish(self) -> None:
        """Make the vault, and show the recovery code."""
        self.is_busy = True
        self.busy.say(tr("Preparing the store …"))
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
            self.busy.say("")
        await language_choice.keep(session)
        self.tab.session.take(self.tab.key, self.tab, self.tab.lose_session)
        await self.tab.show(recovery_screen(self.tab, code, self.tab.show_route))

    def _first_problem(self) -> tuple[str, str]:
        """Return the first field of this step that is missing or wrong, and what is."""
        form, names = self.form, _STEPS[self.step][1]
        if names is person_form.NAMES:
            return person_form.problem_of(form)
        if names is not _PASSPHRASES:
            named, sentence = form.missing()
            return (named, sentence) if named in names else ("", "")
        passphrase, again = (form.texts[name] for name in _PASSPHRASES)
        problem = passphrase_problem(passphrase, again)
        is_short = bool(passphrase_problem(passphrase, passphrase))
        wrong = _PASSPHRASES[0 if is_short else 1]
        return (wrong, problem) if problem else ("", "")

    def draw_strength(self) -> ft.Control:
        """Say how strong the passphrase is, as it is typed."""
        note = quiet(passphrase_note(self.form.texts["passphrase"]))
        return identified("setup-strength", note, live=True)
