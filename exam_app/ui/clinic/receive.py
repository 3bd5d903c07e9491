"""Receive hand-overs: by camera, photos and films, text, files, or a folder."""

import asyncio
from collections.abc import Callable

import flet as ft

from exam_app.app.clinic import pictures as clinic_pictures
from exam_app.app.clinic.imports import (
    Answered,
    import_waiting,
    look_into_folder,
    receiving_of,
)
from exam_app.app.clinic.pictures import codes_in_film, is_film, read_codes
from exam_app.app.clinic.shared_folder import FOLDER, folder_of
from exam_app.app.exam_sessions import now
from exam_app.app.session import LockState
from exam_app.app.view.clinic_arrival_presenter import brought_words, look_words
from exam_app.domain.errors import ExamError
from exam_app.exchange.photographs import PhotographArrival
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.clinic.receipt import answered_box, answered_line, arrived_words
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.code_in import CodeIn
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.files import reaches_folders
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot, is_on_page
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side, stack
from sync.photographs import is_photograph
from sync.transport.folder_reading import DEEPEST, Look, Waiting, WaitingReason

Show = Callable[[tuple[Answered, ...]], None]
WATCH = "clinic_folder_watch"
EVERY_SECONDS = 5.0
_CHOICES = (
    ("no", to_translate("Only when asked")),
    ("yes", to_translate("Watch it while this screen is open")),
)
_WHAT = to_translate(
    "A stick, a shared folder, or one that a syncing tool keeps alike. Receipts and "
    "day packs are put there too, for each device in a place of its own."
)
_HOW = to_translate(
    "On the device, open “Hand over” and show the codes, or bring a stick, or paste. "
    "Codes may come in any order; stop and go on whenever you like."
)
_NOTHING_YET = to_translate("Nothing was received since this page was opened.")
# The words of each reason, which has them in English as its value.
_WAITING = {
    WaitingReason.INCOMPLETE: to_translate("empty so far"),
    WaitingReason.NOT_OPENED: to_translate("could not be opened so far"),
    WaitingReason.TOO_LARGE: to_translate("too large"),
    WaitingReason.UNREADABLE: to_translate("cannot be read"),
    WaitingReason.OTHER_NAME: to_translate("its name has no ending of a hand-over"),
    WaitingReason.NO_FILE: to_translate(
        "no plain file: a link, a pipe or a device is never opened"
    ),
    WaitingReason.TOO_DEEP: to_translate(
        "a folder more than {count} levels down is not looked into"
    ),
    WaitingReason.CLOSED: to_translate("this folder cannot be looked into"),
}
_SEALED = (".exam-bundle", ".exa")


async def build(tab: Tab) -> Screen:
    """Build the ways in, how far each hand-over is, and what became of them."""
    place = _Place(tab)
    review, icon = tab.way("/clinic/review"), ft.Icons.FACT_CHECK_OUTLINED
    label = tr("Review what arrived")
    read = button("clinic-scan-read", tr("Read it"), place.read, kind="main")
    return Screen(
        title=tr("Receive"),
        subtitle=tr("Nothing is deleted on the device before it has a receipt."),
        back="/",
        pinned=[place.newest.control],
        body=[
            place.answers.control,
            place.progress.control,
            section(
                tr("Codes on the device's screen"), paragraph(tr(_HOW)), *place.eyes()
            ),
            section(
                tr("Text or scanner"),
                place.field.control,
                place.problem.control,
                side_by_side(read),
            ),
            # A phone's browser has no folder that lasts.
            *(_Folder(tab, place.show).draw() if reaches_folders(tab) else []),
            *place.earlier(),
        ],
        bottom=[
            button("clinic-review", label, review, icon=icon, kind="main"),
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
            tr("Codes as text"),
            self._sealed,
            hint=tr("Paste here, or let a scanner that types fill it in."),
            problem="clinic-scan-problem",
        )
        self.read_here = receiving_of(tab.vault)
        self.before = tuple(self.read_here.answered)
        self.photographs: dict[str, PhotographArrival] = {}
        self.progress = Slot(self._draw_progress)
        self.answers = Slot(self._draw_answers)
        self.newest = Slot(self._draw_newest)

    def eyes(self) -> list[ft.Control]:
        """Draw the camera and the picking of pictures, or what is missing."""
        label, icon = tr("Open photos, films or files"), ft.Icons.PHOTO_LIBRARY_OUTLINED
        opening = button("clinic-pictures", label, self.pick, icon=icon)
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
        return [section(tr("Answered before"), *boxes)]

    async def take_codes(self, codes: tuple[str, ...]) -> bool:
        """Take the codes of one picture; the camera goes on until it is stopped."""
        if self.read_here.reception.take_codes(codes):
            self.progress.refresh()
        for answered in await self.import_complete():
            self.tab.tell(arrived_words(answered))
        return False

    async def read(self) -> None:
        """Take what stands in the field."""
        said = self.read_here.reception.take_typed(self.field.typed)
        self.say(said)
        if not said:
            self.field.clear()
        self.progress.refresh()
        await self.import_complete()
        await self.field.focus()

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
                        tr(
                            "No code was found in {name}. Take it closer and sharper.",
                            name=name,
                        )
                    )
        except ExamError as error:
            self.say(f"{name}: {tr(error.advice)}")
        self.progress.refresh()

    async def _sealed(self, content: bytes) -> bool:
        self.read_here.waiting.append(content)
        return bool(await self.import_complete())

    async def import_complete(self) -> tuple[Answered, ...]:
        """Import what is complete, if anything is."""
        self.read_here.waiting.extend(self.read_here.reception.finished())
        if not self.read_here.waiting:
            return ()
        vault = self.tab.vault
        answered = await self.tab.save(lambda: import_waiting(vault, now()))
        self.show(answered)
        return answered

    def show(self, answered: tuple[Answered, ...]) -> None:
        """Draw what became of hand-overs."""
        for one in answered:
            if one.photograph is not None:
                # The first time says whether it was new.
                self.photographs.setdefault(one.photograph.sha256, one.photograph)
        if answered:
            self.newest.refresh()
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
            rows.append(
                paragraph(
                    tr("Hand-over {mark}: {words}", mark=one.mark, words=one.words)
                )
            )
            rows.append(bar)
        box = section(tr("Read so far"), *rows)
        return identified("clinic-progress", box, live=True)

    def _draw_newest(self) -> ft.Control:
        """Say what came last where it is seen, however far the page is scrolled."""
        fresh = [key for key in self.read_here.answered if key not in self.before]
        if not fresh:
            came = self.photographs.values()
            known = sum(one.was_known for one in came)
            said = brought_words(len(came) - known, known) if came else tr(_NOTHING_YET)
            return banner("clinic-received", said)
        newest = self.read_here.answered[fresh[-1]]
        tone = Tone.PLAIN if newest.received else Tone.NOTICE
        return banner("clinic-received", arrived_words(newest), tone)

    def _draw_answers(self) -> ft.Control:
        newest = reversed(self.read_here.answered.values())
        fresh = [one for one in newest if one.bundle_hash not in self.before]
        boxes = [answered_box(self.tab, one) for one in fresh]
        return stack(*boxes)


