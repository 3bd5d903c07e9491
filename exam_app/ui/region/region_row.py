"""One region in the exam's list: the sentence, one big tap, a finding, and more.

The answer takes the place of the button that gave it: a second tap by mistake meets
no other button, least of all that of the next region.
"""

from dataclasses import dataclass, field

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.strikes import NOTHING_SEEN, Strikes, Struck
from exam_app.app.view.region_presenter import (
    BOTH,
    Answer,
    answer_head,
    answer_label,
    answer_of,
    claims,
    deed,
    keys_chosen,
    keys_of,
    label_of,
    not_seen,
    open_keys,
    sentence_shown,
    side_choices,
    step_name,
)
from exam_app.app.view.rest_presenter import (
    SIDE_LABELS,
    RestOffer,
    ResultOffer,
    is_beyond_routine,
    only_result,
    parted,
    rest_offers,
    result_offers,
    with_side,
)
from exam_app.domain.exam.denials import rest_claims
from exam_app.domain.protocol.protocol import Region, split_key
from exam_app.ui.exam.handling_warnings import warnings_beside
from exam_app.ui.finding import finding_sheet
from exam_app.ui.region import more_sheet
from exam_app.ui.region.known_before import absent_offers, earlier_questions
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.theme import CORNER
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.exam_parts import chip, finding_line, from_above
from exam_app.ui.widgets.hands import HANDS
from exam_app.ui.widgets.identifiers import for_choice, for_region, identified
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, strong


