"""The receipt of one hand-over: eight characters, or what the clinic signed."""

import flet as ft

from exam_app.app.handover import outbox
from exam_app.app.handover.arrivals import take
from exam_app.app.handover.outbox import outbox_of
from exam_app.app.view import hand_over_presenter as words
from exam_app.exchange.exchange import delete_exams
from exam_app.exchange.outbox import enter_code
from exam_app.exchange.outgoing import BundleGoneError, Outgoing
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.ui.shell.own_sheet import OwnSheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.code_in import CodeIn
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.texts import quiet, section, side_by_side, stack, strong
from sync.errors import (
    MistypedReceiptCodeError,
    NotAReceiptError,
    WrongReceiptCodeError,
)

_SIGNED = to_translate(
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
            return _Entry(tab, bundle).screen()
    raise BundleGoneError


class _Entry(CodeIn):
    """Where a receipt is typed, pasted or opened."""

    nothing = NotAReceiptError.advice

    def __init__(self, tab: Tab, bundle: Outgoing) -> None:
        super().__init__(
            tab,
            "receipt",
            tr("Text of a signed receipt"),
            self._taken,
            lines=2,
            calm=tr("Now: {state}.", state=tr(words.STATE_WORDS[bundle.state])),
        )
        self.bundle = bundle
        self._code = text_field(
            "receipt-typed",
            tr("Receipt code from the clinic's screen"),
            hint=tr(outbox.HINT),
            on_submit=self._confirm,
        )

    def screen(self) -> Screen:
        """Build the screen."""
        bundle = self.bundle
        return Screen(
            title=words.bundle_title(bundle.sequence, len(bundle.exam_ids)),
            subtitle=words.names_of(outbox.rows_of(self.tab.vault, bundle)),
            back="/hand-over",
            on_leave=self.camera.stop,
            body=[self.problem.control, self._draw()],
        )

    def _draw(self) -> ft.Control:
        parts: list[ft.Control] = []
        if self.bundle.state in (words.WAITING, words.SHOWN):
            label = tr("This is the code")
            confirm = button("receipt-confirm", label, self._confirm, kind="main")
            parts.append(section(tr("Code"), self._code.control, side_by_side(confirm)))
        if self.bundle.state != words.RECEIVED:
            read = button("receipt-read", tr("Read this text"), self.read)
            label, icon = tr("Open a file or photo"), ft.Icons.FOLDER_OPEN
            opening = button("receipt-file", label, self.pick, icon=icon)
            ways = (*self.camera_parts(), self.field.control)
            below = side_by_side(read, opening)
            parts.append(
                section(tr("Signed receipt"), quiet(tr(_SIGNED)), *ways, below)
            )
        return stack(*parts, *self._draw_outcome())

    async def _confirm(self) -> None:
        tab, bundle_hash = self.tab, self.bundle.bundle_hash
        typed, store = self._code.value, outbox_of(tab.session)
        try:
            await tab.save(lambda: enter_code(store, bundle_hash, typed))
        except MistypedReceiptCodeError:
            self.say(tr(outbox.MISTYPED))
            return
        except WrongReceiptCodeError as wrong:
            self.say(outbox.wrong_code_words(wrong.tries_left))
            return
        await self._done(tr("Received: the clinic has the whole hand-over."))

    async def _taken(self, content: bytes) -> bool:
        tab = self.tab
        arrived = await tab.session.write(lambda: take(tab.vault, content))
        if arrived.is_taken:
            await self._done(arrived.words)
        else:
            self.say(arrived.words)
        return arrived.is_taken

    async def _done(self, sentence: str) -> None:
        await self.tab.show_route()
        self.tab.tell(sentence)

    def _draw_outcome(self) -> list[ft.Control]:
        if not self.bundle.outcomes:
            return []
        held = outbox.rows_of(self.tab.vault, self.bundle)
        rows = {row.record_hash: row for row in held}
        lines = outbox.outcome_lines(self.bundle.outcomes.items(), rows)
        shown = (stack(strong(x.name), quiet(x.words), spacing=2) for x in lines)
        part = section(outbox.outcome_summary(lines), *shown)
        return [identified("receipt-outcome", part), *self._draw_deletion()]

    def _draw_deletion(self) -> list[ft.Control]:
        exam_ids = outbox.deletable(self.tab.vault, self.bundle)
        if not exam_ids:
            return []

        tab, count = self.tab, len(exam_ids)
        sheet = OwnSheet(tab)

        def ask() -> None:
            sheet.open(
                tr("Delete from this device?"),
                strong(outbox.delete_question(count)),
                button(
                    "receipt-delete-yes", tr("Delete them here"), delete, kind="main"
                ),
            )

        async def delete() -> None:
            await tab.save(lambda: delete_exams(tab.vault, exam_ids))
            # What is deleted may stand on the screen that was gone to meanwhile.
            if tab.sheet is None or not sheet.is_left:
                await tab.show_route()
            tab.tell(
                tr_plural(
                    "{count} exam deleted here.", "{count} exams deleted here.", count
                )
            )

        icon = ft.Icons.DELETE_OUTLINE
        label = tr_plural(
            "Delete {count} exam from this device",
            "Delete {count} exams from this device",
            count,
        )
        return [button("receipt-delete", label, ask, icon=icon)]
