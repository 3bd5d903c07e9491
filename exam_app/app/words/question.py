"""A question about an item of a line, and what each of its answers settles."""

from dataclasses import dataclass, replace
from typing import Any

from exam_app.app.words.settled import Settled
from exam_app.domain.words.items import Doubt
from exam_app.language.catalogue import to_translate, tr

DROP, ALL, REMARK = "drop", "all", "remark"
YES, REPEAT, REPLACE = "yes", "repeat", "replace"


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer of a question.

    Attributes:
        key: Kept with the line, as ``unit:degC``.
        after: What is settled by it; ``None``: it was not said.
    """

    key: str
    label: str
    after: Settled | None


@dataclass(frozen=True, slots=True)
class Question:
    """One question about an item.

    Attributes:
        text: In full words.
        claims: Of a sentence: each of its claims, with whether it was said.
    """

    text: str
    answers: tuple[Answer, ...]
    claims: tuple[tuple[str, bool], ...] = ()

    def answered(self, key: str) -> Answer | None:
        """Return the answer of a key, if there is one."""
        return next((a for a in self.answers if a.key == key), None)


def without(settled: Settled, *doubts: Doubt, **changed: object) -> Settled:
    """Return an item with some doubts settled and fields changed."""
    said: dict[str, Any] = {"doubts": settled.item.doubts - set(doubts), **changed}
    return replace(settled, item=replace(settled.item, **said))


def asking(
    text: str, *answers: Answer, dropped: str = to_translate("Not this")
) -> Question:
    """Return a question, whose last answer is that it was not said."""
    return Question(text, (*answers, Answer(DROP, tr(dropped), None)))


def as_remark(settled: Settled) -> Answer:
    """Return the answer that records the words alone."""
    after = replace(without(settled, *settled.item.doubts), as_remark=True)
    return Answer(REMARK, tr("Only what I said, as a remark"), after)
