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
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.texts import quiet, section, side_by_side, stack

_SEXES = (
    (Sex.FEMALE.value, "Female"),
    (Sex.MALE.value, "Male"),
    (Sex.UNKNOWN.value, "Not sure"),
)
_SHARED = (
    Ask("dam", "Dam, as known", identifier="litter-dam"),
    Ask("breed", "Breed or type"),
    Ask("place", "Pen, kennel or place"),
    Ask("age", "Age today, estimated"),
    choice("unit", "", UNIT_LABELS, start="weeks", identifier="animal-age-unit"),
    Ask(
        "teeth",
        "Teeth the age was estimated from",
        hint="Which are through, which are not. Empty if it was not by teeth.",
        identifier="litter-teeth",
    ),
)
_COUNT = Ask(
    "count",
    "How many",
    hint=f"2 to {LONGEST_LITTER}.",
    start="4",
    identifier="litter-count",
)


def _line_asks(number: int) -> tuple[Ask, ...]:
    """Return what is asked of one of them, counted from 0; shown from 1."""
    key = number + 1
    name, colour = f"litter-name-{key}", f"litter-colour-{key}"
    return (
        Ask(f"name-{number}", f"Name {key}", identifier=name),
        choice(f"sex-{number}", "", _SEXES, identifier=f"litter-sex-{key}"),
        Ask(f"colour-{number}", "Colour and marks", identifier=colour),
    )


async def build(tab: Tab, species: str) -> Screen:
    """Build the form of a litter of one species."""
    label = protocol_for(tab.session, species).protocol.label.lower()
    return LitterScreen(tab, species, label).screen()


class LitterScreen:
    """What the litter shares, and one line an animal."""

    def __init__(self, tab: Tab, species: str, label: str) -> None:
        """Begin with what was typed before and not stored."""
        self.tab, self.species, self.title = tab, species, f"A litter: {label}"
        lines = (ask for n in range(LONGEST_LITTER) for ask in _line_asks(n))
        typed = tab.typed(f"animal/litter-{species}", self.title)
        self._form = Form((*_SHARED, _COUNT, *lines), "animal", typed=typed)
        self._view = FormView(self._form)

    def screen(self) -> Screen:
        """Build the screen."""
        shared = (ask.name for ask in _SHARED)
        return Screen(
            title=self.title,
            back="/animals",
            body=[
                *self.tab.typed_before(self._form.typed, self.tab.show_route),
                section("What all of them share", *self._view.controls(*shared)),
                *self._view.controls("count"),
                self._view.following(self._draw_lines, "count"),
            ],
            bottom=[
                button(
                    "litter-save", "Save the litter, plan it", self._save, kind="lead"
                )
            ],
        )

    def _draw_lines(self) -> ft.Control:
        young = young_word(self.species)
        how = quiet(
            "A name, or a word it is known by: a collar colour, a mark. "
            f"Left empty, they are called {young} 1, {young} 2 and so on; "
            "a number that another animal here has is left out."
        )
        return stack(how, *map(self._line, range(min(self._count(), LONGEST_LITTER))))

    def _count(self) -> int:
        """Return how many they are; 0 while no number stands there."""
        typed = self._form["count"]
        return int(typed) if typed.isdecimal() and len(typed) < 4 else 0

    def _line(self, number: int) -> ft.Control:
        name, sex, colour = (self._view.control(a.name) for a in _line_asks(number))
        return section(f"Number {number + 1}", name, side_by_side(sex), colour)

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
        self.tab.tell(f"{len(animals)} animals are stored and planned for today.")

    def _problem(self, form: dict[str, str], today: date) -> tuple[str, str]:
        """Return the first field that cannot be right, and what to do about it."""
        if problem := problem_of(form, today):
            return "age", problem
        if not 2 <= self._count() <= LONGEST_LITTER:
            return "count", (
                f"A litter is 2 to {LONGEST_LITTER} animals. Nothing was stored. "
                "Type how many they are."
            )
        numbers: dict[str, int] = {}
        for number in range(self._count()):
            name = self._form[f"name-{number}"]
            first = numbers.setdefault(name.casefold(), number)
            if name and first != number:
                return f"name-{number}", (
                    f"Number {first + 1} is called {name} too. Nothing was stored. "
                    "Give one of them another name, so that they are told apart."
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
