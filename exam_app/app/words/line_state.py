"""One line while it is settled: what is understood, what is asked, what was not read.

What was typed and answered is kept as any form's words are, so that it survives a lock
and a kill. Nothing of it is recorded before it is confirmed; what is confirmed then is
dropped from the line, and what was not understood stays until it was put somewhere or
dismissed.
"""

import json
import re
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.exam_sessions import typed_in
from exam_app.app.exam_settings import keep_of_exam, kept_of_exam
from exam_app.app.session import Session
from exam_app.app.typed_entries import ANSWERS, Typed
from exam_app.app.words.exam_words_known import words_known
from exam_app.app.words.question import Answer, Question
from exam_app.app.words.questions import next_question
from exam_app.app.words.said_items import items_said, split_tag
from exam_app.app.words.settled import (
    Around,
    Proposal,
    Settled,
    proposal_of,
    remark_added,
)
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.words.items import Doubt, Item, Line, NotRead
from exam_app.domain.words.line_reader import near_words, read_line
from exam_app.language.catalogue import to_translate, tr

LINE = "line"
_KEPT = "words_kept"
_MOST_STEPS = 12
# Where a part of a line ends; the point of a number ends none.
_MARK = re.compile(r"[,;\n!]|\.(?!\d)")
TITLE = to_translate("In words")


@dataclass(frozen=True, slots=True)
class Asked:
    """A question of one item, and what was answered before it.

    Attributes:
        chosen: Labels of the answers given so far, in order.
        proposal: What it would record, once nothing is asked any more.
        is_dropped: Whether it was not said.
    """

    item_id: str
    said: str
    question: Question | None
    chosen: tuple[str, ...]
    proposal: Proposal | None = None
    is_dropped: bool = False


@dataclass(frozen=True, slots=True)
class Refused:
    """Something that could not be recorded, and why."""

    title: str
    why: str


