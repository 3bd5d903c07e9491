"""What was found, in a region's own terms or the examiner's own words."""

from dataclasses import dataclass
from enum import StrEnum

from exam_app.domain.animal.body_marks import BodyMark
from exam_app.domain.exam.people import Attribution
from exam_app.domain.lumps.lumps import Lump
from exam_app.domain.protocol.scales import Graded
from exam_app.language.catalogue import to_translate

NOT_PRESENT = "not present: "


class Call(StrEnum):
    """The examiner's call on one finding; never a diagnosis."""

    NOTED = to_translate("noted")
    VETERINARIAN_TO_LOOK = to_translate("veterinarian to look")
    URGENT = to_translate("urgent")


class Severity(StrEnum):
    """How marked a finding is, by the examiner's impression."""

    SLIGHT = to_translate("slight")
    MODERATE = to_translate("moderate")
    MARKED = to_translate("marked")


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed in one region.

    Attributes:
        finding_id: UUID as 32 hexadecimal digits.
        term_id: The region's term, or empty for own words.
        words: The term's label as shown, or the own words; never empty.
        side: ``left``, ``right``, ``midline`` or empty; the animal's own side.
        qualities: Which kind, as chosen from the term.
        place: Landmark and distance.
        extent: How much of the part, as typed.
        severity: Impression, or ``None`` when not said.
        since: Since when, as told or typed.
        grades: Grades given with this finding.
        lump: Size and feel, for a lump.
        mark: Where it is on a drawing, where that was tapped.
        same_as: ``finding_id`` of the earlier finding that the examiner says this is;
            empty where nobody has said so.
    """

    finding_id: str
    words: str
    attribution: Attribution
    term_id: str = ""
    side: str = ""
    qualities: tuple[str, ...] = ()
    place: str = ""
    extent: str = ""
    severity: Severity | None = None
    since: str = ""
    note: str = ""
    call: Call = Call.NOTED
    grades: tuple[Graded, ...] = ()
    lump: Lump | None = None
    mark: BodyMark | None = None
    same_as: str = ""

    @property
    def is_loss(self) -> bool:
        """Whether it says that the part is not there."""
        return not self.term_id and self.words.startswith(NOT_PRESENT)


class EarlierOutcome(StrEnum):
    """What became of a finding of an earlier exam."""

    GONE = to_translate("gone")
    SAME = to_translate("same")
    CHANGED = to_translate("changed")
    NOT_LOOKED_FOR = to_translate("not looked for")


@dataclass(frozen=True, slots=True)
class EarlierFinding:
    """An open finding of an earlier record, and what this exam says of it.

    Attributes:
        exam_id: The record that holds it.
        date: Local date of that record, as text.
        summary: Its line in that record.
        key: Region key it belongs to.
        outcome: ``None`` until this exam has answered.
        lump: Its size and feel then, for a lump that was measured.
        term_id: The region's term it was recorded with, or empty.
        mark: Where it stood on a drawing, if it was marked.
    """

    exam_id: str
    finding_id: str
    key: str
    date: str
    summary: str
    outcome: EarlierOutcome | None = None
    lump: Lump | None = None
    term_id: str = ""
    mark: BodyMark | None = None

    @property
    def still_there(self) -> bool:
        """Whether this exam has found it again."""
        return self.outcome in {EarlierOutcome.SAME, EarlierOutcome.CHANGED}
