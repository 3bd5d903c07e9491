"""The groups of the settings: the practice, what opens the exams, looks, hand-over."""

from collections.abc import Callable

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.forms.form import Ask, Form, Kind, choice
from exam_app.app.handover import pairing_device as pairing
from exam_app.app.practice_claims import every_kept, keep, switched
from exam_app.app.view.passphrase_note import passphrase_problem
from exam_app.domain.animal.signalment import species_shown
from exam_app.domain.errors import ExamError
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell import appearance
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.theme import ColourMode, TextSize
from exam_app.ui.start.recovery_screen import recovery_screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.hands import GLOVES, HANDS
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side, stack

_LOOKS = (
    choice(
        "look",
        to_translate("Colours"),
        (
            (ColourMode.LIGHT.value, to_translate("Dark on light")),
            (ColourMode.DARK.value, to_translate("Light on dark")),
        ),
        identifier="look",
    ),
    choice(
        "text_size",
        to_translate("Text size"),
        (
            (TextSize.NORMAL.value, to_translate("Normal")),
            (TextSize.LARGE.value, to_translate("Large")),
            (TextSize.LARGEST.value, to_translate("Largest (twice)")),
        ),
        identifier="size",
    ),
    choice(
        GLOVES,
        to_translate("Buttons in the exam"),
        (
            ("bare", to_translate("All of them")),
            ("gloved", to_translate("Few and large, for dirty gloves")),
        ),
        identifier="hands",
    ),
)
_PRACTICE = (
    Ask("practice", to_translate("Name of the practice or shelter")),
    Ask(
        "clinic_phone",
        to_translate("Clinic's phone number"),
        kind=Kind.PHONE,
        identifier="settings-phone",
    ),
)
_PASSPHRASES = (
    Ask("old", to_translate("Present passphrase"), kind=Kind.SECRET),
    Ask("new", to_translate("New passphrase"), kind=Kind.SECRET),
    Ask("again", to_translate("The new one again"), kind=Kind.SECRET),
)


def practice(tab: Tab, changed: Callable[[], None]) -> list[ft.Control]:
    """Ask for the practice's name and number, and list what its exams add."""
    return [_draw_practice(tab, changed), claims_part(tab)]


def access(tab: Tab, _changed: Callable[[], None]) -> list[ft.Control]:
    """Change what opens the exams: the passphrase, and the code for when it is lost."""
    return [_draw_passphrase(tab), _draw_recovery(tab)]


def looks(tab: Tab, changed: Callable[[], None]) -> list[ft.Control]:
    """Choose colours, text size and buttons for gloves."""
    return [_draw_looks(tab, changed)]


def hand_over(tab: Tab, _changed: Callable[[], None]) -> list[ft.Control]:
    """Say which clinic this device is paired with, and lead to the hand-over."""
    words = pairing.clinic_words(tab.vault)
    said = (
        tr("Exams are sealed to {clinic}.", clinic=words)
        if words
        else tr("Not paired with a clinic yet.")
    )
    label = tr("Pair with another clinic") if words else tr("Pair with a clinic")
    ways = (
        button("pair-open", label, tab.way("/pair"), icon=ft.Icons.LINK),
        button(
            "settings-hand-over",
            tr("Hand over"),
            tab.way("/hand-over"),
            icon=ft.Icons.OUTBOX,
        ),
    )
    return [section("", paragraph(said), side_by_side(*ways))]


def looks_words(tab: Tab) -> str:
    """Say in a line how it looks now."""
    look, size = appearance.chosen(tab.session)
    chosen = {"look": look.value, "text_size": size.value}
    colours, text = (
        tr(dict(ask.choices)[chosen[ask.name]]) for ask in _LOOKS if ask.name in chosen
    )
    return tr("{colours} · {size} text", colours=colours, size=text.lower())


def _draw_looks(tab: Tab, changed: Callable[[], None]) -> ft.Control:
    look, size = appearance.chosen(tab.session)
    hands = "gloved" if HANDS.gloved else "bare"
    saved = {"look": look.value, "text_size": size.value, GLOVES: hands}
    form = Form(_LOOKS, saved=saved)

    async def keep(name: str) -> None:
        key = form[name]
        value = key == "gloved" if name == GLOVES else key
        await tab.save(lambda: tab.vault.settings.put(name, value))
        appearance.apply(tab.page, tab.session)
        changed()

    view = FormView(form, on_change=keep, size="usual")
    return section("", *view.controls())


