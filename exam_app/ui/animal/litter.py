"""A litter taken in at once: what all share is typed once, each gets its own line.

Signalment is copied and nothing else: every one of them has its own exam.
"""

from dataclasses import dataclass, field, replace
from datetime import datetime

import flet as ft

from exam_app.app.exam_sessions import new_id
from exam_app.app.forms.animal_form import (
    UNIT_LABELS,
    AnimalForm,
    animal_of,
    problem_of,
    with_field,
)
from exam_app.app.practice_protocols import protocol_for
from exam_app.app.queries import animals as animal_queries
from exam_app.app.queries import day_plan
from exam_app.app.typed_entries import Typed
from exam_app.domain.animal.groups import (
    LONGEST_LITTER,
    GroupNumbersError,
    LitterMate,
    litter,
    with_age_by_teeth,
)
from exam_app.domain.animal.signalment import AgeBasis, Animal, Owner, Sex
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, section, side_by_side, stack, strong

_COUNTS = tuple((str(number), str(number)) for number in range(2, 13))
_SEXES = (
    (Sex.FEMALE.value, "Female"),
    (Sex.MALE.value, "Male"),
    (Sex.UNKNOWN.value, "Not sure"),
)


async def build(tab: Tab, species: str) -> Screen:
    """Build the form of a litter of one species."""
    label = protocol_for(tab.session, species).protocol.label.lower()
    return LitterScreen(tab, species, label).screen()


@dataclass(slots=True, repr=False)
class LitterScreen:
    """What the litter shares, and one line an animal."""

    tab: Tab
    species: str
    label: str
    _kept: Typed = field(init=False)
    _count: int = 4
    _unit: str = "weeks"
    _sexes: dict[int, str] = field(default_factory=dict)
    _shared: dict[str, Field] = field(default_factory=dict)
    _names: list[Field] = field(default_factory=list)
    _colours: list[Field] = field(default_factory=list)
    _problem: str = ""
    _lines: Slot = field(init=False)
    _notice: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Begin with what was typed before and not stored."""
        name = f"A litter: {self.label}"
        self._kept = self.tab.typed(f"animal/litter-{self.species}", name)
        self._count = int(self._kept.value("count", "4"))
        self._unit = self._kept.value("unit", "weeks")
        for number in range(LONGEST_LITTER):
            sex = self._kept.value(f"sex-{number}")
            self._sexes |= {number: sex} if sex else {}
        self._lines = Slot(self._draw_lines)
        self._notice = Slot(self._draw_problem)

    def screen(self) -> Screen:
        """Build the screen."""
        return Screen(
            title=f"A litter: {self.label}",
            back="/animals",
            body=[
                *self.tab.typed_before(self._kept, self.tab.redraw),
                section("What all of them share", *self._shared_part()),
                strong("How many"),
                ChoiceRow(
                    "litter-count", _COUNTS, self._counted, str(self._count)
                ).control,
                self._lines.control,
                self._notice.control,
            ],
            bottom=[
                button(
                    "litter-save",
                    "Save the litter, plan it",
                    self._save,
                    kind="main",
                    size="exam",
                )
            ],
        )

    def _shared_part(self) -> list[ft.Control]:
        async def chosen(unit: str) -> None:
            self._unit = unit
            self._kept.note("unit", unit, "weeks")

        return [
            self._text("dam", "litter-dam", "Dam, as known"),
            self._text("breed", "animal-breed", "Breed or type"),
            self._text("place", "animal-place", "Pen, kennel or place"),
            self._text("age", "animal-age", "Age today, estimated"),
            ChoiceRow("animal-age-unit", UNIT_LABELS, chosen, self._unit).control,
            self._text(
                "teeth",
                "litter-teeth",
                "Teeth the age was estimated from",
                "Which are through, which are not. Empty if it was not by teeth.",
            ),
        ]

    def _text(
        self, name: str, identifier: str, label: str, hint: str | None = None
    ) -> ft.Control:
        self._shared[name] = text_field(identifier, label, hint=hint, typed=self._kept)
        return self._shared[name].control

    async def _counted(self, count: str) -> None:
        self._count = int(count)
        self._kept.note("count", count, "4")
        self._lines.refresh()

    def _draw_lines(self) -> ft.Control:
        self._names, self._colours = [], []
        lines = [self._line(number) for number in range(self._count)]
        return stack(
            quiet("A name, or a word it is known by: a collar colour, a mark."), *lines
        )

    def _pairs(self) -> list[tuple[Field, Field]]:
        return list(zip(self._names, self._colours, strict=True))

    def _line(self, number: int) -> ft.Control:
        key = str(number + 1)
        self._names.append(
            text_field(for_choice("litter-name", key), f"Name {key}", typed=self._kept)
        )
        self._colours.append(
            text_field(
                for_choice("litter-colour", key), "Colour and marks", typed=self._kept
            )
        )

        async def chosen(sex: str) -> None:
            self._sexes[number] = sex
            self._kept.note(f"sex-{number}", sex)

        group = for_choice("litter-sex", key)
        sexes = ChoiceRow(group, _SEXES, chosen, self._sexes.get(number))
        return section(
            f"Number {key}",
            self._names[number].control,
            side_by_side(sexes.control),
            self._colours[number].control,
        )

    def _draw_problem(self) -> ft.Control:
        if not self._problem:
            return ft.Container()
        return banner("animal-problem", self._problem, Tone.NOTICE)

    async def _save(self) -> None:
        try:
            animals = self._animals()
        except GroupNumbersError as refusal:
            self._say(f"{refusal.reason}. {refusal.advice}")
            return
        if animals is None:
            return
        for animal in animals:
            await animal_queries.keep(self.tab.session, animal, Owner())
        self._kept.drop()
        await day_plan.add(self.tab.session, [animal.animal_id for animal in animals])
        await self.tab.go("/plan")
        self.tab.tell(f"{len(animals)} animals are stored and planned for today.")

    def _animals(self) -> tuple[Animal, ...] | None:
        today = datetime.now().astimezone().date()
        form = AnimalForm(name="litter", age_unit=self._unit)
        for name in ("breed", "place", "age"):
            form = with_field(form, name, self._shared[name].value)
        if form.age:
            form = replace(form, basis=AgeBasis.ESTIMATED.value)
        problem = problem_of(form, today)
        if problem:
            self._say(problem)
            return None
        blank = Animal(new_id(), "", self.species, is_demo=self.tab.session.is_demo)
        first = animal_of(form, blank, today)
        teeth = self._shared["teeth"].value
        if teeth and first.age_days is not None:
            first = with_age_by_teeth(first, first.age_days, first.age_on, teeth)
        mates = tuple(
            LitterMate(name.value, self._sex(number), colour.value)
            for number, (name, colour) in enumerate(self._pairs())
        )
        dam = self._shared["dam"].value
        return litter(first, mates, tuple(new_id() for _ in mates), dam)

    def _sex(self, number: int) -> Sex:
        return Sex(self._sexes.get(number, Sex.UNKNOWN.value))

    def _say(self, problem: str) -> None:
        self._problem = problem
        self._notice.refresh()
        self.tab.tell(problem)
