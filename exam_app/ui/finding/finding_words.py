"""How a finding is called on the screens that describe it."""

from exam_app.domain.exam.findings import NOT_PRESENT, Finding
from exam_app.domain.exam.region_states import NOT_PRESENT_REASONS
from exam_app.language.catalogue import tr


def finding_words(finding: Finding) -> str:
    """Return a finding's words in the language chosen; own words as they were typed."""
    if finding.is_loss:
        reason = finding.words.removeprefix(NOT_PRESENT)
        shown = tr(reason) if reason in NOT_PRESENT_REASONS else reason
        return tr("not present: {reason}", reason=shown)
    return tr(finding.words) if finding.term_id else finding.words
