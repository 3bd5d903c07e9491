"""Add an animal or change one: signalment, identity, dangers, and the owner beside.

The address of a new animal's form holds what it begins with: what was searched for, or
what is carried over from the last one.
"""

from collections.abc import Mapping
from dataclasses import replace
from urllib.parse import parse_qsl, urlencode

import flet as ft

from exam_app.app.exam_sessions import new_id, now, rename_animal
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
from exam_app.app.queries.new_animals import LastIntake, nameless, tag_unknown_words
from exam_app.domain.animal.signalment import AgeBasis, Animal, Owner
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.language.catalogue import in_english, to_translate, tr
from exam_app.ui.animal.erase_owner import open_erasing
from exam_app.ui.shell.message_parts import kept_before
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import bar_button, button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.notices import ProblemNotice, Tone, banner
from exam_app.ui.widgets.room import ROOM
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side, stack

# Of an age with its units, so that what stands below moves with no choice above it.
_AGE_HEIGHT = 131
_NO_AGE = to_translate("Without an age no value is compared with published ranges.")
_FROM_BIRTH = to_translate("The age on the day of an exam is counted from it.")
_MAY_BE_BEGUN = ("name", "breed", "tag", "chip", "place")


async def build_new(tab: Tab, species: str, *, is_group: bool = False) -> Screen:
    """Build the form of a new animal of one species."""
    is_demo = tab.session.is_demo
    begun = dict(parse_qsl((tab.page.route or "").partition("?")[2]))
    animal = Animal(new_id(), "", species, is_group=is_group, is_demo=is_demo)
    protocol = protocol_for(tab.session, species).protocol
    title = _title(protocol, is_group=is_group)
    with in_english():
        named = _title(protocol, is_group=is_group)
    words = () if is_group else tag_unknown_words(protocol)
    names = tuple(nameless(tab.session, one) for one in words)
    return EditScreen(tab, animal, Owner(), title, named, begun, names).screen()


def _title(protocol: SpeciesProtocol, *, is_group: bool) -> str:
    if is_group:
        return tr("A group: {kind}", kind=tr(protocol.label).lower())
    return tr("Add {kind}", kind=tr(protocol.one_animal))


async def build_group(tab: Tab, species: str) -> Screen:
    """Build the form of a new group: what is typed holds for every one of it."""
    return await build_new(tab, species, is_group=True)


async def build(tab: Tab, animal_id: str) -> Screen:
    """Build the form of an animal that is known."""
    animal, owner = animal_queries.fetch(tab.session, animal_id)
    return EditScreen(tab, animal, owner, animal.name, animal.name).screen()


