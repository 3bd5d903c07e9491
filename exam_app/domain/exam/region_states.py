"""The answer for one region: its states, struck clauses, results, remarks.

Unexamined is never the same as normal. A sentence is kept as it was shown.
"""

from dataclasses import dataclass
from enum import StrEnum

from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Attribution
from exam_app.language.catalogue import to_translate


class RegionState(StrEnum):
    """Where a region stands."""

    UNEXAMINED = to_translate("unexamined")
    NO_ABNORMALITY = to_translate("no abnormality found")
    WITH_FINDINGS = to_translate("with findings")
    PARTLY = to_translate("partly examined")
    RESULT = to_translate("felt for, not felt")
    NOT_EXAMINED = to_translate("not examined")
    NOT_PRESENT = to_translate("not present")


class Conclusion(StrEnum):
    """What the examiner has said about the region as a whole."""

    OPEN = "open"
    ASSERTED = "asserted"
    NOT_EXAMINED = "not examined"
    NOT_PRESENT = "not present"


NOT_EXAMINED_REASONS = (
    "unsafe",
    "refused",
    "too stressed",
    "owner declined",
    "outside my training: for the veterinarian",
    "no equipment",
)
NOT_PRESENT_REASONS = (
    "docked",
    "removed (enucleated)",
    "amputated",
    "other sex",
    "born without",
)


@dataclass(frozen=True, slots=True)
class StruckClause:
    """A claim of the sentence that does not stand.

    Attributes:
        text: The claim as shown.
        reason: Why it was not seen; or the result that stands in its place, as shown.
    """

    clause_id: str
    text: str
    reason: str


@dataclass(frozen=True, slots=True)
class RegionEntry:
    """Everything said about one region key.

    Attributes:
        conclusion: The examiner's word on the whole region.
        asserted: Claims as shown, in order, without the struck ones.
            While the region is open again it keeps what was not taken back.
        struck: Claims not seen, each with a reason.
        instead: Claims answered by a result in their place ("felt for, not felt").
        findings: In the order found.
        reason: Why not examined or not present.
        remark: Noted, not abnormal.
        is_parked: Put off to later today.
        attribution: Who answered last; ``None`` while unexamined.
    """

    conclusion: Conclusion = Conclusion.OPEN
    asserted: tuple[str, ...] = ()
    struck: tuple[StruckClause, ...] = ()
    instead: tuple[StruckClause, ...] = ()
    findings: tuple[Finding, ...] = ()
    reason: str = ""
    remark: str = ""
    is_parked: bool = False
    attribution: Attribution | None = None

    @property
    def state(self) -> RegionState:
        """The state that follows from what was said."""
        if self.conclusion is Conclusion.NOT_PRESENT:
            return RegionState.NOT_PRESENT
        if self.findings:
            return RegionState.WITH_FINDINGS
        if self.conclusion is Conclusion.NOT_EXAMINED:
            return RegionState.NOT_EXAMINED
        if self.conclusion is Conclusion.OPEN:
            return RegionState.UNEXAMINED
        if self.struck:
            return RegionState.PARTLY
        is_result = self.instead and not self.asserted
        return RegionState.RESULT if is_result else RegionState.NO_ABNORMALITY

    @property
    def is_answered(self) -> bool:
        """Whether anything was said of the region as a whole, or found there."""
        return self.conclusion is not Conclusion.OPEN or bool(self.findings)

    @property
    def is_gap(self) -> bool:
        """Whether something here was left undone for a reason."""
        return self.conclusion is Conclusion.NOT_EXAMINED or bool(self.struck)
