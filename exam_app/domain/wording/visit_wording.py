"""The sections of a record around the exam itself: why it came, what was done."""

from exam_app.domain.animal.chips import difference_words, show_chip
from exam_app.domain.animal.groups import group_lines
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.visit import (
    BiteHistory,
    Bitten,
    ChipScan,
    Given,
    Procedure,
    Sample,
)
from exam_app.domain.wording.exam_wording import join_words, person_name
from exam_app.domain.wording.kept_words import offered, reason_shown
from exam_app.domain.wording.record_times import AS_STATED, TimeStyle
from exam_app.language.catalogue import to_translate, tr, tr_plural

DRUG_LOG_NOTE = to_translate("Does not replace the controlled-drug log.")


def _labelled(*pairs: tuple[str, str]) -> tuple[str, ...]:
    return tuple(f"{label}: {text}" for label, text in pairs if text)


def visit_sections(
    exam: Exam, times: TimeStyle = AS_STATED
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return (heading, lines) of group, presentation, intake, given, plan and care."""
    seen, care, plan = exam.presentation, exam.care, exam.plan
    given = tuple(given_words(exam, given, times) for given in exam.given)
    return (
        (to_translate("Group"), group_lines(exam.group) if exam.group else ()),
        (
            to_translate("Presentation"),
            _labelled(
                (tr("Presented by"), seen.presented_by),
                (tr("Presenting complaint"), seen.complaint),
                (tr("History"), seen.history),
                (
                    tr("Consent to"),
                    join_words(
                        seen.consent_to, seen.consent_by, offered(seen.consent_how)
                    ),
                ),
            )
            if seen
            else (),
        ),
        (to_translate("Bite and rabies"), bite_lines(exam.bite)),
        (to_translate("Intake"), _intake(exam)),
        (to_translate("Given"), (*given, tr(DRUG_LOG_NOTE)) if given else ()),
        (to_translate("Procedures"), tuple(map(procedure_words, exam.procedures))),
        (to_translate("Samples and tests"), tuple(map(sample_words, exam.samples))),
        (
            to_translate("Assessment and plan"),
            _labelled(
                (tr("Veterinarian's assessment"), plan.assessment),
                (tr("Differentials"), plan.differentials),
                (tr("Plan"), plan.plan),
                (tr("Re-check"), plan.recheck),
                (tr("Owner was told"), plan.owner_told),
            )
            if plan
            else (),
        ),
        (
            to_translate("Care"),
            _labelled(
                (tr("Isolation"), care.isolation),
                (tr("Nothing by mouth"), care.nothing_by_mouth),
                (tr("Medication due"), care.medication_due),
            )
            if care
            else (),
        ),
    )


def scan_words(scan: ChipScan) -> str:
    """Write one scan: what it found, its occasion, the passes and the scanner."""
    if scan.not_done:
        return tr(
            "{occasion}: not scanned: {reason}",
            occasion=offered(scan.slot),
            reason=reason_shown(scan.not_done),
        )
    found = ", ".join(map(show_chip, scan.numbers)) or tr("none found on this scan")
    passes = ""
    if scan.passes:
        passes = tr_plural("{count} pass", "{count} passes", scan.passes)
    return f"{found} ({join_words(offered(scan.slot), passes, scan.scanner)})"


def bite_lines(bite: BiteHistory | None) -> tuple[str, ...]:
    """Return a line for each bite, then what concerns rabies."""
    if bite is None:
        return ()
    return (
        *(f"{_bite_label(block)}: {_bite_words(block)}" for block in bite.blocks),
        *_labelled(
            (tr("Bite or scratch reported to"), bite.told_of_either),
            (tr("Rabies concern"), bite.rabies_concern),
            (tr("Rabies vaccine, as on the certificate"), bite.rabies_vaccine),
            (tr("Quarantine, as typed"), bite.quarantine),
        ),
    )


def _bite_label(block: Bitten) -> str:
    if not block.who:
        return tr("Of a bite or scratch, whose was not said")
    if block.is_examiner:
        return tr("Examiner bitten or scratched")
    return tr("BITE OR SCRATCH")


def _bite_words(block: Bitten) -> str:
    aid = to_translate("first aid: {aid}")
    if block.who:
        aid = to_translate("first aid as they tell it: {aid}")
        if block.is_examiner:
            aid = to_translate("first aid by the examiner: {aid}")
    return join_words(
        tr("bitten: {name}", name=block.name) if block.name else "",
        block.who,
        block.when,
        tr(aid, aid=offered(block.first_aid)) if block.first_aid else "",
        tr("told of it: {whom}", whom=offered(block.told)) if block.told else "",
    )


def _intake(exam: Exam) -> tuple[str, ...]:
    intake = exam.intake
    if intake is None:
        return ()
    return (
        *_labelled(
            (tr("Intake"), offered(intake.kind)),
            (tr("Found"), join_words(intake.found_where, intake.found_when)),
            (tr("Hold until, as typed"), intake.hold_until),
        ),
        *(f"{tr('Chip scan')}: {scan_words(scan)}" for scan in intake.scans),
        *_labelled((tr("CHIP NUMBERS DIFFER"), difference_words(exam))),
    )


def given_words(exam: Exam, given: Given, times: TimeStyle = AS_STATED) -> str:
    """Write one thing that was given: product and dose first, then how, who, why."""
    giver = given.given_by or person_name(exam, given.attribution.examined_by)
    return join_words(
        given.product,
        given.dose,
        offered(given.route),
        given.site,
        times.clock(given.at) if given.at else "",
        tr("lot {lot}", lot=given.lot) if given.lot else "",
        tr("expires {date}", date=given.expiry) if given.expiry else "",
        tr("given by {name}", name=giver),
        tr("ordered by {name}", name=given.ordered_by) if given.ordered_by else "",
        given.reason,
        tr("withdrawal {times}", times=given.withdrawal) if given.withdrawal else "",
    )


def procedure_words(done: Procedure) -> str:
    """Write one procedure: what, where, note."""
    return join_words(done.what, done.where, done.note)


def sample_words(sample: Sample) -> str:
    """Write one sample: kind, label on the tube, test, result."""
    label = tr("label {label}", label=sample.label) if sample.label else ""
    return join_words(offered(sample.kind), label, sample.test, sample.result)
