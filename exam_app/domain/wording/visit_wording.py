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
from exam_app.domain.wording.record_times import AS_STATED, TimeStyle

DRUG_LOG_NOTE = "Does not replace the controlled-drug log."


def _labelled(*pairs: tuple[str, str]) -> tuple[str, ...]:
    return tuple(f"{label}: {text}" for label, text in pairs if text)


def visit_sections(
    exam: Exam, times: TimeStyle = AS_STATED
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return (heading, lines) of group, presentation, intake, given, plan and care."""
    seen, care, plan = exam.presentation, exam.care, exam.plan
    given = tuple(given_words(exam, given, times) for given in exam.given)
    return (
        ("Group", group_lines(exam.group) if exam.group else ()),
        (
            "Presentation",
            _labelled(
                ("Presented by", seen.presented_by),
                ("Presenting complaint", seen.complaint),
                ("History", seen.history),
                (
                    "Consent to",
                    join_words(seen.consent_to, seen.consent_by, seen.consent_how),
                ),
            )
            if seen
            else (),
        ),
        ("Bite and rabies", bite_lines(exam.bite)),
        ("Intake", _intake(exam)),
        ("Given", (*given, DRUG_LOG_NOTE) if given else ()),
        ("Procedures", tuple(map(procedure_words, exam.procedures))),
        ("Samples and tests", tuple(map(sample_words, exam.samples))),
        (
            "Assessment and plan",
            _labelled(
                ("Veterinarian's assessment", plan.assessment),
                ("Differentials", plan.differentials),
                ("Plan", plan.plan),
                ("Re-check", plan.recheck),
                ("Owner was told", plan.owner_told),
            )
            if plan
            else (),
        ),
        (
            "Care",
            _labelled(
                ("Isolation", care.isolation),
                ("Nothing by mouth", care.nothing_by_mouth),
                ("Medication due", care.medication_due),
            )
            if care
            else (),
        ),
    )


def scan_words(scan: ChipScan) -> str:
    """Write one scan: what it found, its occasion, the passes and the scanner."""
    if scan.not_done:
        return f"{scan.slot}: not scanned: {scan.not_done}"
    found = ", ".join(map(show_chip, scan.numbers)) or "none found on this scan"
    passes = f"{scan.passes} passes" if scan.passes > 1 else "1 pass" * scan.passes
    return f"{found} ({join_words(scan.slot, passes, scan.scanner)})"


def bite_lines(bite: BiteHistory | None) -> tuple[str, ...]:
    """Return a line for each bite, then what concerns rabies."""
    if bite is None:
        return ()
    return (
        *(f"{_bite_label(block)}: {_bite_words(block)}" for block in bite.blocks),
        *_labelled(
            ("Bite or scratch reported to", bite.told_of_either),
            ("Rabies concern", bite.rabies_concern),
            ("Rabies vaccine, as on the certificate", bite.rabies_vaccine),
            ("Quarantine, as typed", bite.quarantine),
        ),
    )


def _bite_label(block: Bitten) -> str:
    if not block.who:
        return "Of a bite or scratch, whose was not said"
    return "Examiner bitten or scratched" if block.is_examiner else "BITE OR SCRATCH"


def _bite_words(block: Bitten) -> str:
    whose = "by the examiner" if block.is_examiner else "as they tell it"
    aid = f"first aid {whose}" if block.who else "first aid"
    return join_words(
        f"bitten: {block.name}" if block.name else "",
        block.who,
        block.when,
        f"{aid}: {block.first_aid}" if block.first_aid else "",
        f"told of it: {block.told}" if block.told else "",
    )


def _intake(exam: Exam) -> tuple[str, ...]:
    intake = exam.intake
    if intake is None:
        return ()
    return (
        *_labelled(
            ("Intake", intake.kind),
            ("Found", join_words(intake.found_where, intake.found_when)),
            ("Hold until, as typed", intake.hold_until),
        ),
        *(f"Chip scan: {scan_words(scan)}" for scan in intake.scans),
        *_labelled(("CHIP NUMBERS DIFFER", difference_words(exam))),
    )


def given_words(exam: Exam, given: Given, times: TimeStyle = AS_STATED) -> str:
    """Write one thing that was given: product and dose first, then how, who, why."""
    giver = given.given_by or person_name(exam, given.attribution.examined_by)
    return join_words(
        given.product,
        given.dose,
        given.route,
        given.site,
        times.clock(given.at) if given.at else "",
        f"lot {given.lot}" if given.lot else "",
        f"expires {given.expiry}" if given.expiry else "",
        f"given by {giver}",
        f"ordered by {given.ordered_by}" if given.ordered_by else "",
        given.reason,
        f"withdrawal {given.withdrawal}" if given.withdrawal else "",
    )


def procedure_words(done: Procedure) -> str:
    """Write one procedure: what, where, note."""
    return join_words(done.what, done.where, done.note)


def sample_words(sample: Sample) -> str:
    """Write one sample: kind, label on the tube, test, result."""
    label = f"label {sample.label}" if sample.label else ""
    return join_words(sample.kind, label, sample.test, sample.result)
