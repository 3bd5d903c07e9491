"""What a line was read as, in three blocks: understood, to be answered, not understood.

A question that was answered stays where it stood, with its answer, until all is
recorded: nothing moves up under a finger. What is recorded comes below, with its flag.
"""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

import flet as ft

from exam_app.app.exam_view import CurrentView
from exam_app.app.view.vital_presenter import LOUD, recount_advice, vital_notice
from exam_app.app.words.line_state import Asked, LineState, Refused
from exam_app.app.words.question import Question
from exam_app.app.words.settled import Proposal
from exam_app.domain.protocol.protocol import split_key
from exam_app.domain.words.items import NotRead
from exam_app.language.catalogue import tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import grid, pick
from exam_app.ui.widgets.fields import Field
from exam_app.ui.widgets.flags import flag_with_ranges
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.texts import (
    across,
    heading,
    paragraph,
    quiet,
    section,
    stack,
    strong,
)

Act = Callable[[], Awaitable[None] | None]
_SHORT = 18


@dataclass(slots=True, repr=False)
class LineBlocks:
    """The blocks of one line.

    Attributes:
        on_change: Called after an answer, a strike or a dismissal.
        recorded: What was recorded last, and what was refused.
    """

    tab: Tab
    state: LineState
    on_change: Callable[[], None]
    recorded: tuple[Proposal, ...] = ()
    refused: tuple[Refused, ...] = field(default_factory=tuple)

    def first_to_do(self) -> str:
        """Say what is to be done before anything can be recorded."""
        if self.state.text.strip():
            return tr("Write on, or answer above")
        return tr("Type or dictate a line")

    async def record(
        self, current: CurrentView, line: Field, *, is_whole: bool = True
    ) -> None:
        """Record what is understood; where nothing is, give the line the cursor.

        Args:
            current: Of the exam or round in which a tap may have been meant for
                what stood there before.
            line: In which the words stand.
            is_whole: Whether the line names what it is of.
        """
        if current.is_settling:
            return
        if not is_whole or not self.state.to_record():
            await line.focus()
            return
        current.begin_settling()
        self.recorded, self.refused = await self.state.confirm()
        self.on_change()

    def draw(self) -> ft.Control:
        """Draw what there is to say of the line as it stands."""
        return stack(
            *self._expanded(),
            *self._understood(),
            *self._asked(),
            *self._not_read(),
            *self._told(),
        )

    def _guarded(self, act: Callable[[], None]) -> Act:
        """Take no tap that was meant for what stood here before."""

        def tapped() -> None:
            current = self.state.editor.view.current
            if current.is_settling:
                return
            current.begin_settling()
            act()
            self.on_change()

        return tapped

    def _expanded(self) -> list[ft.Control]:
        said = [f"“{form}”: {text}" for form, text in self.state.line.expanded.items()]
        lines = [quiet(text) for text in said]
        return [identified("words-expanded", stack(*lines, spacing=4))] if lines else []

    def _understood(self) -> list[ft.Control]:
        found = self.state.understood()
        if not found:
            return []
        lines = [self._proposal(n, one) for n, one in enumerate(found)]
        return [identified("words-understood", section(tr("Understood"), *lines))]

    def _proposal(self, number: int, proposal: Proposal) -> ft.Control:
        def strike() -> None:
            self.state.strike(proposal.item_id)

        is_struck = proposal.item_id in self.state.struck
        icon = ft.Icons.ADD if is_struck else ft.Icons.CLOSE
        label = tr("Take it back in") if is_struck else tr("Leave this out")
        name = for_choice("words-strike", str(number))
        crossed = button(name, label, self._guarded(strike), kind="icon", icon=icon)
        told = _proposal_words(proposal, is_struck=is_struck)
        row = ft.Row([ft.Container(told, expand=True), crossed])
        return identified(for_choice("words-item", str(number)), row)

    def _asked(self) -> list[ft.Control]:
        asked = self.state.asked()
        if not asked:
            return []
        lines = [self._question(n, one) for n, one in enumerate(asked)]
        return [identified("words-asked", section(tr("Needs an answer"), *lines))]

    def _question(self, number: int, asked: Asked) -> ft.Control:
        name = for_choice("words-question", str(number))
        shown: list[ft.Control] = []
        if asked.question is not None:
            shown += self._answers(number, asked, asked.question)
        else:
            shown += self._answered(asked)
        if asked.chosen:
            shown.append(self._again(number, asked))
        return identified(name, stack(*shown, spacing=8))

    def _answers(
        self, number: int, asked: Asked, question: Question
    ) -> list[ft.Control]:
        cells = [
            self._answer(number, place, asked.item_id, answer.key, answer.label)
            for place, answer in enumerate(question.answers)
        ]
        longest = max(len(answer.label) for answer in question.answers)
        columns = 1 if question.claims or longest > _SHORT else 2
        claims = [_claims(number, question)] if question.claims else []
        return [paragraph(question.text), *claims, grid(cells, columns)]

    def _answer(
        self, number: int, place: int, item_id: str, key: str, label: str
    ) -> ft.Control:
        def chosen() -> None:
            self.state.answer(item_id, key)

        name = for_choice(for_choice("words-answer", str(number)), str(place))
        tapped = self._guarded(chosen)
        return pick(name, label, tapped, is_chosen=False, is_cell=True, size="thumb")

    @staticmethod
    def _answered(asked: Asked) -> list[ft.Control]:
        if asked.proposal is None:
            return [quiet(tr("“{said}”: not recorded", said=asked.said))]
        return [_proposal_words(asked.proposal, is_struck=False)]

    def _again(self, number: int, asked: Asked) -> ft.Control:
        def again() -> None:
            self.state.ask_again(asked.item_id)

        name = for_choice("words-again", str(number))
        label = tr("Answered: {answers}. Ask again", answers=", ".join(asked.chosen))
        return across(button(name, label, self._guarded(again), kind="tile"))

    def _not_read(self) -> list[ft.Control]:
        found = self.state.not_read()
        if not found:
            return []
        lines = [self._words(n, one) for n, one in enumerate(found)]
        shown = section(tr("Not understood"), *lines)
        return [identified("words-not-read", shown)]

    def _words(self, number: int, not_read: NotRead) -> ft.Control:
        def dismiss() -> None:
            self.state.dismiss(not_read)

        def put() -> None:
            self._ask_part(not_read)

        near = ", ".join(f"“{word}”?" for word in self.state.near(not_read))
        row = grid(
            [
                button(
                    for_choice("words-remark", str(number)),
                    tr("Into a remark"),
                    put,
                    kind="tile",
                    size="thumb",
                ),
                button(
                    for_choice("words-dismiss", str(number)),
                    tr("Dismiss"),
                    self._guarded(dismiss),
                    kind="tile",
                    size="thumb",
                ),
            ],
            2,
        )
        hints = [quiet(near)] if near else []
        words = strong(not_read.words)
        name = for_choice("words-unread", str(number))
        return identified(name, stack(words, *hints, row, spacing=8))

    def _ask_part(self, not_read: NotRead) -> None:
        """Ask of which part the words are a remark; those of the line come first."""
        around = self.state.around
        keys = [
            key
            for region in around.words.regions.values()
            for key in region.answer_keys()
        ]
        current = self.state.editor.view.current.place
        said = {place for item in self.state.line.items for place in item.places}
        keys.sort(key=lambda key: (key not in said, split_key(key)[0] != current))

        # Below the sheet the words stand until they are kept, and are gone then: a tap
        # between the two would be one on words that are a remark already.
        is_taken = False

        def cell(key: str) -> ft.Control:
            async def chosen() -> None:
                nonlocal is_taken
                if is_taken:
                    return
                sheet, is_taken, is_kept = self.tab.sheet, True, False
                try:
                    is_kept = await self.state.put_into_remark(not_read, key)
                finally:
                    is_taken = is_kept
                if is_kept:
                    self.on_change()
                    self.tab.close_only(sheet)

            name = for_choice("words-part", key.replace(".", "-"))
            return button(name, around.name_of(key), chosen, kind="tile", size="hands")

        self.tab.open_sheet(
            tr("“{words}”: a remark of which part?", words=not_read.words),
            grid([cell(key) for key in keys], 2),
        )

    def _told(self) -> list[ft.Control]:
        """Show what was recorded last, with its flags, and what was refused."""
        lines: list[ft.Control] = [
            banner(
                for_choice("words-refused", str(n)), f"{r.title}: {r.why}", Tone.NOTICE
            )
            for n, r in enumerate(self.refused)
        ]
        for proposal in self.recorded:
            lines.append(paragraph(f"{proposal.title}: {proposal.value}"))
            lines += self._flag(proposal)
        if not lines:
            return []
        return [identified("words-recorded", stack(heading(tr("Recorded")), *lines))]

    def _flag(self, proposal: Proposal) -> list[ft.Control]:
        editor = self.state.editor
        vital = self.state.around.words.vitals.get(proposal.place)
        if vital is None:
            return []
        notice = vital_notice(editor.exam, editor.protocol, vital)
        advice = recount_advice(editor.exam, editor.protocol, vital)
        is_loud = notice is not None and notice.weight in LOUD
        shown = [flag_with_ranges(notice)] if notice is not None and is_loud else []
        return [*shown, *([paragraph(advice)] if advice else [])]


def _proposal_words(proposal: Proposal, *, is_struck: bool) -> ft.Control:
    value = strong(proposal.value)
    if len(proposal.value) <= _SHORT and any(map(str.isdigit, proposal.value)):
        # A number, with its unit, is what is misheard most easily.
        value.theme_style = ft.TextThemeStyle.HEADLINE_SMALL
    if is_struck:
        value.style = ft.TextStyle(decoration=ft.TextDecoration.LINE_THROUGH)
    details = [quiet(proposal.details)] if proposal.details else []
    return stack(quiet(proposal.title), value, *details, spacing=2)


def _claims(number: int, question: Question) -> ft.Control:
    """Show a sentence claim by claim, what was said marked and told by a word too."""
    lines = [
        paragraph(tr("✓ {claim} (said)", claim=text)) if is_said else quiet(f"– {text}")
        for text, is_said in question.claims
    ]
    name = for_choice("words-sentence", str(number))
    return identified(name, stack(*lines, spacing=2))