@dataclass(slots=True, repr=False)
class LineState:
    """The line of one exam.

    Attributes:
        kept_in: Where the line of a round is kept: it begins with the animal's tag.
        begins: Begins the row of a round, once something of it is to be recorded.
        answers: Of an item, the keys of the answers given, in order.
        struck: Items that are not to be recorded.
        done: Items that are recorded already.
        dismissed: Words not understood that were dismissed or put into a remark.
        keeps_words: Whether the words are kept with the entries they give.
    """

    session: Session
    editor: ExamEditor
    kept_in: Typed | None = None
    begins: Callable[[], Awaitable[ExamEditor]] | None = None
    typed: Typed = field(init=False)
    line: Line = field(init=False)
    answers: dict[str, list[str]] = field(default_factory=dict)
    struck: list[str] = field(default_factory=list)
    done: list[str] = field(default_factory=list)
    dismissed: list[str] = field(default_factory=list)
    keeps_words: bool = False

    def __post_init__(self) -> None:
        """Begin with what was typed and answered before."""
        own = typed_in(self.session, self.editor, "words", TITLE)
        self.typed = own if self.kept_in is None else self.kept_in
        exam_id = self.editor.exam.exam_id
        self.keeps_words = kept_of_exam(self.session.vault, _KEPT, exam_id) is True
        self._recall(self.typed.value(ANSWERS))
        self._read(self.typed.value(LINE))

    @property
    def around(self) -> Around:
        """What the line is said in, as the exam is now."""
        words = words_known(self.session, self.editor)
        return Around(self.session, self.editor, words, self.keeps_words)

    @property
    def text(self) -> str:
        """The line as typed."""
        return self.typed.value(LINE)

    def write(self, text: str) -> None:
        """Take the text as it stands now; an empty one forgets what was answered."""
        self.typed.note(LINE, text)
        if not text.strip():
            self.answers, self.struck, self.done, self.dismissed = {}, [], [], []
        self._keep()
        self._read(text)

    def _read(self, text: str) -> None:
        said = text if self.kept_in is None else split_tag(text)[1]
        self.line = read_line(self.around.words, said)

    async def _begin(self) -> None:
        if self.begins is not None:
            self.editor = await self.begins()

    def _recall(self, kept: str) -> None:
        """Take up what was answered; what cannot be read was never answered."""
        try:
            known = json.loads(kept) if kept else {}
            self.answers = {str(k): [*map(str, v)] for k, v in known["answers"].items()}
            self.struck, self.done, self.dismissed = (
                [*map(str, known[name])] for name in ("struck", "done", "dismissed")
            )
        except (ValueError, KeyError, TypeError, AttributeError):
            self.answers, self.struck, self.done, self.dismissed = {}, [], [], []

    def _keep(self) -> None:
        said = {
            "answers": self.answers,
            "struck": self.struck,
            "done": self.done,
            "dismissed": self.dismissed,
        }
        is_empty = not any(said.values())
        self.typed.note(ANSWERS, "" if is_empty else json.dumps(said))

    async def keep_words(self, *, is_wanted: bool) -> None:
        """Keep the words of this exam's lines with their entries, or not."""
        self.keeps_words = is_wanted
        vault, exam_id = self.session.vault, self.editor.exam.exam_id
        kept = True if is_wanted else None
        await self.session.write(lambda: keep_of_exam(vault, _KEPT, exam_id, kept))

    def strike(self, item_id: str) -> None:
        """Leave one thing out, or take it back in."""
        if item_id in self.struck:
            self.struck.remove(item_id)
        else:
            self.struck.append(item_id)
        self._keep()

    def answer(self, item_id: str, key: str) -> None:
        """Keep an answer."""
        self.answers.setdefault(item_id, []).append(key)
        self._keep()

    def ask_again(self, item_id: str) -> None:
        """Take the answers about one item back."""
        self.answers.pop(item_id, None)
        self._keep()

    def _items(self) -> list[tuple[str, Item, str]]:
        """Return what is not recorded yet, with its id and its words."""
        found = items_said(self.around.words, self.line)
        return [one for one in found if one[0] not in self.done]

    def understood(self) -> tuple[Proposal, ...]:
        """Return what one tap may record."""
        return tuple(
            asked.proposal
            for asked in self._settled()
            if asked.proposal is not None and not asked.chosen
        )

    def asked(self) -> tuple[Asked, ...]:
        """Return every question, also those answered, each in its place."""
        return tuple(a for a in self._settled() if a.question or a.chosen)

    def _settled(self) -> list[Asked]:
        around = self.around
        chosen_twice = {
            item.places
            for item_id, item, _ in self._items()
            if "this" in self.answers.get(item_id, ())
        }
        found: list[Asked] = []
        state = self._state_said()
        is_state_asked = False
        for item_id, item, said in self._items():
            settled = Settled(item, said, self._beside(item))
            one = self._settle(around, item_id, settled, state)
            is_other = Doubt.TWICE in item.doubts and item.places in chosen_twice
            if is_other and "this" not in self.answers.get(item_id, ()):
                one = Asked(
                    item_id, said, None, (tr("Not this"),), None, is_dropped=True
                )
            asks_state = one.question and one.question.answers[0].key[:6] == "state:"
            if asks_state and is_state_asked:
                # One answer is for every rate of the line.
                continue
            is_state_asked = is_state_asked or bool(asks_state)
            found.append(one)
        return found

    def _beside(self, item: Item) -> str:
        """Return the part of the line that an item stands in."""
        text = self.line.text
        before = [m.end() for m in _MARK.finditer(text, 0, item.start)]
        behind = _MARK.search(text, item.end)
        end = behind.start() if behind else len(text)
        return text[max(before, default=0) : end].strip()

    def _state_said(self) -> str:
        """Return what the animal was doing, as answered for one rate of the line."""
        keys = (key for keys in self.answers.values() for key in keys)
        return next((key for key in keys if key.startswith("state:")), "")

    def _settle(
        self, around: Around, item_id: str, settled: Settled, state: str
    ) -> Asked:
        """Give the answers to the questions they were given to."""
        said, chosen = settled.said, list[str]()
        keys = [*self.answers.get(item_id, ())]
        for _ in range(_MOST_STEPS):
            question = next_question(around, settled)
            if question is None:
                return self._proposed(around, item_id, settled, tuple(chosen))
            answer = self._given(question, keys, state)
            if answer is None:
                return Asked(item_id, said, question, tuple(chosen))
            if answer.key != state or state in self.answers.get(item_id, ()):
                chosen.append(answer.label)
            if answer.after is None:
                return Asked(item_id, said, None, tuple(chosen), is_dropped=True)
            settled = answer.after
        return Asked(item_id, said, None, tuple(chosen), is_dropped=True)

    @staticmethod
    def _given(question: Question, keys: list[str], state: str) -> Answer | None:
        if keys and (answer := question.answered(keys[0])) is not None:
            del keys[0]
            return answer
        return question.answered(state) if state else None

    @staticmethod
    def _proposed(
        around: Around, item_id: str, settled: Settled, chosen: tuple[str, ...]
    ) -> Asked:
        try:
            proposal = proposal_of(around, item_id, settled)
        except ExamError as refusal:
            question = Question(
                tr(refusal.advice), (Answer("drop", tr("Leave it out"), None),)
            )
            return Asked(item_id, settled.said, question, chosen)
        return Asked(item_id, settled.said, None, chosen, proposal)

    def not_read(self) -> tuple[NotRead, ...]:
        """Return the words that were not understood and are still there."""
        return tuple(n for n in self.line.not_read if n.words not in self.dismissed)

    def near(self, not_read: NotRead) -> tuple[str, ...]:
        """Return known words like some that were not understood."""
        return near_words(self.around.words, not_read)

    def dismiss(self, not_read: NotRead) -> None:
        """Let words that were not understood go."""
        self.dismissed.append(not_read.words)
        self._keep()
        self._forget_if_done()

    async def put_into_remark(self, not_read: NotRead, key: str) -> bool:
        """Write words that were not understood into the remark of a part."""
        await self._begin()
        name = tr("{part}: remark", part=self.around.name_of(key))
        made = remark_added(key, not_read.words)
        if not await exam_sessions.change(self.session, self.editor, made, name):
            return False
        self.dismiss(not_read)
        return True

    def to_record(self) -> tuple[Proposal, ...]:
        """Return what would be recorded now: understood or answered, and not struck."""
        return tuple(
            asked.proposal
            for asked in self._settled()
            if asked.proposal and asked.proposal.item_id not in self.struck
        )

    async def confirm(self) -> tuple[tuple[Proposal, ...], tuple[Refused, ...]]:
        """Record what is understood and not struck; what is refused stays, and why.

        Returns:
            What was recorded, and what was not.
        """
        await self._begin()
        wanted = self.to_record()
        dropped = [a.item_id for a in self._settled() if a.is_dropped]
        made: list[Proposal] = []
        refused: list[Refused] = []
        # What was counted was counted now, whatever else is entered late.
        for is_counted in (False, True):
            some = [p for p in wanted if p.is_counted is is_counted]
            if some:
                await self._record(some, made, refused, is_counted=is_counted)
        struck = [p for p in self.struck if p not in self.done]
        self.done += [p.item_id for p in made] + struck + dropped
        self._keep()
        self._forget_if_done()
        return tuple(made), tuple(refused)

    async def _record(
        self,
        some: list[Proposal],
        made: list[Proposal],
        refused: list[Refused],
        *,
        is_counted: bool,
    ) -> None:
        taken: list[Proposal] = []
        not_taken: list[Refused] = []

        def change(exam: Exam, edit: Edit) -> Exam:
            # It may be made a second time, with another moment.
            taken.clear()
            not_taken.clear()
            for proposal in some:
                try:
                    exam = proposal.change(exam, edit)
                except ExamError as refusal:
                    not_taken.append(Refused(proposal.title, tr(refusal.advice)))
                else:
                    taken.append(proposal)
            return exam

        names = ", ".join(p.title for p in some)
        observed = self.editor.now() if is_counted else None
        if await exam_sessions.change(
            self.session, self.editor, change, f"{tr(TITLE)}: {names}", observed
        ):
            made += taken
            refused += not_taken

    def _forget_if_done(self) -> None:
        """Empty the line once nothing of it is left to record, to answer or to keep."""
        if not self._items() and not self.not_read():
            self.write("")
