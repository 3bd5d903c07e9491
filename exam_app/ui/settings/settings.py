"""Settings: people, this device, how it looks, hand-over, the store, sources."""

from collections.abc import Callable
from typing import TypeAlias

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.forms.form import Ask, Form, Kind, choice
from exam_app.app.handover import pairing_device as pairing
from exam_app.app.practice_claims import every_kept, keep, switched
from exam_app.app.view.passphrase_note import passphrase_problem
from exam_app.domain.animal.signalment import species_words
from exam_app.domain.errors import ExamError
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.count_words import count_words
from exam_app.ui.shell import appearance
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.theme import ColourMode, TextSize
from exam_app.ui.start.recovery_screen import recovery_screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.hands import GLOVES, HANDS
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import (
    paragraph,
    quiet,
    section,
    side_by_side,
    stack,
    strong,
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
            "What every exam here says beyond the routine. It is added on the page of "
            "a part, and holds from the next exam on; records keep what they said."
        )
        return stack(about, *(lines or [quiet("Nothing was added.")]))

    slot = Slot(draw)
    return _part("Sentences of this practice", slot.control)


def _claim(
    tab: Tab, species: str, name: str, refresh: Callable[[], None], *, is_result: bool
) -> ft.Control:
    async def take_out() -> None:
        chosen = every_kept(tab.vault)[species]
        await keep(tab.session, species, switched(chosen, name, is_result=is_result))
        refresh()
        tab.tell("Taken out; it holds from the next exam on.")

    said = claim_words(_protocol(tab, species), name, is_result=is_result)
    key = for_choice("settings-claim", f"{species}-{name}".replace("/", "-"))
    out = button(key, "Take out", take_out, icon=ft.Icons.REMOVE, kind="tile")
    words = paragraph(f"{species_words(species).capitalize()}: {said}")
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
        return f"{name} (this protocol has it no more; it is not said)"
    said = clause.text
    if is_result:
        said = f"“{clause.strike_as}” in place of: {clause.text}"
    return f"{region.label}: {said}"


def clinic_part(tab: Tab) -> list[ft.Control]:
    """Say which clinic a field device is paired with; a clinic leads to its devices."""
    if tab.vault.settings.get("role", "field") != "field":
        return [_ways(tab, _DEVICES)]
    words = pairing.clinic_words(tab.vault)
    said = f"Exams are sealed to {words}." if words else "Not paired with a clinic yet."
    label = "Pair with another clinic" if words else "Pair with a clinic"
    action = button("pair-open", label, tab.way("/pair"), icon=ft.Icons.LINK)
    return [paragraph(said), side_by_side(action), _ways(tab, _HAND_OVER)]


_LOOKS = (
    choice(
        "look",
        "Colours",
        (
            (ColourMode.LIGHT.value, "Dark on light"),
            (ColourMode.DARK.value, "Light on dark"),
        ),
        identifier="look",
    ),
    choice(
        "text_size",
        "Text size",
        (
            (TextSize.NORMAL.value, "Normal"),
            (TextSize.LARGE.value, "Large"),
            (TextSize.LARGEST.value, "Largest (twice)"),
        ),
        identifier="size",
    ),
    choice(
        GLOVES,
        "Buttons in the exam",
        (("bare", "All of them"), ("gloved", "Few and large, for dirty gloves")),
        identifier="hands",
    ),
)
_PRACTICE = (
    Ask("practice", "Name of the practice or shelter"),
    Ask(
        "clinic_phone",
        "Clinic's phone number",
        kind=Kind.PHONE,
        identifier="settings-phone",
    ),
)
_PASSPHRASES = (
    Ask("old", "Present passphrase", kind=Kind.SECRET),
    Ask("new", "New passphrase", kind=Kind.SECRET),
    Ask("again", "The new one again", kind=Kind.SECRET),
)


async def build(tab: Tab) -> Screen:
    """Build the settings, in groups."""
    return Screen(
        title="Settings",
        back="/",
        body=[
            section("People and PINs", _known(tab), _ways(tab, *_PEOPLE)),
            section(
                "This device",
                _draw_practice(tab),
                claims_part(tab),
                _draw_passphrase(tab),
                _draw_recovery(tab),
            ),
            _draw_looks(tab),
            section("Hand-over", *clinic_part(tab)),
            section("The stored exams", _ways(tab, *_STORE)),
            section("Sources", _ways(tab, *_SOURCES)),
        ],
    )


