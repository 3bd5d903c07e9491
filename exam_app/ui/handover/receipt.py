"""The receipt of one hand-over: eight characters, or what the clinic signed."""

from dataclasses import dataclass, field

import flet as ft

from exam_app.app.clinic.pictures import can_use_camera
from exam_app.app.handover import outbox
from exam_app.app.handover import receipt as receipts
from exam_app.app.handover.arrivals import take
from exam_app.app.handover.outbox import OutgoingBundle, outbox_of
from exam_app.app.view import hand_over_presenter as words
from exam_app.domain.wording.count_words import count_words
from exam_app.exchange.exchange import delete_exams
from exam_app.exchange.outbox import enter_code
from exam_app.exchange.outgoing import BundleGoneError
from exam_app.ui.clinic.camera import CodeCamera
from exam_app.ui.handover.files import first_whole, picked_texts
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, section, side_by_side, stack, strong
from sync.errors import (
    MistypedReceiptCodeError,
    NotAReceiptError,
    WrongReceiptCodeError,
)

_SIGNED = (
    "The clinic can also give a signed receipt: as a code on its screen, as a file, "
    "as text, or in a computer's folder. It says what became of each exam, and only "
    "it permits deleting them here."
)


async def build(tab: Tab, number: str) -> Screen:
    """Build the receipt of the hand-over of this number.

    Raises:
        BundleGoneError: There is no such hand-over.
    """
    bundles = await tab.session.read(lambda: outbox.bundles(tab.vault))
    for bundle in bundles:
        if str(bundle.sequence) == number:
            return ReceiptEntry(tab, bundle).screen()
    raise BundleGoneError


@dataclass(slots=True, repr=False)
class ReceiptEntry:
    """Where a receipt is typed, pasted or opened."""

    tab: Tab
    bundle: OutgoingBundle
    _said: str = ""
    _code: Field = field(init=False)
    _text: Field = field(init=False)
    _eye: CodeCamera = field(init=False)
    _note: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Make the fields."""
        self._code = text_field(
            "receipt-typed",
            "Receipt code from the clinic's screen",
            hint=receipts.HINT,
            on_submit=self._confirm,
        )
        self._text = text_field("receipt-text", "Text of a signed receipt", lines=2)
        self._eye = CodeCamera(self.tab, self._read)
        # Apart from the camera, which a redrawing would start anew.
        self._note = Slot(self._draw_note)

    def screen(self) -> Screen:
        """Build the screen."""
        bundle = self.bundle
        return Screen(
            title=words.bundle_title(bundle.sequence, bundle.exam_count),
            subtitle=words.names_of(bundle.rows),
            back="/hand-over",
            on_leave=self._eye.stop,
            body=[self._note.control, self._draw()],
        )

    def _draw_note(self) -> ft.Control:
        tone = Tone.NOTICE if self._said else Tone.PLAIN
        said = self._said or f"Now: {words.STATE_WORDS[self.bundle.state]}."
        return banner("receipt-said", said, tone)

    def _draw(self) -> ft.Control:
        state = self.bundle.state
        parts: list[ft.Control] = []
        if state in (words.WAITING, words.SHOWN):
            parts.append(self._draw_code())
        if state != words.RECEIVED:
            parts.append(self._draw_signed())
        return stack(*parts, *self._draw_outcome())

    def _draw_code(self) -> ft.Control:
        return section(
            "Code",
            self._code.control,
            side_by_side(
                button(
                    "receipt-confirm", "This is the code", self._confirm, kind="main"
                )
            ),
        )

    def _draw_signed(self) -> ft.Control:
        return section(
            "Signed receipt",
            quiet(_SIGNED),
            *([self._eye.slot.control] if can_use_camera() else []),
            self._text.control,
            side_by_side(
                button("receipt-read", "Read this text", self._read_text),
                button(
                    "receipt-file",
                    "Open a file or photo",
                    self._read_file,
                    icon=ft.Icons.FOLDER_OPEN,
                ),
            ),
        )

    async def _confirm(self) -> None:
        tab, bundle_hash = self.tab, self.bundle.bundle_hash
        typed, store = self._code.value, outbox_of(tab.session)
        try:
            await tab.save(lambda: enter_code(store, bundle_hash, typed))
        except MistypedReceiptCodeError:
            self._say(receipts.MISTYPED)
            return
        except WrongReceiptCodeError as wrong:
            self._say(receipts.wrong_code_words(wrong.tries_left))
            return
        await self._done("Received: the clinic has the whole hand-over.")

    async def _read_text(self) -> None:
        await self._read((self._text.value,))

    async def _read_file(self) -> None:
        for texts, content in await picked_texts(self.tab, self._say):
            await (self._read(texts) if texts else self._take(content))

    async def _read(self, texts: tuple[str, ...]) -> bool:
        """Take the first text that is whole; True when a receipt was taken."""
        signed = first_whole(texts)
        if signed is None:
            self._say(NotAReceiptError.advice)
            return False
        return await self._take(signed)

    async def _take(self, content: bytes) -> bool:
        tab = self.tab
        arrived = await tab.session.write(
            lambda: take(tab.vault, content, is_demo=tab.session.is_demo)
        )
        if arrived.is_taken:
            await self._done(arrived.words)
        else:
            self._say(arrived.words)
        return arrived.is_taken

    async def _done(self, sentence: str) -> None:
        await self.tab.redraw()
        self.tab.tell(sentence)

    def _say(self, sentence: str) -> None:
        # A camera sees the same wrong code many times.
        if sentence != self._said:
            self._said = sentence
            self._note.refresh()

    def _draw_outcome(self) -> list[ft.Control]:
        if not self.bundle.outcomes:
            return []
        rows = {str(row.get("hash")): row for row in self.bundle.rows}
        lines = receipts.outcome_lines(self.bundle.outcomes, rows)
        shown = [
            stack(strong(line.name), quiet(line.words), spacing=2) for line in lines
        ]
        part = section(receipts.outcome_summary(lines), *shown)
        return [identified("receipt-outcome", part), *self._draw_deletion()]

    def _draw_deletion(self) -> list[ft.Control]:
        exam_ids = outbox.deletable(self.tab.vault, self.bundle)
        if not exam_ids:
            return []

        def ask() -> None:
            self.tab.open_sheet(
                "Delete from this device?",
                strong(receipts.delete_question(len(exam_ids))),
                button("receipt-delete-yes", "Delete them here", delete, kind="main"),
            )

        async def delete() -> None:
            tab = self.tab
            await tab.save(lambda: delete_exams(tab.vault, exam_ids))
            tab.close_sheet()
            await self._done(f"{count_words(len(exam_ids))} deleted here.")

        label = f"Delete {count_words(len(exam_ids))} from this device"
        name = "receipt-delete"
        return [button(name, label, ask, icon=ft.Icons.DELETE_OUTLINE)]