class _Folder:
    """The folder as this screen uses it."""

    def __init__(self, tab: Tab, show: Show) -> None:
        self.tab, self.show = tab, show
        self.problem = ""
        self.is_watching = False
        self.path = text_field(
            "clinic-folder",
            tr("Folder on this computer"),
            value=folder_of(tab.vault),
            hint=tr("Its whole path, as your file window shows it."),
        )
        is_watched = bool(tab.vault.settings.get(WATCH, default=False))
        self.watch = ChoiceRow(
            "clinic-folder-watch",
            [(key, tr(label)) for key, label in _CHOICES],
            self.choose_watch,
            chosen="yes" if is_watched else "no",
            size="usual",
        )
        self.told = Slot(self._draw)
        if is_watched and folder_of(tab.vault):
            tab.start(self._go_on_watching())

    def draw(self) -> list[ft.Control]:
        """Draw the folder's path, the look into it, and what waits there."""
        look = button("clinic-folder-look", tr("Look into it"), self.look)
        parts = (self.path.control, side_by_side(look), self.watch.control)
        title = tr("Folder or stick")
        return [section(title, paragraph(tr(_WHAT)), *parts, self.told.control)]

    async def look(self) -> None:
        """Keep the path and look into the folder once."""
        vault, path = self.tab.vault, self.path.value
        if not path:
            self.path.show_problem(tr("Write the folder's path."))
            return
        self.path.show_problem(None)
        if path != folder_of(vault):
            await self.tab.save(lambda: vault.settings.put(FOLDER, path))
        await self._look()

    async def choose_watch(self, key: str) -> None:
        """Keep whether the folder is watched, and begin."""
        vault = self.tab.vault
        await self.tab.save(lambda: vault.settings.put(WATCH, key == "yes"))
        if key == "yes" and folder_of(vault):
            self.tab.start(self._go_on_watching())

    async def _go_on_watching(self) -> None:
        if self.is_watching:
            return
        self.is_watching = True
        await asyncio.sleep(EVERY_SECONDS)
        while is_on_page(self.told.control) and self.watch.chosen == "yes":
            # A folder that went away is said, and asked again later.
            if self.tab.session.state is LockState.OPEN:
                await self._look()
            await asyncio.sleep(EVERY_SECONDS)
        self.is_watching = False

    async def _look(self) -> None:
        vault = self.tab.vault
        self.problem = ""
        try:
            answered = await self.tab.session.write(
                lambda: look_into_folder(vault, now())
            )
        except ExamError as error:
            self.problem, answered = tr(error.advice), ()
        self.show(answered)
        self.told.refresh()

    def _draw(self) -> ft.Control:
        if self.problem:
            name = for_choice("clinic-folder", "problem")
            return banner(name, self.problem, Tone.NOTICE)
        look = receiving_of(self.tab.vault).look
        if look is None:
            return ft.Container()
        came = receiving_of(self.tab.vault).photograph_words(self.tab.vault)
        since = [tr("Since the exams were opened: {came}", came=came)] if came else []
        lines = (*_look_lines(look), *since)
        box = ft.Column([paragraph(line) for line in lines], tight=True)
        return identified(for_choice("clinic-folder", "told"), box)


def _look_lines(look: Look) -> tuple[str, ...]:
    """Say what a look into the folder found."""
    photographs = sum(is_photograph(one.content) for one in look.ready)
    found = look_words(len(look.ready), photographs)
    waiting = [_waiting_words(one) for one in look.waiting]
    more = [] if look.is_all else [tr("There is more; look again.")]
    return (
        tr("Looked at {clock}. {found}", clock=now().clock(), found=found),
        *waiting,
        *more,
    )


def _waiting_words(one: Waiting) -> str:
    reason = tr(_WAITING[one.reason], count=DEEPEST)
    if not one.is_overdue:
        return f"{one.name}: {reason}"
    return tr(
        "{file}: {reason}. It has been so for a while: look at it.",
        file=one.name,
        reason=reason,
    )
