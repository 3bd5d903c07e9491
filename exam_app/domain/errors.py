"""Every refusal of the exam itself, each with advice: the cause, then the next step.

Errors are raised to refuse; what only needs a look is returned as an open point.
Messages hold no patient details: they name the part, or say the plain reason.
"""

from typing import ClassVar

from exam_app.language.catalogue import to_translate


class ExamError(Exception):
    """Any refusal that has a sentence for the person at the screen."""

    advice: ClassVar[str] = ""


class ExamClosedError(ExamError):
    """The exam is closed; a closed record is never edited."""

    advice = to_translate(
        "This exam is closed and signed. Nothing was changed. "
        "Start a continuation or a new exam to add to it."
    )


class NotInScopeError(ExamError):
    """The region or vital is not part of this exam's scope."""

    advice = to_translate(
        "This part is not in the scope chosen for this exam. Nothing was changed. "
        "Start a wider exam to examine it."
    )


class FocusError(ExamError):
    """A focused exam names a part of which its starter's exam says nothing."""

    advice = to_translate(
        "This part belongs to a veterinarian's exam. Nothing was started. "
        "Choose other parts, or let a veterinarian start the exam."
    )


class UnknownItemError(ExamError):
    """The species protocol knows no region, clause, vital or sign of that name."""

    advice = to_translate(
        "The species protocol has no such part. Nothing was changed. "
        "Report which protocol and part, and use your own words meanwhile."
    )


class OwnWordsError(ExamError):
    """The rest of a part was asserted beside a find in own words."""

    advice = to_translate(
        "Only you know what your own words deny. Nothing was changed. "
        "Open the part, tap what they deny, and record the rest."
    )


class NothingLeftError(ExamError):
    """Everything the sentence claims of a part is denied by what was found there."""

    advice = to_translate(
        "What was found here leaves nothing to call free of abnormality. "
        "Nothing was changed. Note what you found today, if it is not noted yet."
    )


class MissingReasonError(ExamError):
    """Something left undone was given no reason."""

    advice = to_translate(
        "A part that is not done needs a reason. Nothing was changed. "
        "Choose a reason or write your own."
    )


class LateEntryError(ExamError):
    """A time given for something seen earlier is none, or not of this half day."""

    advice = to_translate(
        "This is no time of the last twelve hours. Nothing was changed. "
        "Type the time of day it was seen, for example 13:45."
    )


class UnitMismatchError(ExamError):
    """A unit measures something else than the item asks for."""

    advice = to_translate(
        "That unit does not belong to this measurement. Nothing was changed. "
        "Choose one of the units offered beside the field."
    )


class ReadingError(ExamError):
    """What was typed cannot be read as one number with a unit."""

    advice = to_translate(
        "The number could not be read. Nothing was changed. "
        "Type one number, then the unit, for example 10.2 kg."
    )


class CountError(ExamError):
    """A count or a run of taps gives no rate."""

    advice = to_translate(
        "This count gives no rate. The count itself is kept. "
        "Count again, for 30 seconds or for at least six beats or breaths."
    )


class UnknownGradeError(ExamError):
    """The scale has no such grade."""

    advice = to_translate(
        "The scale has no such grade. Nothing was changed. "
        "Choose one of the grades listed."
    )


class LumpSizeError(ExamError):
    """A lump was given no size, more than three, or one that is no length."""

    advice = to_translate(
        "A lump takes one to three sizes, each a length above zero. "
        "Nothing was changed. Give the longest first, in mm, cm or in."
    )


class MarkError(ExamError):
    """A mark lies on no drawing, or has no number."""

    advice = to_translate(
        "This is no place on a drawing. Nothing was changed. "
        "Tap the drawing again, or record the finding without a mark."
    )


class FoundAgainError(ExamError):
    """An earlier finding that was found again is called gone, or found once more."""

    advice = to_translate(
        "This earlier finding was found again in this exam. Nothing was changed. "
        "Change what was found today, or take it back first."
    )


class PhotographTwiceError(ExamError):
    """The very same picture is in this exam already."""

    advice = to_translate(
        "This very photograph is in this exam already. Nothing was changed. "
        "Change what is said of it, or choose another picture."
    )


class TooManyPhotographsError(ExamError):
    """An exam has as many photographs as it may have."""

    advice = to_translate(
        "This exam has as many photographs as one exam can keep. Nothing was changed. "
        "Take one out that is not needed, then add this one."
    )


class BulkAssertionError(ExamError):
    """Normal was to be recorded for several regions at once."""

    advice = to_translate(
        "Normal is recorded for one region at a time. Nothing was changed. "
        "Answer each region on its own."
    )


class OtherSexError(ExamError):
    """What was said of the parts of one sex denies what is said of the other's."""

    advice = to_translate(
        "Something was recorded of the parts of the other sex, and one animal was not "
        "said to have both. Nothing was changed. Open that part again first, or record "
        "what is seen here as a finding."
    )


class OpenPointsError(ExamError):
    """Closing was refused: something is still open.

    Attributes:
        points: Every open point, in the order of the review.
    """

    advice = to_translate(
        "The exam is not closed and nothing is lost. "
        "Answer each open point in the list, or stop early with a reason."
    )

    def __init__(self, points: tuple[object, ...]) -> None:
        """Keep every open point in ``points``."""
        super().__init__(f"{len(points)} open")
        self.points = points
