"""Look after the exams: check everything, back up, make room, change the data key."""

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path

import flet as ft

from exam_app.app.exam_sessions import now
from exam_app.app.maintenance import stored_exams
from exam_app.app.maintenance.phone_words import room_facts, room_of
from exam_app.app.maintenance.store_steps import Step, Work
from exam_app.app.photographs import photograph_space, space_words
from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.engine.rewrite import Progress
from exam_app.store.errors import WrongPassphraseError
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.start.recovery_screen import recovery_screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.files import offer_file, reaches_folders
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot, send
from exam_app.ui.widgets.texts import paragraph, section, side_by_side, stack, strong

_LOOK_SECONDS = 0.25
_CHECK = to_translate(
    "Reads everything that was ever kept here and checks that all of it is whole and "
    "unchanged. It changes nothing. Nothing can be saved until it has ended."
)
_BACK_UP = to_translate(
    "Writes all exams into one sealed file and reads it back. Restore it at the first "
    "start of an app that holds no exams yet, or with the command exam-app restore."
)
_MAKE_ROOM = to_translate(
    "Writes the files anew, without what was replaced or removed. It needs as much "
    "free room as the exams take. The app does this by itself when it is due."
)
_STEPS = {
    "upkeep-check": (to_translate("Check"), stored_exams.check),
    "upkeep-room": (to_translate("Make room"), stored_exams.make_room),
}
_KEY = to_translate(
    "Seals everything under a new key. Do this when somebody may have a copy of the "
    "files and know the passphrase or the recovery code, or when a disk with a copy "
    "was lost; then change the passphrase too. You get a new recovery code, shown "
    "once. Copies and backups made before still open with the old ones."
)

_WRONG = to_translate(
    "That is not the passphrase. Nothing was changed. Check capital letters and the "
    "keyboard's language; the recovery code does not do here."
)


async def build(tab: Tab) -> Screen:
    """Build the screen."""
    upkeep = _Upkeep(tab)
    await upkeep.read_facts()
    return Screen(
        title=tr("The stored exams"),
        back="/settings",
        # Beside whichever button was tapped.
        pinned=[upkeep.work.control],
        body=[
            *(
                banner(for_choice("upkeep-report", str(number)), report, Tone.NOTICE)
                for number, report in enumerate(stored_exams.reports(tab.vault))
            ),
            upkeep.facts.control,
            upkeep.draw_step(
                "upkeep-check",
                _CHECK,
                tr("Check everything now"),
                tr("Checking everything"),
            ),
            upkeep.draw_backup(),
            upkeep.draw_step(
                "upkeep-room", _MAKE_ROOM, tr("Make room"), tr("Making room")
            ),
            upkeep.draw_key(),
        ],
        on_shown=upkeep.watch_if_busy,
    )