# Flet describes every message for its log: with a repr, each bound handler would
# write out the whole exam, which took 300 ms a tap.
@dataclass(slots=True, repr=False)
class RegionRow:
    """The row of one region; it is drawn anew when its own answer changes.

    Attributes:
        is_alone: Whether it stands on the region's own screen, without a way there.
    """

    tab: Tab
    editor: ExamEditor
    region: Region
    is_alone: bool = False
    _finding_button: ft.Semantics = field(init=False)

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys this exam answers here, left before right."""
        return keys_of(self.editor.exam, self.editor.protocol, self.region)

    def control(self) -> ft.Control:
        """Build the row; it follows what is observed of its own keys."""
        return self.slot().control

    def slot(self) -> Slot:
        """Build the row as a slot, for what else changes its words."""
        view = self.editor.view
        own = (view.regions[key] for key in self.keys)
        more = (HANDS, view.visit["animal"])
        return Slot(self.draw, *own, *more, in_place=True)

    def draw(self) -> ft.Control:
        """Draw the row as it stands now."""
        exam, protocol = self.editor.exam, self.editor.protocol
        answers = [answer_of(exam, protocol, k, exam.entry(k)) for k in self.keys]
        parts = self._alone_head() if self.is_alone else self._head()
        parts += warnings_beside(self.tab, self.editor, self.region)
        for answer in answers:
            parts += self._said(answer)
        parts += earlier_questions(self.tab, self.editor, self.keys)
        parts += absent_offers(self.tab, self.editor, self.region, answers)
        if is_beyond_routine(exam, self.region, self.keys):
            parts += self._beyond_routine()
        else:
            parts += self._buttons(answers)
            parts += self._more_to_say()
        card = ft.Container(
            ft.Column(
                parts,
                spacing=8,
                tight=True,
                horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
            ),
            padding=12,
            bgcolor=ft.Colors.SURFACE_CONTAINER,
            border_radius=CORNER,
        )
        return identified(for_region(self.region.region_id, "row"), card)

    def _head(self) -> list[ft.Control]:
        """Draw the title and the sentence, with what is struck of it."""
        exam, struck = self.editor.exam, self._struck
        shown = sentence_shown(exam, self.region, self.keys, struck)
        parts = [self._title()]
        if is_beyond_routine(exam, self.region, self.keys):
            return parts
        if shown:
            parts += [quiet(answer_head(exam, self.keys)), quiet(shown)]
        left_out = not_seen(exam, self.region, struck)
        return [*parts, quiet(left_out)] if left_out else parts

    def _alone_head(self) -> list[ft.Control]:
        """Draw one line of constant height: the claims stand below, each on its own."""
        if is_beyond_routine(self.editor.exam, self.region, self.keys):
            return []
        is_open = bool(open_keys(self.editor.exam, self.keys))
        words = "Not answered yet. One tap records what is not struck below."
        return [quiet(words if is_open else "Answered, as it stands here.")]

    @property
    def _strikes(self) -> Strikes:
        return Strikes(self.tab.session, self.editor, self.region)

    @property
    def _struck(self) -> Struck:
        """What is left out and not recorded; nothing once every side is answered."""
        strikes = self._strikes
        return strikes.now() if strikes.is_open else ()

    def _title(self) -> ft.Control:
        name = label_of(self.editor.exam, self.region)
        action = ft.TextButton(
            content=ft.Row(
                [strong(name), ft.Icon(ft.Icons.CHEVRON_RIGHT)], tight=True, spacing=4
            ),
            on_click=self._open,
            tooltip=f"{name}: what to look at, feel and listen to",
            style=ft.ButtonStyle(padding=ft.Padding.symmetric(vertical=10)),
        )
        identifier = for_region(self.region.region_id, "open")
        row: list[ft.Control] = [identified(identifier, action)]
        if len(self.keys) > 1:
            row.append(from_above())
        return ft.Row(row, alignment=ft.MainAxisAlignment.SPACE_BETWEEN)

    async def _open(self) -> None:
        exam_id = self.editor.exam.exam_id
        await self.tab.go(f"/exam/{exam_id}/region/{self.region.region_id}")

    def _said(self, answer: Answer) -> list[ft.Control]:
        side = f"{answer.side}: " if answer.side else ""
        said = [
            self._finding(answer, line.finding_id, f"{side}{line.text}", line.is_urgent)
            for line in answer.findings
        ]
        said += [quiet(f"{side}{line}") for line in answer.lines]
        return said

    def _finding(
        self, answer: Answer, finding_id: str, text: str, is_urgent: bool
    ) -> ft.Control:
        async def edit() -> None:
            finding_sheet.open_details(
                self.tab, self.editor, self.region, ((answer.key, finding_id),)
            )

        name = for_choice("finding-line", finding_id)
        return finding_line(name, text, edit, is_urgent=is_urgent)

    def _buttons(self, answers: list[Answer]) -> list[ft.Control]:
        self._finding_button = self._draw_finding_button()
        ways = [self._finding_button, self._more_button()]
        if HANDS.gloved:
            return [*self._gloved_answers(answers), _in_row(*ways)]
        if len(answers) == 1:
            normal = self._normal_or_chip(answers[0], "", filled=True, expand=5)
            return [_in_row(normal, *ways)]
        cells = [
            self._cell(choice, name, answers)
            for choice, name in side_choices(self.keys)
        ]
        if self.tab.is_wide:
            return [_in_row(*cells, *ways)]
        return [_in_row(*cells), _in_row(*ways)]

    def _beyond_routine(self) -> list[ft.Control]:
        """A part that is not asked: what was found there can still be noted."""
        self._finding_button = self._draw_finding_button()
        said = "Not part of a routine exam; open it to add what was done."
        if self.is_alone:
            said = "Not part of a routine exam; add below what was done."
        return [quiet(said), _in_row(self._finding_button)]

    def _more_to_say(self) -> list[ft.Control]:
        """The rest beside a find, and results that stand in a claim's place.

        They stand below the answers, which keep their place when these come or go.
        """
        exam, left_out = self.editor.exam, self._strikes.now()
        rest = rest_offers(exam, self.region, self.keys, left_out)
        parts: list[ft.Control] = [
            quiet(with_side(offer.side, offer.text)) for offer in rest
        ]
        if rest:
            parts.append(_in_row(*(self._rest(offer) for offer in rest)))
        still_open = open_keys(exam, self.keys)
        results = (
            result_offers(exam, self.region, still_open[0], left_out)
            if still_open
            else ()
        )
        # One result is one tap; several at once are said on the part's page.
        if len(results) == 1:
            parts.append(_in_row(self._result(results[0], still_open)))
        return parts

    def _rest(self, offer: RestOffer) -> ft.Control:
        asks_first = offer.asks and not self.is_alone

        async def tapped() -> None:
            if asks_first:
                await self._open()
            else:
                await self._say((offer.key,), self._strikes.now(), asked=True)

        label = "The rest …" if asks_first else "The rest"
        return button(
            for_region(offer.key, "rest"),
            with_side(offer.side, label),
            tapped,
            expand=1,
            spoken=offer.text,
            kind="tile",
            size="hands",
        )

    def _result(self, offer: ResultOffer, keys: tuple[str, ...]) -> ft.Control:
        async def tapped() -> None:
            await self._say_of_open(keys, offer.left_out)

        side = "Both" if len(keys) > 1 else SIDE_LABELS.get(split_key(keys[0])[1], "")
        name = for_region(self.region.region_id, "result")
        return button(
            for_choice(name, offer.clause_id),
            with_side(side, offer.label),
            tapped,
            expand=1,
            kind="tile",
            size="hands",
        )

    async def _say_of_open(self, keys: tuple[str, ...], left_out: Struck) -> None:
        # The keys still open when the finger came down, not a later set.
        still_open = open_keys(self.editor.exam, keys)
        if still_open:
            await self._say(still_open, left_out, asked=self.is_alone)

    async def _say(
        self, keys: tuple[str, ...], left_out: Struck, *, asked: bool
    ) -> None:
        """Record the sentence of some sides, without what is left out of it.

        Args:
            asked: Whether the examiner saw each claim and said what own words deny.
        """
        strikes, exam = self._strikes, self.editor.exam
        out = parted(self.region, left_out)
        if len(out.struck) == len(claims(exam, self.region)):
            self.tab.tell(NOTHING_SEEN)
            return
        what = deed(exam, self.region, keys, left_out)
        name = step_name(exam, self.region, keys, what)
        denied = out.denied if asked else out.denied or None
        made = region_changes.what_is_left(keys, out.struck, out.instead, denied)
        if await exam_sessions.change(self.tab.session, self.editor, made, name):
            strikes.settle()
        # The button that had the focus is gone, and Tab would begin at the top.
        self.tab.give_focus(self._finding_button.content)

    def _gloved_answers(self, answers: list[Answer]) -> list[ft.Control]:
        """Answers as they are, and one large button for what is open."""
        still_open = [answer for answer in answers if self._can_say(answer)]
        shown = [_in_row(self._chip(a, 1)) for a in answers if a not in still_open]
        if still_open:
            choice = BOTH if len(still_open) > 1 else still_open[0].key
            side = "Both" if choice == BOTH else still_open[0].side
            shown.append(_in_row(self._normal(choice, side, filled=True)))
        return shown

    def _can_say(self, answer: Answer) -> bool:
        """Whether one tap has anything to say; an earlier find may deny it all."""
        exam = self.editor.exam
        return answer.is_open and bool(rest_claims(exam, self.region, answer.key))

    def _cell(self, choice: str, name: str, answers: list[Answer]) -> ft.Control:
        if choice == BOTH:
            if all(map(self._can_say, answers)):
                return self._normal(choice, name, filled=True)
            return ft.Container(expand=1)
        answer = next(a for a in answers if a.key == choice)
        return self._normal_or_chip(answer, name, filled=False)

    def _normal_or_chip(
        self, answer: Answer, side: str, *, filled: bool, expand: int = 1
    ) -> ft.Control:
        if self._can_say(answer):
            return self._normal(answer.key, side, filled=filled, expand=expand)
        return self._chip(answer, expand)

    def _chip(self, answer: Answer, expand: int) -> ft.Control:
        name, side = for_region(answer.key, "state"), answer.side
        text = f"{side}: {answer.title.lower()}" if side else answer.title
        # As high as the button it stands for, whose words take more lines.
        lines = self._button_lines(side)
        return chip(name, answer.sign, text, expand=expand, lines=lines)

    def _button_lines(self, side: str) -> int:
        """Return how many lines the words of an answering button take."""
        if HANDS.gloved:
            return 1
        on_phone = 2 if side and not self.tab.is_wide else 1
        return on_phone + self.is_alone

    def _normal(
        self, choice: str, side: str, *, filled: bool, expand: int = 1
    ) -> ft.Control:
        async def tapped() -> None:
            keys = keys_chosen(choice, self.keys)
            await self._say_of_open(keys, self._strikes.now())

        left_out = self._struck
        struck = len(parted(self.region, left_out).struck)
        result = only_result(self.editor.exam, self.region, self.keys[0], left_out)
        where = self.region.region_id if choice == BOTH else choice
        return button(
            for_region(where, "normal"),
            answer_label(side, result, struck, is_alone=self.is_alone),
            tapped,
            expand=expand,
            spoken=f"{label_of(self.editor.exam, self.region)}: no abnormality found",
            kind="main tile" if filled else "tile",
            size="hands",
        )

    def _draw_finding_button(self) -> ft.Semantics:
        async def tapped() -> None:
            finding_sheet.open_terms(self.tab, self.editor, self.region)

        identifier = for_region(self.region.region_id, "finding")
        return button(
            identifier, "Finding", tapped, expand=3, kind="tile", size="hands"
        )

    def _more_button(self) -> ft.Control:
        async def tapped() -> None:
            more_sheet.open_more(self.tab, self.editor, self.region)

        identifier = for_region(self.region.region_id, "more")
        return button(identifier, "More", tapped, expand=2, kind="tile", size="hands")


def _in_row(*controls: ft.Control) -> ft.Control:
    return ft.Row(
        list(controls), spacing=10, vertical_alignment=ft.CrossAxisAlignment.START
    )
