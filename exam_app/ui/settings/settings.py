"""Settings: look, practice, passphrase, recovery code, and what this app is."""

import flet as ft

from exam_app.app.forms.form import Ask, Form, Kind
from exam_app.app.view.passphrase_note import passphrase_problem
from exam_app.domain.errors import ExamError
from exam_app.ui.handover.pair_section import clinic_section
from exam_app.ui.settings.claims_section import ClaimsSection
from exam_app.ui.shell import appearance
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.theme import ColourMode, TextSize
from exam_app.ui.start.recovery_screen import recovery_screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.hands import GLOVES, HANDS
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side, strong
from exam_app.ui.widgets.ways import way

_LOOKS = (
    (ColourMode.LIGHT.value, "Dark on light"),
    (ColourMode.DARK.value, "Light on dark"),
)
_SIZES = (
    (TextSize.NORMAL.value, "Normal"),
    (TextSize.LARGE.value, "Large"),
    (TextSize.LARGEST.value, "Largest"),
)
_HANDS = (("bare", "All of them"), ("gloved", "Few and large, for dirty gloves"))

_PRACTICE = (
    Ask("practice", "Name of the practice or shelter"),
    Ask("phone", "Clinic's phone number", kind=Kind.PHONE),
)
_PASSPHRASES = (
    Ask("old", "Present passphrase", kind=Kind.SECRET),
    Ask("new", "New passphrase", kind=Kind.SECRET),
    Ask("again", "The new one again", kind=Kind.SECRET),
)


async def build(tab: Tab) -> Screen:
    """Build the settings."""
    return Screen(
        title="Settings",
        back="/",
        body=[
            _draw_looks(tab),
            _draw_practice(tab),
            ClaimsSection(tab).control(),
            *clinic_section(tab),
            _draw_passphrase(tab),
            _draw_recovery(tab),
            section(
                "The stored exams",
                side_by_side(
                    button(
                        "settings-care",
                        "Look after the exams",
                        way(tab, "/settings/care"),
                        icon=ft.Icons.STORAGE,
                    ),
                    button(
                        "settings-retention",
                        "Owner details: how long",
                        way(tab, "/settings/owners"),
                        icon=ft.Icons.PERSON_OFF_OUTLINED,
                    ),
                ),
            ),
            section(
                "About",
                side_by_side(
                    button(
                        "settings-sources",
                        "Sources of the numbers",
                        way(tab, "/settings/sources"),
                        icon=ft.Icons.MENU_BOOK_OUTLINED,
                    ),
                    button(
                        "settings-about",
                        "About this app",
                        way(tab, "/about"),
                        icon=ft.Icons.INFO_OUTLINE,
                    ),
                ),
            ),
        ],
    )


def _draw_looks(tab: Tab) -> ft.Control:
    settings = tab.vault.settings

    async def choose_look(key: str) -> None:
        await tab.save(lambda: settings.put("look", key))
        appearance.apply(tab.page, tab.session)

    async def choose_size(key: str) -> None:
        await tab.save(lambda: settings.put("text_size", key))
        appearance.apply(tab.page, tab.session)

    async def choose_hands(key: str) -> None:
        await tab.save(lambda: settings.put(GLOVES, key == "gloved"))
        HANDS.gloved = key == "gloved"

    look, size = appearance.chosen(tab.session)
    hands = "gloved" if HANDS.gloved else "bare"
    return section(
        "How it looks",
        strong("Colours"),
        ChoiceRow("look", _LOOKS, choose_look, chosen=look.value, size="usual").control,
        strong("Text size"),
        ChoiceRow("size", _SIZES, choose_size, chosen=size.value, size="usual").control,
        strong("Buttons in the exam"),
        ChoiceRow("hands", _HANDS, choose_hands, chosen=hands, size="usual").control,
    )


def _draw_practice(tab: Tab) -> ft.Control:
    settings = tab.vault.settings
    saved = {
        "practice": settings.get("practice", ""),
        "phone": settings.get("clinic_phone", ""),
    }
    form = Form(_PRACTICE, "settings", saved)

    async def save() -> None:
        def put() -> None:
            with tab.vault.transaction():
                settings.put("practice", form["practice"])
                settings.put("clinic_phone", form["phone"])

        await tab.save(put)
        tab.tell("Practice and number were saved.")

    return section(
        "Practice or shelter",
        *FormView(form).controls(),
        side_by_side(button("settings-save", "Save both", save, kind="main")),
    )


def _draw_passphrase(tab: Tab) -> ft.Control:
    form = Form(_PASSPHRASES, "settings-passphrase")
    view, typed = FormView(form), form.texts
    problem = ProblemNotice("settings-problem")

    async def change() -> None:
        wrong = passphrase_problem(typed["new"], typed["again"])
        if not wrong:
            try:
                await tab.vault.change_passphrase(typed["old"], typed["new"])
            except ExamError as error:
                wrong = error.advice
        if not problem.say(wrong):
            for ask in _PASSPHRASES:
                view.write(ask.name, "")
            tab.tell("The passphrase was changed.")

    return section(
        "Passphrase",
        *view.controls(),
        problem.control,
        quiet("Copies of the files made before still open with the old one."),
        side_by_side(
            button(
                "settings-passphrase-save", "Change the passphrase", change, kind="main"
            )
        ),
    )


def _draw_recovery(tab: Tab) -> ft.Control:
    async def replace() -> None:
        vault = tab.vault
        await tab.save(lambda: vault.settings.put("recovery_confirmed", value=False))
        code = await vault.replace_recovery_code()
        await tab.show(recovery_screen(tab, code, tab.redraw))

    return section(
        "Recovery code",
        paragraph("A new code makes the old one useless. It is shown once."),
        side_by_side(button("settings-recovery", "Replace the recovery code", replace)),
    )
