"""Everything a region can be answered with besides one tap and a finding."""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from functools import partial

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import Change, Edit, ExamEditor
from exam_app.app.strikes import NOTHING_SEEN, Strikes
from exam_app.app.view.photograph_subjects import Subject
from exam_app.app.view.region_presenter import keys_of, label_of, open_keys, step_name
from exam_app.app.view.rest_presenter import SIDE_LABELS, rest_offers, with_side
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.late_entries import regions_seen_earlier
from exam_app.domain.exam.region_states import NOT_EXAMINED_REASONS, NOT_PRESENT_REASONS
from exam_app.domain.protocol.protocol import Region, split_key
from exam_app.domain.protocol.sex_limits import OTHER_SEX
from exam_app.language.catalogue import in_english, to_translate, tr
from exam_app.ui.exam.seen_earlier import open_seen_earlier
from exam_app.ui.photographs.kept_sheet import open_photographs, photograph_label
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import side_question
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.texts import across

Said = Callable[[str, str], Awaitable[bool]]
"""Records a reason, given as it is stored and as it is shown."""


def open_more(tab: Tab, editor: ExamEditor, region: Region) -> None:
    """Ask which side, where there are two, and then offer the answers."""
    keys = keys_of(editor.exam, editor.protocol, region)
    if len(keys) == 1:
        MoreSheet(tab, editor, region, keys).show()
        return

    def chosen(sides: tuple[str, ...]) -> None:
        MoreSheet(tab, editor, region, sides).show()

    title = tr("{part}: which side?", part=label_of(editor.exam, region))
    tab.open_sheet(title, *side_question("more-side", keys, chosen))


