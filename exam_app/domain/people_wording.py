"""The lines of a record that say who examined what, who wrote it, and when."""

from exam_app.domain.exam import Exam, keys_in_scope, vitals_in_scope, words_for
from exam_app.domain.protocol import SpeciesProtocol
from exam_app.domain.review import region_label
from exam_app.domain.wording import person_name


def people_lines(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return who started, examined, entered and closed, and the protocol used."""
    lines = [
        f"Started {exam.started.date_and_time()} by "
        f"{person_name(exam, exam.started_by)}"
    ]
    lines += examined_by(exam, protocol)
    if exam.closing:
        closer = person_name(exam, exam.closing.closed_by)
        lines.append(f"Closed {exam.closing.at.date_and_time()} by {closer}")
    if exam.continues:
        lines.append(f"Continues record {exam.continues}")
    lines.append(
        f"Protocol {exam.protocol_id} version {protocol.version}, "
        f"{exam.protocol_hash[:12]}"
    )
    return tuple(lines)


def examined_by(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Say for each person what they examined, what another entered, what came late."""
    words = words_for(exam)
    named: dict[tuple[str, str], list[str]] = {}
    late = []
    entries = [
        (region_label(protocol, key, words), exam.entry(key).attribution)
        for key in keys_in_scope(exam, protocol)
    ] + [
        (vital.label, exam.vital(vital.vital_id).attribution)
        for vital in vitals_in_scope(exam, protocol)
    ]
    for label, by in entries:
        if by is None:
            continue
        named.setdefault((by.examined_by, by.entered_by), []).append(label)
        if by.is_late:
            late.append(
                f"Late entry: {label}, seen {by.observed.clock()}, "
                f"entered {by.entered.clock()}"
            )
    lines = []
    for (examiner, scribe), labels in named.items():
        wrote = f", entered by {person_name(exam, scribe)}" * (scribe != examiner)
        only = len(named) == 1
        what = "everything answered" if only else ", ".join(labels)
        lines.append(f"Examined by {person_name(exam, examiner)}{wrote}: {what}")
    return (*lines, *late)
