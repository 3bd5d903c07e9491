"""Add an animal or change one: signalment, identity, dangers, and the owner beside."""

from dataclasses import dataclass, field
from datetime import date, datetime

import flet as ft

from exam_app.app.exam_sessions import new_id
from exam_app.app.forms.animal_form import (
    BASIS_LABELS,
    SEX_LABELS,
    UNIT_LABELS,
    AnimalForm,
    animal_of,
    chip_notes,
    form_of,
    owner_of,
    problem_of,
    with_field,
)
from exam_app.app.practice_protocols import protocol_for
from exam_app.app.queries import animals as animal_queries
from exam_app.app.typed_entries import Typed
from exam_app.domain.animal.signalment import AgeBasis, Animal, Owner
from exam_app.ui.animal.erase_owner import open_erasing
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, section, side_by_side, stack, strong


async def build_new(tab: Tab, species: str) -> Screen:
    """Build the form of a new animal of one species."""
    animal = Animal(new_id(), "", species, is_demo=tab.session.is_demo)
    label = protocol_for(tab.session, species).protocol.label.lower()
    return EditScreen(tab, animal, Owner(), f"Add a {label}").screen()


async def build_group(tab: Tab, species: str) -> Screen:
    """Build the form of a new group: what is typed holds for every one of it."""
    animal = Animal(new_id(), "", species, is_group=True, is_demo=tab.session.is_demo)
    label = protocol_for(tab.session, species).protocol.label.lower()
    return EditScreen(tab, animal, Owner(), f"A group: {label}").screen()


async def build(tab: Tab, animal_id: str) -> Screen:
    """Build the form of an animal that is known."""
    animal, owner = animal_queries.fetch(tab.session, animal_id)
    return EditScreen(tab, animal, owner, animal.name).screen()