@dataclass(slots=True, repr=False)
class MoreSheet:
    """The answers offered for one part, or for both sides of one."""

    tab: Tab
    editor: ExamEditor
    region: Region
    keys: tuple[str, ...]

    def show(self) -> None:
        """Offer the answers; what does not fit the present state is left out."""
        exam = self.editor.exam
        still_open = bool(open_keys(exam, self.keys))
        is_parked = all(exam.entry(key).is_parked for key in self.keys)
        rest = rest_offers(exam, self.region, self.keys)
        offers: list[tuple[str, str, Callable[[], object]]] = [
            ("not-examined", tr("Not examined, because …"), self._ask_not_examined),
            ("partly", tr("Partly: something was not seen …"), self._go_strike),
            ("not-present", tr("Not present …"), self._ask_not_present),
            ("remark", tr("Remark: noted, not abnormal …"), self._ask_remark),
            *map(self._photographs, self.keys),
        ]
        if rest and not any(offer.asks for offer in rest):
            offers.insert(0, ("rest", tr("The rest: no abnormality"), self._rest))
        if still_open:
            label = tr("Take up again") if is_parked else tr("Later today")
            offers.append(("later", label, self._park))
        else:
            offers.append(("open", tr("Open again: not answered yet"), self._reopen))
            offers.append(("earlier", tr("It was seen earlier …"), self._ask_earlier))
        tiles: list[ft.Control] = [
            self._tile(for_choice("more-choice", key), label, made)
            for key, label, made in offers
        ]
        self.tab.open_sheet(self._name(""), *tiles)

    def _photographs(self, key: str) -> tuple[str, str, Callable[[], object]]:
        subject = Subject(key)
        label = photograph_label(self.editor, subject)
        if len(self.keys) > 1:
            label = with_side(tr(SIDE_LABELS[split_key(key)[1]]), label)
        opened = partial(open_photographs, self.tab, self.editor, subject)
        return for_choice("photograph", key), label, opened

    def _tile(
        self, name: str, label: str, on_click: Callable[[], object]
    ) -> ft.Control:
        return across(button(name, label, on_click, kind="tile", size="hands"))

    def _name(self, what: str) -> str:
        name = step_name(self.editor.exam, self.region, self.keys, what)
        return name if what else name.removesuffix(": ")

    async def _change(self, made: Change, what: str) -> bool:
        sheet = self.tab.sheet
        if not await exam_sessions.change(
            self.tab.session, self.editor, made, self._name(what)
        ):
            return False
        self.tab.close_only(sheet)
        self.tab.tell(self._name(what), self._undo)
        return True

    async def _conclude(self, made: Change, what: str) -> bool:
        """Answer the part as a whole; what was struck before is answered with it."""
        was_made = await self._change(made, what)
        if was_made:
            Strikes(self.tab.session, self.editor, self.region).settle()
        return was_made

    async def _undo(self) -> None:
        await exam_sessions.undo(self.tab.session, self.editor)

    def _ask_not_examined(self) -> None:
        async def said(reason: str, shown: str) -> bool:
            made = region_changes.not_examined(self.keys, reason)
            name = tr("not examined, {reason}", reason=shown)
            return await self._conclude(made, name)

        what = to_translate("not examined, because")
        self._ask(what, NOT_EXAMINED_REASONS, said)

    def _ask_not_present(self) -> None:
        async def said(reason: str, shown: str) -> bool:
            made = region_changes.not_present(self.keys, reason)
            name = tr("not present, {reason}", reason=shown)
            return await self._conclude(made, name)

        reasons = [
            reason
            for reason in NOT_PRESENT_REASONS
            if reason != OTHER_SEX or self.region.sexes
        ]
        self._ask(to_translate("not present, because"), reasons, said)

    def _ask_remark(self) -> None:
        async def said(text: str, _shown: str) -> bool:
            made = region_changes.remark(self.keys, text)
            return await self._change(made, tr("remark"))

        kept = self.editor.exam.entry(self.keys[0]).remark
        self._ask(to_translate("remark"), (), said, kept)

    def _ask(
        self, what: str, reasons: Sequence[str], said: Said, kept: str = ""
    ) -> None:
        name = f"more-{what.partition(',')[0].replace(' ', '-')}-{'-'.join(self.keys)}"
        title = self._name(tr(what))
        typed = exam_sessions.typed_in(self.tab.session, self.editor, name, title)
        words = text_field(
            "more-words", tr("In your own words"), value=kept, lines=2, typed=typed
        )

        async def kept_by(reason: str) -> None:
            """Keep a reason, and with it what was typed beside it."""
            more = words.value if words.value != kept else ""
            text, shown = reason, tr(reason)
            if more:
                text, shown = f"{reason}: {more}", f"{shown}: {more}"
            if await said(text, shown):
                typed.drop()

        tiles = [self._reason(n, reason, kept_by) for n, reason in enumerate(reasons)]

        async def save() -> None:
            if words.value or kept:
                if await said(words.value, words.value):
                    typed.drop()
            else:
                words.show_problem(tr("Type a few words, or choose above."))

        self.tab.open_sheet(
            title,
            *tiles,
            words.control,
            across(
                button("more-words-save", tr("Save these words"), save, kind="tile")
            ),
            typed=typed,
        )

    def _ask_earlier(self) -> None:
        def made(exam: Exam, edit: Edit) -> Exam:
            return regions_seen_earlier(exam, edit.protocol, self.keys, edit.by)

        with in_english():
            place = self._name("")
        open_seen_earlier(self.tab, self.editor, place, self._name(""), made)

    async def _go_strike(self) -> None:
        self.tab.close_sheet()
        exam_id = self.editor.exam.exam_id
        await self.tab.go(f"/exam/{exam_id}/region/{self.region.region_id}")

    async def _rest(self) -> None:
        strikes = Strikes(self.tab.session, self.editor, self.region)
        if strikes.leaves_nothing():
            self.tab.tell(tr(NOTHING_SEEN))
            return
        offers = rest_offers(self.editor.exam, self.region, self.keys)
        out = strikes.parted()
        made = region_changes.what_is_left(
            tuple(offer.key for offer in offers),
            out.struck,
            out.instead,
            out.denied or None,
        )
        await self._conclude(made, tr("the rest, no abnormality"))

    async def _park(self) -> None:
        keys = open_keys(self.editor.exam, self.keys)
        parked = not all(self.editor.exam.entry(key).is_parked for key in keys)
        made = region_changes.later(keys, parked=parked)
        await self._change(made, tr("later today") if parked else tr("taken up again"))

    async def _reopen(self) -> None:
        await self._change(region_changes.open_again(self.keys), tr("not answered yet"))

    def _reason(
        self, number: int, reason: str, said: Callable[[str], Awaitable[None]]
    ) -> ft.Control:
        async def tapped() -> None:
            await said(reason)

        name = for_choice("more-reason", str(number))
        return self._tile(name, tr(reason).capitalize(), tapped)
