"""Restore a backup at the first start, instead of setting up anew.

It becomes a new device, as with the command ``exam-app restore``. Whatever is wrong
with the file or with what is typed is said in place; nothing was changed then, and
everything chosen stands for the next try.
"""

import asyncio

import flet as ft

from exam_app.app.maintenance import first_start, restoration
from exam_app.app.maintenance.stored_exams import size_words
from exam_app.app.session import LockState
from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell import appearance
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.start.recovery_screen import recovery_screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.files import pick_files
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, section, side_by_side, stack, strong

_WAYS = (
    ("passphrase", to_translate("Passphrase")),
    ("code", to_translate("Recovery code")),
)
_BY_CODE = "code"
# The page shows that it works before Python is busy.
_TO_BE_SEEN_SECONDS = 0.2
_WHAT = to_translate(
    "A backup holds everything that was kept when it was made. The file is only read. "
    "This becomes a new device: pair it with the clinic again afterwards."
)
_WORKS = to_translate(
    "Opening the backup and reading all of it. This can take minutes …"
)


def build(tab: Tab) -> Screen:
    """Build the questions of a restoration."""
    form = _Restoration(tab)
    return Screen(
        title=tr("Restore from a backup"),
        back="/",
        body=[
            paragraph(tr(_WHAT)),
            section(tr("Backup file"), form.pick, form.file.control),
            section(
                tr("What opens it"),
                paragraph(tr("As it was on the day the backup was made.")),
                form.way.control,
                form.secret.control,
                form.anew.control,
            ),
        ],
        bottom=[
            stack(
                form.said.control,
                side_by_side(
                    button("restore-go", tr("Restore"), form.restore, kind="main")
                ),
            )
        ],
        has_examiner=False,
    )


class _Restoration:
    """What is chosen and typed, and what became of it."""

    def __init__(self, tab: Tab) -> None:
        self.tab = tab
        self.name, self.content = "", b""
        self.problem, self.is_busy = "", False
        self.pick = side_by_side(
            button(
                "restore-pick", tr("Choose the file"), self.choose, icon=ft.Icons.FOLDER
            )
        )
        self.way = ChoiceRow(
            "restore-way",
            [(way, tr(label)) for way, label in _WAYS],
            self.switch,
            chosen="passphrase",
            size="usual",
        )
        self.secret = text_field("restore-secret", tr("Passphrase"), secret=True)
        self.new = text_field(
            "restore-new", tr("New passphrase for this device"), secret=True
        )
        self.again = text_field(
            "restore-again", tr("The same passphrase again"), secret=True
        )
        self.file = Slot(self._draw_file, hides_empty=True)
        self.anew = Slot(self._draw_new, hides_empty=True)
        self.said = Slot(self._draw_said, hides_empty=True)

    async def choose(self) -> None:
        """Let a file be picked, and look at once whether it is a backup."""
        for name, content in await pick_files(self.tab):
            self.name, self.content, self.problem = "", b"", ""
            try:
                restoration.look_at_backup(content)
            except ExamError as error:
                self.problem = tr(error.advice)
            else:
                self.name, self.content = name, content
        self.file.refresh()
        self.said.refresh()

    async def switch(self, way: str) -> None:
        """Ask for the passphrase or for the recovery code."""
        self.secret.asks_for(tr(dict(_WAYS)[way]), secret=way != _BY_CODE)
        self._say("")
        self.anew.refresh()

    async def restore(self) -> None:
        """Restore, show the new recovery code, then what the old place holds."""
        tab, answers = self.tab, self._answers()
        if self.is_busy or tab.session.state is not LockState.EMPTY:
            return
        if problem := restoration.restore_problem(answers):
            self._say(problem)
            return
        self.is_busy = True
        self._say("")
        await asyncio.sleep(_TO_BE_SEEN_SECONDS)
        try:
            code = await restoration.restore(tab.session, answers)
        except ExamError as error:
            self.problem = tr(error.advice)
            return
        finally:
            self.is_busy = False
            self.said.refresh()
        await self._go_on(code)

    async def _go_on(self, code: str) -> None:
        tab = self.tab
        vault, here = tab.vault, first_start.own_address(tab.session.opener)
        tab.session.take(tab.key, tab, tab.lose_session)
        appearance.apply(tab.page, tab.session)
        former = vault.settings.get(first_start.RESTORED_FROM, "")

        async def moved() -> None:
            words = first_start.moved_words(former, here)
            await tab.show(_moved_screen(tab, words))

        await tab.show(recovery_screen(tab, code, moved))

    def _answers(self) -> restoration.Restore:
        is_by_code = self.way.chosen == _BY_CODE
        typed = self.secret.value if is_by_code else self.secret.typed
        new, again = self.new.typed, self.again.typed
        return restoration.Restore(self.content, is_by_code, typed, new, again)

    def _say(self, problem: str) -> None:
        self.problem = problem
        self.said.refresh()

    def _draw_file(self) -> ft.Control:
        if not self.name:
            return ft.Container()
        words = tr(
            "{name} ({size}): a whole backup.",
            name=self.name,
            size=size_words(len(self.content)),
        )
        return identified("restore-file", strong(words))

    def _draw_new(self) -> ft.Control:
        if self.way.chosen != _BY_CODE:
            return ft.Container()
        return stack(self.new.control, self.again.control)

    def _draw_said(self) -> ft.Control:
        if self.is_busy:
            bar = ft.ProgressBar(bar_height=14, semantics_label=tr(_WORKS))
            return identified("restore-work", stack(paragraph(tr(_WORKS)), bar))
        if not self.problem:
            return ft.Container()
        return banner("restore-said", self.problem, Tone.NOTICE)


def _moved_screen(tab: Tab, words: str) -> Screen:
    read = button(
        "restore-understood", tr("I have read this"), tab.show_route, kind="main"
    )
    return Screen(
        title=tr("Restored"),
        body=[
            paragraph(tr("The exams of the backup are here.")),
            section(tr("The old copy"), banner("restore-moved", words, Tone.NOTICE)),
        ],
        bottom=[read],
        has_examiner=False,
    )