class EditScreen:
    """The form of one animal; it is stored by its button, as a whole."""

    def __init__(
        self,
        tab: Tab,
        animal: Animal,
        owner: Owner,
        title: str,
        named: str,
        begun: Mapping[str, str] | None = None,
        names: tuple[str, ...] = (),
    ) -> None:
        """Begin with the animal as it is known, or as it was typed and not stored.

        Args:
            named: Its name where what is typed is kept, in English.
            begun: What a new animal's form begins with; none for one that is known.
            names: Words that a tap writes into the name.
        """
        self.tab, self.animal, self.owner, self.title = tab, animal, owner, title
        self._is_new, self._begun = begun is not None, begun or {}
        stands = {k: self._begun[k] for k in _MAY_BE_BEGUN if k in self._begun}
        name = replace(ASKS[0], options=names)
        self._form = Form(
            (name, *ASKS[1:]),
            "animal",
            {**texts_of(animal, owner), **stands},
            typed=tab.typed(self._place(), named),
            is_by_name=True,
        )
        self._view = FormView(self._form, size="usual", autofocus="name")
        self._problem = ProblemNotice("animal-problem")

    def screen(self) -> Screen:
        """Build the screen."""
        drawn, following = self._view.controls, self._view.following
        kept = tr("Kept beside the record, never inside it; can be erased later.")
        return Screen(
            title=self.title,
            back="/animals",
            body=[
                *kept_before(self._form.typed, self.tab.show_route, self.tab.tell),
                *self._carried(),
                *drawn("name", "sex", "basis"),
                following(self._draw_age, "basis"),
                *drawn("breed", "colour"),
                *self._chip(),
                *drawn("tag", "place"),
                section(tr("Before touching it"), *drawn("behaviour", "dangers")),
                section(
                    tr("Owner"),
                    quiet(kept),
                    *drawn("owner_name", "owner_phone", "owner_address"),
                    *self._erasing(),
                ),
                self._problem.control,
            ],
            bottom=[
                ft.Row(
                    [
                        button(
                            "animal-save",
                            tr("Save and start"),
                            self._save_and_go,
                            kind="main",
                            expand=2,
                        ),
                        *self._without_name(),
                        bar_button(
                            "animal-edit",
                            tr("Save only"),
                            ft.Icons.SAVE,
                            self._save_only,
                        ),
                    ],
                    spacing=4,
                )
            ],
        )

    def _place(self) -> str:
        """Name the form: of this animal, or of the next new one of its species."""
        if not self._is_new:
            return f"animal/{self.animal.animal_id}"
        kind = "group" if self.animal.is_group else "new"
        return f"animal/{kind}-{self.animal.species}"

    def _carried(self) -> list[ft.Control]:
        """Say what the last animal has left in a new one's form."""
        if self._begun.get("as") != "last":
            return []
        carried = (self._begun.get(name, "") for name in ("place", "scope", "setting"))
        last = LastIntake(self.animal.species, *carried)
        text = tr(
            "Same as the last one: {words}. Nothing else is carried over.",
            words=last.words,
        )
        return [banner("animal-carried", text)]

    def _without_name(self) -> list[ft.Control]:
        if not self._is_new or self.animal.is_group:
            return []
        label, icon = tr("No name"), ft.Icons.QUESTION_MARK
        return [bar_button("animal-nameless", label, icon, self._save_nameless)]

    def _erasing(self) -> list[ft.Control]:
        animal = self.animal
        if self.tab.vault.animals.shown(animal.animal_id) is None:
            return []

        async def erase() -> None:
            await open_erasing(self.tab, animal.animal_id, animal.name)

        label = tr("Erase owner details")
        return [side_by_side(button("animal-erase", label, erase))]

    def _draw_age(self) -> ft.Control:
        basis = self._form["basis"]
        if basis == AgeBasis.UNKNOWN:
            return _as_high(section("", paragraph(tr(_NO_AGE))))
        if basis == AgeBasis.BIRTH_DATE:
            asked = self._view.control("birth")
            return _as_high(ft.Container(stack(asked, quiet(tr(_FROM_BIRTH)))))
        return stack(*self._view.controls("age", "age_unit"))

    def _chip(self) -> list[ft.Control]:
        """Ask for the chip of one animal; a group has none, unless one was typed."""
        if self.animal.is_group and not self._form["chip"]:
            return []
        drawn = self._view.controls("chip")
        return [*drawn, self._view.following(self._draw_chip, "chip")]

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
        session = self.tab.session
        await animal_queries.keep(session, animal, owner_of(form, self.owner))
        await rename_animal(session, animal.animal_id, animal.name)
        self._form.drop()
        return True

    async def _save_and_go(self) -> None:
        if await self._save():
            begun = self._begun
            carried = {k: begun[k] for k in ("scope", "setting") if k in begun}
            query = f"?{urlencode(carried)}" if carried else ""
            await self.tab.go(f"/start/{self.animal.animal_id}{query}")

    async def _save_nameless(self) -> None:
        if not self._form["name"]:
            self._view.write("name", nameless(self.tab.session))
        await self._save_and_go()

    async def _save_only(self) -> None:
        if await self._save():
            await self.tab.go("/animals")
            self.tab.tell(tr("The animal is stored."))


def _as_high(asked: ft.Container) -> ft.Control:
    """Give it the height of an age with its units; large text takes its own."""
    asked.height = None if ROOM.is_large_text else _AGE_HEIGHT
    return asked
