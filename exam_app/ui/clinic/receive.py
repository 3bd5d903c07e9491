"""Receive hand-overs: by camera, photos and films, text, files, or a folder."""

import asyncio

import flet as ft

from exam_app.app.clinic import pictures as clinic_pictures
from exam_app.app.clinic.imports import Answered, Session, import_waiting, session_of
from exam_app.app.clinic.pictures import codes_in_film, is_film, read_codes
from exam_app.app.clinic.reception import problem_with
from exam_app.app.exam_sessions import now
from exam_app.domain.errors import ExamError
from exam_app.ui.clinic.camera import CodeCamera
from exam_app.ui.clinic.folder import folder_part
from exam_app.ui.clinic.receipt import answered_box, answered_line, arrived_words
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets import files as clinic_files
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side
from exam_app.ui.widgets.ways import way

_HOW = (
    "On the device, open “Hand over” and show the codes, or bring a stick, or paste. "
    "Codes may come in any order; stop and go on whenever you like."
)
_SEALED = (".exam-bundle", ".exa")


async def build(tab: Tab) -> Screen:
    """Build the ways in, how far each hand-over is, and what became of them."""
    place = _Place(tab)
    return Screen(
        title="Receive",
        subtitle="Nothing is deleted on the device before it has a receipt.",
        back="/",
        body=[
            place.answers.control,
            place.progress.control,
            section("Codes on the device's screen", paragraph(_HOW), *place.eyes()),
            section("Text or scanner", *place.typing()),
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
        on_leave=place.eye.stop,
    )


class _Place:
    """The slots of this screen, and what fills them."""

    def __init__(self, tab: Tab) -> None:
        self.tab = tab
        self.problem: list[str] = []
        self.before = tuple(self.session.answered)
        self.eye = CodeCamera(tab, self.seen)
        self.progress = Slot(self._draw_progress)
        self.answers = Slot(self._draw_answers)
        self.wrong = Slot(self._draw_problem)
        self.typed = text_field(
            "clinic-scan-text",
            "Codes as text",
            hint="Paste here, or let a scanner that types fill it in.",
            # A field of one line would run pasted codes together.
            lines=3,
            on_change=self.look_for_end,
        )

    @property
    def session(self) -> Session:
        return session_of(self.tab.vault)

    def eyes(self) -> list[ft.Control]:
        """Draw the camera and the picking of pictures, or what is missing."""
        drawn: list[ft.Control] = []
        if clinic_pictures.can_use_camera():
            drawn.append(self.eye.slot.control)
        drawn.append(
            side_by_side(
                button(
                    "clinic-pictures",
                    "Open photos, films or files",
                    self.pick,
                    icon=ft.Icons.PHOTO_LIBRARY_OUTLINED,
                )
            )
        )
        missing = [quiet(line) for line in clinic_pictures.what_is_missing()]
        if missing:
            box = ft.Column(list(missing), tight=True)
            drawn.append(identified("clinic-missing-part", box))
        return drawn

    def typing(self) -> list[ft.Control]:
        """Draw the field for pasted and scanned text."""
        read = button("clinic-scan-read", "Read it", self.read_typed, kind="main")
        return [self.typed.control, self.wrong.control, side_by_side(read)]

    def earlier(self) -> list[ft.Control]:
        """Draw what was answered before this screen was opened."""
        if not self.before:
            return []
        known = self.session.answered
        boxes = [answered_line(self.tab, known[key]) for key in reversed(self.before)]
        return [section("Answered before", *boxes)]

    async def seen(self, codes: tuple[str, ...]) -> bool:
        """Take the codes of one picture; the camera goes on until it is stopped."""
        if self.session.reception.take_codes(codes):
            self.progress.refresh()
        for answered in await self.import_complete():
            self.tab.tell(arrived_words(answered))
        return False

    async def look_for_end(self) -> None:
        """Read by itself what a scanner ended with Enter."""
        if self.typed.typed.endswith("\n"):
            await self.read_typed()

    async def read_typed(self) -> None:
        """Take what stands in the field."""
        said = problem_with(self.session.reception.take_typed(self.typed.typed))
        self.say(said)
        if not said:
            self.typed.clear()
        self.progress.refresh()
        await self.import_complete()
        await self.typed.entry.focus()  # type: ignore[no-untyped-call]

    async def pick(self) -> None:
        """Take photos, films and sealed files that a person chooses."""
        self.say("")
        for name, content in await clinic_files.pick_files(self.tab, several=True):
            await self.take_file(name, content)
        await self.import_complete()

    async def take_file(self, name: str, content: bytes) -> None:
        """Take one file for what it is; a refusal is said and the next one tried."""
        try:
            if name.lower().endswith(_SEALED):
                self.session.waiting.append(content)
                await self.import_complete()
            elif is_film(name):
                await self._take_film(name, content)
            else:
                await self._take_picture(name, content)
        except ExamError as error:
            self.say(f"{name}: {error.advice}")
        self.progress.refresh()

    async def _take_picture(self, name: str, content: bytes) -> None:
        codes = await read_codes(content)
        self.session.reception.take_codes(codes)
        if not codes:
            self.say(f"No code was found in {name}. Take it closer and sharper.")

    async def _take_film(self, name: str, content: bytes) -> None:
        frames = codes_in_film(content, name)
        while (codes := await asyncio.to_thread(next, frames, None)) is not None:
            if codes and self.session.reception.take_codes(codes):
                self.progress.refresh()

    async def import_complete(self) -> tuple[Answered, ...]:
        """Import what is complete, if anything is."""
        self.session.waiting.extend(self.session.reception.finished())
        if not self.session.waiting:
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

    def say(self, sentence: str) -> None:
        """Write a problem under the field, or take it away."""
        self.problem[:] = [sentence] if sentence else []
        self.wrong.refresh()

    def _draw_problem(self) -> ft.Control:
        if not self.problem:
            return ft.Container()
        name = "clinic-scan-problem"
        return banner(name, self.problem[0], Tone.NOTICE)

    def _draw_progress(self) -> ft.Control:
        reception = self.session.reception
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
        newest = reversed(self.session.answered.values())
        fresh = [one for one in newest if one.bundle_hash not in self.before]
        boxes = [answered_box(self.tab, one) for one in fresh]
        return ft.Column(
            list(boxes),
            tight=True,
            horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
        )