@dataclass(slots=True, repr=False)
class EditScreen:
    """The form of one animal; it is stored by its button, as a whole."""

    tab: Tab
    animal: Animal
    owner: Owner
    title: str
    _saved: AnimalForm = field(init=False)
    _form: AnimalForm = field(init=False)
    _kept: Typed = field(init=False)
    _texts: dict[str, Field] = field(default_factory=dict)
    _problem: str = ""
    _age: Slot = field(init=False)
    _chip: Slot = field(init=False)
    _notice: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Begin with the animal as it is known."""
        self._saved = form_of(self.animal, self.owner)
        self._kept = self.tab.typed(self._place(), self.title)
        self._form = self._kept.begin(self._saved)
        self._chip = Slot(self._draw_chip)
        self._age = Slot(self._draw_age)
        self._notice = Slot(self._draw_problem)

    def screen(self) -> Screen:
        """Build the screen."""
        return Screen(
            title=self.title,
            back="/animals",
            body=[
                *self.tab.typed_before(self._kept, self.tab.redraw),
                self._text("animal-name", "Name", "name", autofocus=True),
                strong("Sex"),
                self._choice("animal-sex", SEX_LABELS, "sex"),
                strong("Age"),
                self._choice("animal-age-basis", BASIS_LABELS, "basis"),
                self._age.control,
                self._text("animal-breed", "Breed or type", "breed"),
                self._text("animal-colour", "Colour and markings", "colour"),
                self._chip_field(),
                self._chip.control,
                self._text("animal-tag", "Tag or collar", "tag"),
                self._text("animal-place", "Pen, kennel or place", "place"),
                self._safety(),
                self._owner_part(),
                self._notice.control,
            ],
            bottom=[
                button(
                    "animal-save",
                    "Save and start an exam",
                    self._save_and_go,
                    kind="main",
                ),
                button("animal-edit", "Save only", self._save_only),
            ],
        )

    def _place(self) -> str:
        """Name the form: of this animal, or of the next new one of its species."""
        if self.animal.name:
            return f"animal/{self.animal.animal_id}"
        kind = "group" if self.animal.is_group else "new"
        return f"animal/{kind}-{self.animal.species}"

    def _keep(self) -> None:
        """Keep what is typed and chosen until the animal is stored."""
        self._read()
        self._kept.keep(self._form, self._saved)

    def _safety(self) -> ft.Control:
        return section(
            "Before touching it",
            self._text("animal-behaviour", "How it behaves with people", "behaviour"),
            self._text("animal-dangers", "What can hurt you", "dangers"),
        )

    def _owner_part(self) -> ft.Control:
        return section(
            "Owner",
            quiet("Kept beside the record, never inside it; can be erased later."),
            self._text("owner-name", "Owner's name", "owner_name"),
            self._text("owner-phone", "Owner's phone", "owner_phone"),
            self._text("owner-address", "Owner's address", "owner_address"),
            *self._erasing(),
        )

    def _erasing(self) -> list[ft.Control]:
        animal = self.animal
        if self.tab.vault.animals.get(animal.animal_id) is None:
            return []

        async def erase() -> None:
            await open_erasing(self.tab, animal.animal_id, animal.name)

        label = "Erase owner details"
        return [side_by_side(button("animal-erase", label, erase))]

    def _text(
        self,
        identifier: str,
        label: str,
        name: str,
        *,
        hint: str | None = None,
        autofocus: bool = False,
        keyboard: ft.KeyboardType = ft.KeyboardType.TEXT,
    ) -> ft.Control:
        kept = text_field(
            identifier,
            label,
            value=getattr(self._form, name),
            hint=hint,
            autofocus=autofocus,
            keyboard=keyboard,
            on_change=self._keep,
        )
        self._texts[name] = kept
        return kept.control

    def _choice(
        self, group: str, options: tuple[tuple[str, str], ...], name: str
    ) -> ft.Control:
        async def chosen(value: str) -> None:
            self._read()
            self._form = with_field(self._form, name, value)
            self._keep()
            if name == "basis":
                self._age.refresh()

        row = ChoiceRow(group, options, chosen, getattr(self._form, name), size="usual")
        return row.control

    def _draw_age(self) -> ft.Control:
        for name in ("age", "birth"):
            self._texts.pop(name, None)
        if self._form.basis == AgeBasis.UNKNOWN:
            return quiet("Without an age no value is compared with published ranges.")
        if self._form.basis == AgeBasis.BIRTH_DATE:
            return self._text(
                "animal-birth",
                "Birth date",
                "birth",
                hint="Year-month-day: 2024-05-01",
            )
        number = ft.KeyboardType.NUMBER
        return stack(
            self._text("animal-age", "Age today", "age", keyboard=number),
            self._choice("animal-age-unit", UNIT_LABELS, "age_unit"),
        )

    def _chip_field(self) -> ft.Control:
        def typed() -> None:
            self._keep()
            self._chip.refresh()

        kept = text_field(
            "animal-chip",
            "Chip number",
            value=self._form.chip,
            hint="Type it, or scan with a reader that types like a keyboard.",
            on_change=typed,
        )
        self._texts["chip"] = kept
        return kept.control

    def _draw_chip(self) -> ft.Control:
        kept = self._texts.get("chip")
        typed = kept.value if kept else self._form.chip
        others = animal_queries.others_with_chip(self.tab.session, typed, self.animal)
        notes = chip_notes(typed, others)
        if not notes:
            return ft.Container()
        return banner("animal-chip-note", " ".join(notes), Tone.NOTICE)

    def _draw_problem(self) -> ft.Control:
        if not self._problem:
            return ft.Container()
        return banner("animal-problem", self._problem, Tone.NOTICE)

    def _read(self) -> None:
        for name, kept in self._texts.items():
            self._form = with_field(self._form, name, kept.value)

    async def _save(self) -> bool:
        self._read()
        self._problem = problem_of(self._form, _today())
        self._notice.refresh()
        if self._problem:
            self.tab.tell(self._problem)
            return False
        animal = animal_of(self._form, self.animal, _today())
        await animal_queries.keep(
            self.tab.session, animal, owner_of(self._form, self.owner)
        )
        self._kept.drop()
        return True

    async def _save_and_go(self) -> None:
        if await self._save():
            await self.tab.go(f"/start/{self.animal.animal_id}")

    async def _save_only(self) -> None:
        if await self._save():
            await self.tab.go("/animals")
            self.tab.tell("The animal is stored.")


def _today() -> date:
    return datetime.now().astimezone().date()