def _draw_practice(tab: Tab, changed: Callable[[], None]) -> ft.Control:
    settings = tab.vault.settings
    saved = {name: settings.get(name, "") for name in ("practice", "clinic_phone")}
    typed = tab.typed("settings-practice", to_translate("Practice or shelter"))
    form = Form(_PRACTICE, "settings", saved, typed)

    async def save() -> None:
        def put() -> None:
            with tab.vault.transaction():
                for name, text in form.values().items():
                    settings.put(name, text)

        await tab.save(put)
        form.was_saved("practice", "clinic_phone")
        changed()
        tab.tell(tr("Practice and number were saved."))

    both = button("settings-save", tr("Save both"), save, kind="main")
    drawn = FormView(form).controls()
    return section(tr("Practice or shelter"), *drawn, side_by_side(both))


def _draw_passphrase(tab: Tab) -> ft.Control:
    form = Form(_PASSPHRASES, "settings-passphrase")
    view, typed = FormView(form), form.texts
    problem, label = ProblemNotice("settings-problem"), tr("Change the passphrase")

    async def change() -> None:
        wrong = passphrase_problem(typed["new"], typed["again"])
        if not wrong:
            try:
                await tab.vault.change_passphrase(typed["old"], typed["new"])
            except ExamError as error:
                wrong = tr(error.advice)
        if not problem.say(wrong):
            for ask in _PASSPHRASES:
                view.write(ask.name, "")
            tab.tell(tr("The passphrase was changed."))

    return section(
        tr("Passphrase"),
        *view.controls(),
        problem.control,
        quiet(tr("Copies of the files made before still open with the old one.")),
        side_by_side(button("settings-passphrase-save", label, change, kind="main")),
    )


def _draw_recovery(tab: Tab) -> ft.Control:
    async def replace() -> None:
        vault = tab.vault
        await tab.save(lambda: vault.settings.put("recovery_confirmed", value=False))
        code = await vault.replace_recovery_code()
        await tab.show(recovery_screen(tab, code, tab.show_route))

    return section(
        tr("Recovery code"),
        paragraph(tr("A new code makes the old one useless. It is shown once.")),
        side_by_side(
            button("settings-recovery", tr("Replace the recovery code"), replace)
        ),
    )


def claims_part(tab: Tab) -> ft.Control:
    """List what this practice says beyond the routine, each to be taken out."""

    def refresh() -> None:
        slot.refresh()

    def draw() -> ft.Control:
        lines = [
            _claim(tab, species, name, refresh, is_result=is_result)
            for species, chosen in every_kept(tab.vault).items()
            for names, is_result in ((chosen.added, False), (chosen.instead, True))
            for name in names
        ]
        about = quiet(
            tr(
                "What every exam here says beyond the routine. It is added on the "
                "page of a part, and holds from the next exam on; records keep what "
                "they said."
            )
        )
        return stack(about, *(lines or [quiet(tr("Nothing was added."))]))

    slot = Slot(draw)
    return section(tr("Sentences of this practice"), slot.control)


def _claim(
    tab: Tab, species: str, name: str, refresh: Callable[[], None], *, is_result: bool
) -> ft.Control:
    async def take_out() -> None:
        chosen = every_kept(tab.vault)[species]
        await keep(tab.session, species, switched(chosen, name, is_result=is_result))
        refresh()
        tab.tell(tr("Taken out; it holds from the next exam on."))

    said = claim_words(_protocol(tab, species), name, is_result=is_result)
    key = for_choice("settings-claim", f"{species}-{name}".replace("/", "-"))
    out = button(key, tr("Take out"), take_out, icon=ft.Icons.REMOVE, kind="tile")
    words = paragraph(f"{species_shown(species).capitalize()}: {said}")
    return stack(words, side_by_side(out))


def _protocol(tab: Tab, species: str) -> SpeciesProtocol | None:
    try:
        return exam_sessions.protocol_for(tab.session, species).protocol
    except ExamError:
        return None


def claim_words(protocol: SpeciesProtocol | None, name: str, *, is_result: bool) -> str:
    """Name a chosen claim with its part; one the protocol has no more by its id."""
    region_id, _, clause_id = name.partition("/")
    region = protocol.region(region_id) if protocol else None
    clauses = region.clauses if region else ()
    clause = next((c for c in clauses if c.clause_id == clause_id), None)
    if region is None or clause is None:
        return tr("{name} (this protocol has it no more; it is not said)", name=name)
    said = tr(clause.text)
    if is_result:
        said = tr(
            "“{result}” in place of: {sentence}",
            result=tr(clause.strike_as),
            sentence=said,
        )
    return f"{tr(region.label)}: {said}"
