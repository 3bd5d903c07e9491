"""A litter taken in at once: what all share is typed once, each gets its own line.

Signalment is copied and nothing else: every one of them has its own exam.
"""

from datetime import date

import flet as ft

from exam_app.app.exam_sessions import new_id, now
from exam_app.app.forms.animal_form import (
    ASKS,
    UNIT_LABELS,
    animal_of,
    problem_of,
)
from exam_app.app.forms.form import Ask, Form, choice, starts
from exam_app.app.practice_protocols import protocol_for
from exam_app.app.queries import animals as animal_queries
from exam_app.app.queries import day_plan
from exam_app.domain.animal.groups import (
    LONGEST_LITTER,
    LitterMate,
    litter,
    litter_names,
    with_age_by_teeth,
    young_word,
)
from exam_app.domain.animal.signalment import AgeBasis, Animal, Owner, Sex
from exam_app.language.catalogue import in_english, to_translate, tr
from exam_app.ui.shell.message_parts import kept_before
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.texts import quiet, section, side_by_side, stack

_SEXES = (
    (Sex.FEMALE.value, to_translate("Female")),
    (Sex.MALE.value, to_translate("Male")),
    (Sex.UNKNOWN.value, to_translate("Not sure")),
)
_SHARED = (
    Ask("dam", to_translate("Dam, as known"), identifier="litter-dam"),
    Ask("breed", to_translate("Breed or type")),
    Ask("place", to_translate("Pen, kennel or place")),
    Ask("age", to_translate("Age today, estimated")),
    choice("unit", "", UNIT_LABELS, start="weeks", identifier="animal-age-unit"),
    Ask(
        "teeth",
        to_translate("Teeth the age was estimated from"),
        hint=to_translate(
            "Which are through, which are not. Empty if it was not by teeth."
        ),
        identifier="litter-teeth",
    ),
)


def _count_ask() -> Ask:
    return Ask(
        "count",
        to_translate("How many"),
        hint=tr("2 to {most}.", most=LONGEST_LITTER),
        start="4",
        identifier="litter-count",
    )


def _line_asks(number: int) -> tuple[Ask, ...]:
    """Return what is asked of one of them, counted from 0; shown from 1."""
    key = number + 1
    name, colour = f"litter-name-{key}", f"litter-colour-{key}"
    return (
        Ask(f"name-{number}", tr("Name {number}", number=key), identifier=name),
        choice(f"sex-{number}", "", _SEXES, identifier=f"litter-sex-{key}"),
        Ask(f"colour-{number}", to_translate("Colour and marks"), identifier=colour),
    )


async def build(tab: Tab, species: str) -> Screen:
    """Build the form of a litter of one species."""
    label = protocol_for(tab.session, species).protocol.label
    return LitterScreen(tab, species, label).screen()


def _title(label: str) -> str:
    return tr("A litter: {kind}", kind=tr(label).lower())


class LitterScreen:
    """What the litter shares, and one line an animal."""

    def __init__(self, tab: Tab, species: str, label: str) -> None:
        """Begin with what was typed before and not stored."""
        self.tab, self.species = tab, species
        self.title = _title(label)
        with in_english():
            place, named = f"animal/litter-{species}", _title(label)
        lines = (ask for n in range(LONGEST_LITTER) for ask in _line_asks(n))
        typed = tab.typed(place, named)
        self._form = Form((*_SHARED, _count_ask(), *lines), "animal", typed=typed)
        self._view = FormView(self._form)

    def screen(self) -> Screen:
        """Build the screen."""
        shared = (ask.name for ask in _SHARED)
        return Screen(
            title=self.title,
            back="/animals",
            body=[
                *kept_before(self._form.typed, self.tab.show_route, self.tab.tell),
                section(tr("What all of them share"), *self._view.controls(*shared)),
                *self._view.controls("count"),
                self._view.following(self._draw_lines, "count"),
            ],
            bottom=[
                button(
                    "litter-save",
                    tr("Save the litter and plan it"),
                    self._save,
                    kind="lead",
                )
            ],
        )

    def _draw_lines(self) -> ft.Control:
        young = young_word(self.species)
        how = quiet(
            tr(
                "A name, or a word it is known by: a collar colour, a mark. "
                "Left empty, they are called {young} 1, {young} 2 and so on; "
                "a number that another animal here has is left out.",
                young=young,
            )
        )
        return stack(how, *map(self._line, range(min(self._count(), LONGEST_LITTER))))

    def _count(self) -> int:
        """Return how many they are; 0 while no number stands there."""
        typed = self._form["count"]
        return int(typed) if typed.isdecimal() and len(typed) < 4 else 0

    def _line(self, number: int) -> ft.Control:
        name, sex, colour = (self._view.control(a.name) for a in _line_asks(number))
        return section(
            tr("Number {number}", number=number + 1), name, side_by_side(sex), colour
        )

    async def _save(self) -> None:
        form, today = self._shared(), now().local().date()
        name, problem = self._problem(form, today)
        if self._view.show_problem(name, problem):
            # The field may be far above the button.
            self.tab.tell(problem)
            return
        animals = self._animals(form, today)
        for animal in animals:
            await animal_queries.keep(self.tab.session, animal, Owner())
        self._form.drop()
        await day_plan.add(self.tab.session, [animal.animal_id for animal in animals])
        await self.tab.go("/plan")
        self.tab.tell(
            tr("{count} animals are stored and planned for today.", count=len(animals))
        )

    def _problem(self, form: dict[str, str], today: date) -> tuple[str, str]:
        """Return the first field that cannot be right, and what to do about it."""
        if problem := problem_of(form, today):
            return "age", problem
        if not 2 <= self._count() <= LONGEST_LITTER:
            return "count", tr(
                "A litter is 2 to {most} animals. Nothing was stored. "
                "Type how many they are.",
                most=LONGEST_LITTER,
            )
        numbers: dict[str, int] = {}
        for number in range(self._count()):
            name = self._form[f"name-{number}"]
            first = numbers.setdefault(name.casefold(), number)
            if name and first != number:
                return f"name-{number}", tr(
                    "Number {number} is called {name} too. Nothing was stored. "
                    "Give one of them another name, so that they are told apart.",
                    number=first + 1,
                    name=name,
                )
        return "", ""

    def _shared(self) -> dict[str, str]:
        typed = self._form
        basis = AgeBasis.ESTIMATED if typed["age"] else AgeBasis.UNKNOWN
        return starts(ASKS) | {
            "name": "litter",
            "basis": basis.value,
            "age": typed["age"],
            "age_unit": typed["unit"],
            "breed": typed["breed"],
            "place": typed["place"],
        }

    def _animals(self, form: dict[str, str], today: date) -> tuple[Animal, ...]:
        typed = self._form
        blank = Animal(new_id(), "", self.species, is_demo=self.tab.session.is_demo)
        first = animal_of(form, blank, today)
        if typed["teeth"] and first.age_days is not None:
            first = with_age_by_teeth(
                first, first.age_days, first.age_on, typed["teeth"]
            )
        count, young = self._count(), young_word(self.species)
        taken = {one.name for one in self.tab.vault.animals.search(young)}
        names = [typed[f"name-{number}"] for number in range(count)]
        mates = tuple(
            LitterMate(
                name,
                Sex(typed[f"sex-{number}"] or Sex.UNKNOWN.value),
                typed[f"colour-{number}"],
            )
            for number, name in enumerate(litter_names(names, young, taken))
        )
        return litter(first, mates, tuple(new_id() for _ in mates), typed["dam"])
