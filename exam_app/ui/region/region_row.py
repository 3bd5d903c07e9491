"""One part of the body: its line in the list, and its sentence.

The line is folded while another part is the current one. What answers it
stands in its zone (``region_zone``).
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.view.region_presenter import (
    Answer,
    Sign,
    answer_head,
    answered_words,
    not_seen,
    open_keys,
    sentence_shown,
)
from exam_app.app.view.rest_presenter import (
    is_beyond_routine,
    with_side,
)
from exam_app.domain.exam.marks import open_earlier
from exam_app.domain.protocol.protocol import Region
from exam_app.domain.wording.exam_wording import summary_shown
from exam_app.language.catalogue import tr
from exam_app.ui.exam.handling_warnings import warnings_beside, words_beside
from exam_app.ui.finding import finding_sheet
from exam_app.ui.region.known_before import (
    absent_offers,
    earlier_questions,
    found_before,
)
from exam_app.ui.region.region_zone import RegionZone
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.exam_parts import card, finding_line, from_above, line
from exam_app.ui.widgets.identifiers import for_choice, for_region, identified
from exam_app.ui.widgets.texts import quiet, strong


# Flet describes every message for its log: with a repr, each bound handler would
# write out the whole exam, which took 300 ms a tap.
@dataclass(slots=True, repr=False)
class RegionRow:
    """One part, as its line, its card and its zone; each is drawn when asked for.

    Attributes:
        is_alone: Whether it stands on the region's own screen, without a way there.
        zone: The buttons that answer it.
        keys: The keys this exam answers here, left before right.
    """

    tab: Tab
    editor: ExamEditor
    region: Region
    is_alone: bool = False
    zone: RegionZone = field(init=False)
    keys: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        """Make its zone, which knows what sides are asked."""
        self.zone = RegionZone(self.tab, self.editor, self.region, self.is_alone)
        self.keys = self.zone.keys

    def line(
        self,
        on_click: Callable[[], object],
        *more: ft.Control,
        is_chosen: bool = False,
    ) -> ft.Control:
        """Draw the part in one line, with its answers; see ``exam_parts.line``."""
        answers, protocol = self.zone.answers(), self.editor.protocol
        said: list[ft.Control] = [
            identified(for_region(key, "state"), quiet(words, lines=1), expand=True)
            for key, words in answered_words(answers)
        ]
        said += [
            ft.Container(
                quiet(f"{one.date}: {summary_shown(one, protocol)}", lines=1),
                expand=True,
            )
            for key in self.keys
            for one in open_earlier(self.editor.exam)
            if one.key == key
        ]
        if is_beyond_routine(self.editor.exam, self.region, self.keys):
            said = [ft.Container(quiet(tr("not part of a routine exam"), lines=1))]
        signs = {answer.sign for answer in answers}
        sign = next(s for s in _FIRST if s in signs)
        if warned := words_beside(self.editor, self.region):
            hand = ft.Icon(ft.Icons.FRONT_HAND, color=ft.Colors.ERROR, size=20)
            hand.semantics_label = warned
            said.insert(0, hand)
        name = for_region(self.region.region_id, "row")
        return line(
            name, sign, self.zone.name, said, on_click, *more, is_chosen=is_chosen
        )

    def card(self, *more: ft.Control) -> ft.Control:
        """Draw the part with its sentence and all that was said of it.

        Args:
            more: What stands at the end of the title.
        """
        answers = self.zone.answers()
        parts = self._alone_head() if self.is_alone else self._head(*more)
        parts += warnings_beside(self.tab, self.editor, self.region)
        before = found_before(self.tab, self.editor, self.region, self.keys)
        asked = earlier_questions(self.tab, self.editor, self.keys)
        # Above what is said, which grows; and below what is asked, to be answered.
        parts += before if not asked else []
        for answer in answers:
            parts += self._said(answer)
        parts += [*asked, *before] if asked else []
        parts += absent_offers(self.tab, self.editor, self.region, answers)
        if is_beyond_routine(self.editor.exam, self.region, self.keys):
            said = tr("Not part of a routine exam; open it to add what was done.")
            if self.is_alone:
                said = tr("Not part of a routine exam; add below what was done.")
            parts.append(quiet(said))
        else:
            rest = self.zone.rest_offers()
            parts += [quiet(with_side(tr(offer.side), offer.text)) for offer in rest]
        return card(for_region(self.region.region_id, "row"), parts)

    def _head(self, *more: ft.Control) -> list[ft.Control]:
        """Draw the title and the sentence, with what is struck of it."""
        exam, struck = self.editor.exam, self.zone.struck
        shown = sentence_shown(exam, self.region, self.keys, struck)
        parts = [self._title(*more)]
        if is_beyond_routine(exam, self.region, self.keys):
            return parts
        if shown:
            parts += [quiet(f"{answer_head(exam, self.keys)} {shown}")]
        left_out = not_seen(exam, self.region, struck)
        return [*parts, quiet(left_out)] if left_out else parts

    def _alone_head(self) -> list[ft.Control]:
        """Draw one line of constant height: the claims stand below, each on its own."""
        if is_beyond_routine(self.editor.exam, self.region, self.keys):
            return []
        is_open = bool(open_keys(self.editor.exam, self.keys))
        words = tr("Not answered yet. One tap records what is not struck below.")
        return [quiet(words if is_open else tr("Answered, as it stands here."))]

    def _title(self, *more: ft.Control) -> ft.Control:
        action = ft.TextButton(
            content=ft.Row(
                [strong(self.zone.name), ft.Icon(ft.Icons.CHEVRON_RIGHT)],
                spacing=4,
            ),
            on_click=self.zone.open_part,
            tooltip=tr(
                "{part}: what to look at, feel and listen to", part=self.zone.name
            ),
            style=ft.ButtonStyle(padding=ft.Padding.symmetric(vertical=8)),
        )
        identifier = for_region(self.region.region_id, "open")
        row: list[ft.Control] = [identified(identifier, action, expand=True)]
        if len(self.keys) > 1:
            row.append(from_above())
        return ft.Row([*row, *more])

    def _said(self, answer: Answer) -> list[ft.Control]:
        side = f"{tr(answer.side)}: " if answer.side else ""
        said = [
            self._finding(answer, one.finding_id, f"{side}{one.text}", one.is_urgent)
            for one in answer.findings
        ]
        if not answer.is_open and not answer.findings:
            state = identified(
                for_region(answer.key, "state"), quiet(f"{side}{answer.title}")
            )
            said.append(state)
        return said + [quiet(f"{side}{one}") for one in answer.lines]

    def _finding(
        self, answer: Answer, finding_id: str, text: str, is_urgent: bool
    ) -> ft.Control:
        async def edit() -> None:
            finding_sheet.open_details(
                self.tab, self.editor, self.region, ((answer.key, finding_id),)
            )

        name = for_choice("finding-line", finding_id)
        return finding_line(name, text, edit, is_urgent=is_urgent)


# Which of two sides' signs stands for both.
_FIRST = (Sign.FOUND, Sign.OPEN, Sign.PARKED, Sign.GAP, Sign.ABSENT, Sign.NORMAL)