_Way: TypeAlias = tuple[str, str, str, ft.IconData]
_PEOPLE: tuple[_Way, ...] = (
    ("settings-people", "People on this device", "/people", ft.Icons.GROUP),
)
_HAND_OVER: _Way = ("settings-hand-over", "Hand over", "/hand-over", ft.Icons.OUTBOX)
_DEVICES: _Way = (
    "settings-devices",
    "Paired devices",
    "/clinic/devices",
    ft.Icons.DEVICES,
)
_STORE: tuple[_Way, ...] = (
    (
        "settings-care",
        "Look after the exams",
        "/settings/upkeep",
        ft.Icons.STORAGE,
    ),
    (
        "settings-retention",
        "Owner details: how long",
        "/settings/owners",
        ft.Icons.PERSON_OFF_OUTLINED,
    ),
)
_SOURCES: tuple[_Way, ...] = (
    (
        "settings-sources",
        "Sources of the numbers",
        "/settings/sources",
        ft.Icons.MENU_BOOK_OUTLINED,
    ),
    ("settings-about", "About this app", "/about", ft.Icons.INFO_OUTLINE),
)


def _ways(tab: Tab, *ways: _Way) -> ft.Control:
    """Lead to the screens of a group."""
    return side_by_side(
        *(
            button(identifier, label, tab.way(to), icon=icon)
            for identifier, label, to, icon in ways
        )
    )


def _known(tab: Tab) -> ft.Control:
    known = count_words(len(tab.vault.people.all()), "person", "people")
    return paragraph(f"{known} can examine here, each with a PIN.")


def _part(title: str, *controls: ft.Control) -> ft.Control:
    """Put a part of a group under a heading of its own."""
    return stack(strong(title), *controls)


def _draw_looks(tab: Tab) -> ft.Control:
    look, size = appearance.chosen(tab.session)
    hands = "gloved" if HANDS.gloved else "bare"
    saved = {"look": look.value, "text_size": size.value, GLOVES: hands}
    form = Form(_LOOKS, saved=saved)

    async def changed(name: str) -> None:
        key = form[name]
        value = key == "gloved" if name == GLOVES else key
        await tab.save(lambda: tab.vault.settings.put(name, value))
        appearance.apply(tab.page, tab.session)

    view = FormView(form, on_change=changed, size="usual")
    return section("How it looks", *view.controls())


def _draw_practice(tab: Tab) -> ft.Control:
    settings = tab.vault.settings
    saved = {name: settings.get(name, "") for name in ("practice", "clinic_phone")}
    form = Form(_PRACTICE, "settings", saved)

    async def save() -> None:
        def put() -> None:
            with tab.vault.transaction():
                for name, text in form.values().items():
                    settings.put(name, text)

        await tab.save(put)
        tab.tell("Practice and number were saved.")

    both = button("settings-save", "Save both", save, kind="main")
    drawn = FormView(form).controls()
    return _part("Practice or shelter", *drawn, side_by_side(both))


def _draw_passphrase(tab: Tab) -> ft.Control:
    form = Form(_PASSPHRASES, "settings-passphrase")
    view, typed = FormView(form), form.texts
    problem, label = ProblemNotice("settings-problem"), "Change the passphrase"

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

    return _part(
        "Passphrase",
        *view.controls(),
        problem.control,
        quiet("Copies of the files made before still open with the old one."),
        side_by_side(button("settings-passphrase-save", label, change, kind="main")),
    )


def _draw_recovery(tab: Tab) -> ft.Control:
    async def replace() -> None:
        vault = tab.vault
        await tab.save(lambda: vault.settings.put("recovery_confirmed", value=False))
        code = await vault.replace_recovery_code()
        await tab.show(recovery_screen(tab, code, tab.show_route))

    return _part(
        "Recovery code",
        paragraph("A new code makes the old one useless. It is shown once."),
        side_by_side(button("settings-recovery", "Replace the recovery code", replace)),
    )
