"""Receive hand-overs: by camera, photos and films, text, files, or a folder."""

import asyncio

import flet as ft

from exam_app.app.clinic import pictures as clinic_pictures
from exam_app.app.clinic.imports import Answered, import_waiting, session_of
from exam_app.app.clinic.pictures import codes_in_film, is_film, read_codes
from exam_app.app.clinic.reception import problem_with
from exam_app.app.exam_sessions import now
from exam_app.domain.errors import ExamError
from exam_app.ui.clinic.folder import folder_part
from exam_app.ui.clinic.receipt import answered_box, answered_line, arrived_words
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.code_in import CodeIn
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side, stack
from exam_app.ui.widgets.ways import way

_HOW = (
    "On the device, open “Hand over” and show the codes, or bring a stick, or paste. "
    "Codes may come in any order; stop and go on whenever you like."
)
_SEALED = (".exam-bundle", ".exa")


async def build(tab: Tab) -> Screen:
    """Build the ways in, how far each hand-over is, and what became of them."""
    place = _Place(tab)
    read = button("clinic-scan-read", "Read it", place.read, kind="main")
    return Screen(
        title="Receive",
        subtitle="Nothing is deleted on the device before it has a receipt.",
        back="/",
        body=[
            place.answers.control,
            place.progress.control,
            section("Codes on the device's screen", paragraph(_HOW), *place.eyes()),
            section(
                "Text or scanner",
                place.field.control,
                place.problem.control,
                side_by_side(read),
            ),
            *folder_part(tab, place.show),
            *place.earlier(),
        ],
        bottom=[
            button(
                "clinic-review",
                "Review what arrived",
                way(tab, "/clinic/review"),
                icon=ft.Icons.FACT_CHECK_OUTLINED,
                kind="main",
            )
        ],
        on_leave=place.camera.stop,
    )


class _Place(CodeIn):
    """The slots of this screen, and what fills them; codes are parts of hand-overs."""

    opens_several = True

    def __init__(self, tab: Tab) -> None:
        super().__init__(
            tab,
            "clinic-scan",
            "Codes as text",
            self._sealed,
            hint="Paste here, or let a scanner that types fill it in.",
            problem="clinic-scan-problem",
        )
        self.read_here = session_of(tab.vault)
        self.before = tuple(self.read_here.answered)
        self.progress = Slot(self._draw_progress)
        self.answers = Slot(self._draw_answers)

    def eyes(self) -> list[ft.Control]:
        """Draw the camera and the picking of pictures, or what is missing."""
        opening = button(
            "clinic-pictures",
            "Open photos, films or files",
            self.pick,
            icon=ft.Icons.PHOTO_LIBRARY_OUTLINED,
        )
        drawn = [*self.camera_parts(), side_by_side(opening)]
        missing = [quiet(line) for line in clinic_pictures.what_is_missing()]
        if missing:
            box = ft.Column(list(missing), tight=True)
            drawn.append(identified("clinic-missing-part", box))
        return drawn

    def earlier(self) -> list[ft.Control]:
        """Draw what was answered before this screen was opened."""
        if not self.before:
            return []
        known = self.read_here.answered
        boxes = [answered_line(self.tab, known[key]) for key in reversed(self.before)]
        return [section("Answered before", *boxes)]

    async def take_codes(self, codes: tuple[str, ...]) -> bool:
        """Take the codes of one picture; the camera goes on until it is stopped."""
        if self.read_here.reception.take_codes(codes):
            self.progress.refresh()
        for answered in await self.import_complete():
            self.tab.tell(arrived_words(answered))
        return False

    async def read(self) -> None:
        """Take what stands in the field."""
        said = problem_with(self.read_here.reception.take_typed(self.field.typed))
        self.say(said)
        if not said:
            self.field.clear()
        self.progress.refresh()
        await self.import_complete()
        await self.field.entry.focus()  # type: ignore[no-untyped-call]

    async def pick(self) -> None:
        """Take photos, films and sealed files that a person chooses."""
        self.say("")
        await super().pick()
        await self.import_complete()

    async def take_file(self, name: str, content: bytes) -> None:
        """Take one file for what it is; a refusal is said and the next one tried."""
        try:
            if name.lower().endswith(_SEALED):
                await self._sealed(content)
            elif is_film(name):
                frames = codes_in_film(content, name)
                while (
                    codes := await asyncio.to_thread(next, frames, None)
                ) is not None:
                    if self.read_here.reception.take_codes(codes):
                        self.progress.refresh()
            else:
                codes = await read_codes(content)
                self.read_here.reception.take_codes(codes)
                if not codes:
                    self.say(
                        f"No code was found in {name}. Take it closer and sharper."
                    )
        except ExamError as error:
            self.say(f"{name}: {error.advice}")
        self.progress.refresh()

    async def _sealed(self, content: bytes) -> bool:
        self.read_here.waiting.append(content)
        return bool(await self.import_complete())

    async def import_complete(self) -> tuple[Answered, ...]:
        """Import what is complete, if anything is."""
        self.read_here.waiting.extend(self.read_here.reception.finished())
        if not self.read_here.waiting:
            return ()
        vault, is_demo = self.tab.vault, self.tab.session.is_demo
        answered = await self.tab.save(
            lambda: import_waiting(vault, now(), is_demo=is_demo)
        )
        self.show(answered)
        return answered

    def show(self, answered: tuple[Answered, ...]) -> None:
        """Draw what became of hand-overs."""
        if answered:
            self.answers.refresh()
            self.progress.refresh()

    def _draw_progress(self) -> ft.Control:
        reception = self.read_here.reception
        if not reception.read:
            return ft.Container()
        rows: list[ft.Control] = [quiet(reception.words())]
        for one in reception.progress():
            bar = ft.ProgressBar(
                value=one.share, bar_height=14, semantics_label=one.words
            )
            rows.append(paragraph(f"Hand-over {one.mark}: {one.words}"))
            rows.append(bar)
        box = section("Read so far", *rows)
        return identified("clinic-progress", box, live=True)

    def _draw_answers(self) -> ft.Control:
        newest = reversed(self.read_here.answered.values())
        fresh = [one for one in newest if one.bundle_hash not in self.before]
        boxes = [answered_box(self.tab, one) for one in fresh]
        return stack(*boxes)
