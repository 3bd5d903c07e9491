"""Add an animal or change one: signalment, identity, dangers, and the owner beside."""

import flet as ft

from exam_app.app.exam_sessions import new_id, now
from exam_app.app.forms.animal_form import (
    ASKS,
    animal_of,
    chip_notes,
    owner_of,
    problem_of,
    texts_of,
)
from exam_app.app.forms.form import Form
from exam_app.app.practice_protocols import protocol_for
from exam_app.app.queries import animals as animal_queries
from exam_app.domain.animal.signalment import AgeBasis, Animal, Owner
from exam_app.ui.animal.erase_owner import open_erasing
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.notices import ProblemNotice, Tone, banner
from exam_app.ui.widgets.texts import quiet, section, side_by_side, stack


async def build_new(tab: Tab, species: str, *, is_group: bool = False) -> Screen:
    """Build the form of a new animal of one species."""
    is_demo = tab.session.is_demo
    animal = Animal(new_id(), "", species, is_group=is_group, is_demo=is_demo)
    label = protocol_for(tab.session, species).protocol.label.lower()
    title = f"A group: {label}" if is_group else f"Add a {label}"
    return EditScreen(tab, animal, Owner(), title).screen()


async def build_group(tab: Tab, species: str) -> Screen:
    """Build the form of a new group: what is typed holds for every one of it."""
    return await build_new(tab, species, is_group=True)


async def build(tab: Tab, animal_id: str) -> Screen:
    """Build the form of an animal that is known."""
    animal, owner = animal_queries.fetch(tab.session, animal_id)
    return EditScreen(tab, animal, owner, animal.name).screen()


class EditScreen:
    """The form of one animal; it is stored by its button, as a whole."""

    def __init__(self, tab: Tab, animal: Animal, owner: Owner, title: str) -> None:
        """Begin with the animal as it is known, or as it was typed and not stored."""
        self.tab, self.animal, self.owner, self.title = tab, animal, owner, title
        self._form = Form(
            ASKS,
            "animal",
            texts_of(animal, owner),
            typed=tab.typed(self._place(), title),
            is_by_name=True,
        )
        self._view = FormView(self._form, size="usual", autofocus="name")
        self._problem = ProblemNotice("animal-problem")

    def screen(self) -> Screen:
        """Build the screen."""
        drawn, following = self._view.controls, self._view.following
        kept = "Kept beside the record, never inside it; can be erased later."
        return Screen(
            title=self.title,
            back="/animals",
            body=[
                *self.tab.typed_before(self._form.typed, self.tab.redraw),
                *drawn("name", "sex", "basis"),
                following(self._draw_age, "basis"),
                *drawn("breed", "colour", "chip"),
                following(self._draw_chip, "chip"),
                *drawn("tag", "place"),
                section("Before touching it", *drawn("behaviour", "dangers")),
                section(
                    "Owner",
                    quiet(kept),
                    *drawn("owner_name", "owner_phone", "owner_address"),
                    *self._erasing(),
                ),
                self._problem.control,
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

    def _erasing(self) -> list[ft.Control]:
        animal = self.animal
        if self.tab.vault.animals.shown(animal.animal_id) is None:
            return []

        async def erase() -> None:
            await open_erasing(self.tab, animal.animal_id, animal.name)

        label = "Erase owner details"
        return [side_by_side(button("animal-erase", label, erase))]

    def _draw_age(self) -> ft.Control:
        basis = self._form["basis"]
        if basis == AgeBasis.UNKNOWN:
            return quiet("Without an age no value is compared with published ranges.")
        if basis == AgeBasis.BIRTH_DATE:
            return self._view.control("birth")
        return stack(*self._view.controls("age", "age_unit"))

    def _draw_chip(self) -> ft.Control:
        typed = self._form["chip"]
        others = animal_queries.others_with_chip(self.tab.session, typed, self.animal)
        notes = chip_notes(typed, others)
        if not notes:
            return ft.Container()
        return banner("animal-chip-note", " ".join(notes), Tone.NOTICE)

    async def _save(self) -> bool:
        form, today = self._form.values(), now().local().date()
        if self._problem.say(problem_of(form, today)):
            self.tab.tell(self._problem.text)
            return False
        animal = animal_of(form, self.animal, today)
        await animal_queries.keep(self.tab.session, animal, owner_of(form, self.owner))
        self._form.drop()
        return True

    async def _save_and_go(self) -> None:
        if await self._save():
            await self.tab.go(f"/start/{self.animal.animal_id}")

    async def _save_only(self) -> None:
        if await self._save():
            await self.tab.go("/animals")
            self.tab.tell("The animal is stored.")