class _Upkeep:
    """The state of the screen."""

    def __init__(self, tab: Tab) -> None:
        self.tab = tab
        self.lines: stored_exams.Facts = ()
        self.work = Slot(self._draw_work, hides_empty=True)
        self.facts = Slot(self._draw_facts)
        self.buttons: list[ft.OutlinedButton] = []
        kept = stored_exams.last_backup(tab.vault)
        before = Path(kept.where if kept else "")
        self.place = text_field(
            "upkeep-place",
            tr("Folder for the backup"),
            value=str(before.parent) if before.is_absolute() else "",
            hint=tr(
                "On another disk or stick, from its beginning, as the system shows "
                "it. The file gets the date and time as its name."
            ),
        )
        self.secret = text_field("upkeep-passphrase", tr("Passphrase"), secret=True)

    async def read_facts(self) -> None:
        tab = self.tab
        if not tab.session.steps.is_busy:
            kept = await tab.session.read(lambda: stored_exams.facts(tab.vault))
            room = room_facts(await room_of(tab.session.opener))
            pictures = space_words(await photograph_space(tab.session))
            self.lines = (*kept, (tr("Photographs"), pictures), *room)
            self.facts.refresh()

    def draw_step(
        self, identifier: str, words: str, label: str, doing: str
    ) -> ft.Control:
        """Draw what one button does with nothing to be said before."""
        title, step = _STEPS[identifier]

        async def act() -> None:
            vault = self.tab.vault
            await self._carry_out(doing, lambda told: step(vault, told))

        action = self._button(identifier, label, act)
        return section(tr(title), paragraph(tr(words)), action)

    def draw_backup(self) -> ft.Control:
        tab = self.tab
        way = tr("Back up into the browser's downloads")
        download = self._button("upkeep-download", way, self._download)
        written = self._button(
            "upkeep-backup", tr("Back up into this folder"), self._write
        )
        into = [self.place.control, written] if reaches_folders(tab) else []
        return section(tr("Back up"), paragraph(tr(_BACK_UP)), *into, download)

    def draw_key(self) -> ft.Control:
        action = self._button("upkeep-key", tr("Change the data key"), self._change_key)
        field = self.secret.control
        return section(tr("Change the data key"), paragraph(tr(_KEY)), field, action)

    async def _write(self) -> None:
        tab = self.tab
        vault, at = tab.vault, now()
        try:
            path = stored_exams.backup_path(
                self.place.value, at.local(), tab.session.folder
            )
        except ExamError as error:
            self.place.show_problem(tr(error.advice))
            return
        self.place.show_problem(None)

        def step(told: Progress) -> str:
            return stored_exams.back_up_to(vault, path, at, told)

        await self._carry_out(tr("Backing up"), step)

    async def _download(self) -> None:
        tab, made = self.tab, bytearray()
        vault, at = tab.vault, now()
        name = stored_exams.backup_name(at.local())

        def step(progress: Progress) -> str:
            made.extend(stored_exams.back_up_bytes(vault, at, progress))
            return stored_exams.offered_words(name, len(made))

        work = await self._carry_out(tr("Backing up"), step)
        if work is not None and work.is_good:
            await offer_file(tab, name, bytes(made))

    async def _change_key(self) -> None:
        tab, vault = self.tab, self.tab.vault
        self.tab.session.steps.refuse_second()
        try:
            new = await vault.new_data_key(self.secret.typed)
        except ExamError as error:
            is_wrong = isinstance(error, WrongPassphraseError)
            self.secret.show_problem(tr(_WRONG if is_wrong else error.advice))
            return
        self.secret.show_problem(None)
        self.secret.clear()

        def step(progress: Progress) -> str:
            # Whoever is stopped before writing the new code down is asked again.
            vault.settings.put("recovery_confirmed", value=False)
            vault.go_over(new, progress)
            return tr(stored_exams.KEY_CHANGED)

        work = await self._carry_out(tr("Changing the data key"), step)
        if work is not None and work.is_good:
            await tab.show(recovery_screen(tab, new.code, tab.show_route))

    async def _carry_out(self, title: str, step: Step) -> Work | None:
        """Start a step, show how it goes, and wait for its end."""
        steps = self.tab.session.steps
        steps.begin(title, step)
        work = steps.last
        await self._watch()
        return work

    def watch_if_busy(self) -> None:
        """Go on showing a step that was begun before the screen was left."""
        if self.tab.session.steps.is_busy:
            self.tab.start(self._watch())

    async def _watch(self) -> None:
        steps = self.tab.session.steps
        self._show_buttons()
        while steps.is_busy:
            self.work.refresh()
            await asyncio.sleep(_LOOK_SECONDS)
        self.work.refresh()
        self._show_buttons()
        await self.read_facts()

    def _show_buttons(self) -> None:
        is_busy = self.tab.session.steps.is_busy
        for action in self.buttons:
            action.disabled = is_busy
            send(action)

    def _button(
        self, name: str, label: str, on_click: Callable[[], Awaitable[None]]
    ) -> ft.Control:
        is_busy = self.tab.session.steps.is_busy
        action = button(name, label, on_click, disabled=is_busy)
        if isinstance(action.content, ft.OutlinedButton):
            self.buttons.append(action.content)
        return side_by_side(action)

    def _draw_work(self) -> ft.Control:
        work = self.tab.session.steps.last
        if work is None:
            return ft.Container()
        if not work.is_running:
            tone = Tone.PLAIN if work.is_good else Tone.NOTICE
            return banner("upkeep-said", f"{work.title}. {work.said}", tone)
        said = work.words
        bar = ft.ProgressBar(value=work.share, bar_height=14, semantics_label=said)
        shown = section(f"{work.title} …", paragraph(said), bar)
        return identified("upkeep-work", shown)

    def _draw_facts(self) -> ft.Control:
        rows = [stack(strong(a), paragraph(b), spacing=2) for a, b in self.lines]
        return identified("upkeep-facts", section(tr("What is kept here"), *rows))
