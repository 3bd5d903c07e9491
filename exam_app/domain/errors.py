"""Every refusal of the exam itself, each with advice: the cause, then the next step.

Errors are raised to refuse; what only needs a look is returned as an open point.
Messages hold no patient details; parts are attributes.
"""

from typing import ClassVar


class ExamError(Exception):
    """Any refusal that has a sentence for the person at the screen."""

    advice: ClassVar[str] = ""


class ExamClosedError(ExamError):
    """The exam is closed; a closed record is never edited."""

    advice = (
        "This exam is closed and signed. Nothing was changed. "
        "Start a continuation or a new exam to add to it."
    )


class NotInScopeError(ExamError):
    """The region or vital is not part of this exam's scope."""

    advice = (
        "This part is not in the scope chosen for this exam. Nothing was changed. "
        "Start a wider exam to examine it."
    )


class UnknownItemError(ExamError):
    """The species protocol knows no region, clause, vital or sign of that name."""

    advice = (
        "The species protocol has no such part. Nothing was changed. "
        "Report which protocol and part, and use your own words meanwhile."
    )

    def __init__(self, item: str) -> None:
        """Keep the name of the unknown part in ``item``."""
        super().__init__(item)
        self.item = item


class MissingReasonError(ExamError):
    """Something left undone was given no reason."""

    advice = (
        "A part that is not done needs a reason. Nothing was changed. "
        "Choose a reason or write your own."
    )
