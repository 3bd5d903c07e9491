"""Who examined, who entered it, who did what, and what was entered late."""

from collections.abc import Iterable, Iterator, Sequence

from exam_app.domain.exam.closing import is_left_by_stop
from exam_app.domain.exam.exam import (
    Exam,
    keys_in_scope,
    vitals_in_scope,
    vitals_not_taken,
    words_for,
)
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.region_states import RegionEntry, RegionState
from exam_app.domain.exam.review import part_label, vital_label
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.exam_wording import found_words, person_name, sign_words
from exam_app.domain.wording.headline import complete_words
from exam_app.domain.wording.kept_words import offered
from exam_app.domain.wording.record_times import AS_STATED, TimeStyle
from exam_app.language.catalogue import to_translate, tr

Writers = tuple[str, str]

EXAMINED = to_translate("Examined by {names}: {what}")
NOT_EXAMINED = to_translate("Said not to be examined or done by {names}: {what}")
NOT_PRESENT = to_translate("Said not to be present by {names}: {what}")
_DEEDS = {
    RegionState.NOT_EXAMINED: NOT_EXAMINED,
    RegionState.NOT_PRESENT: NOT_PRESENT,
}


def people_lines(
    exam: Exam, protocol: SpeciesProtocol, times: TimeStyle = AS_STATED
) -> tuple[str, ...]:
    """Return who started, examined, entered and closed, and the protocol used."""
    starter = person_name(exam, exam.started_by)
    lines = [
        tr("Started {time} by {name}", time=times.full(exam.started), name=starter)
    ]
    lines += examined_by(exam, protocol, times)
    lines += _around_by_others(exam, times)
    if exam.stopped:
        by = exam.stopped.attribution
        stopper = both_names(exam, by)
        when = times.clock(by.observed)
        lines.append(tr("Stopped early {time} by {name}", time=when, name=stopper))
        lines += _late([(tr("stopped early"), by)], times)
    if exam.closing:
        closer = person_name(exam, exam.closing.closed_by)
        when = times.full(exam.closing.at)
        lines.append(tr("Closed {time} by {name}", time=when, name=closer))
    if exam.continues:
        lines.append(tr("Continues record {record}", record=exam.continues))
    lines.append(
        tr(
            "Protocol {protocol} version {version}, {hash}",
            protocol=exam.protocol_id,
            version=protocol.version,
            hash=exam.protocol_hash[:12],
        )
    )
    return tuple(lines)


def examined_by(
    exam: Exam, protocol: SpeciesProtocol, times: TimeStyle = AS_STATED
) -> tuple[str, ...]:
    """Say for each person what they examined, and what they said was not examined.

    Nobody is named beside a part as its examiner that was not examined. What another
    person entered and what was entered late is said too.
    """
    named: dict[tuple[str, Writers], list[str]] = {}
    said = []
    for deed, label, by in _deeds(exam, protocol):
        named.setdefault((deed, (by.examined_by, by.entered_by)), []).append(label)
        said.append((label, by))
    late = _late([*said, *_found(exam, protocol)], times)
    alone = exam.is_closed and len({writers for _, writers in named}) == 1
    is_whole = complete_words(exam, protocol) and not vitals_not_taken(exam, protocol)
    everything = tr("everything but what is named as not done")
    if is_whole:
        everything = tr("everything")
    lines = []
    for (deed, writers), labels in named.items():
        is_all = alone and deed == EXAMINED
        what = everything if is_all else "; ".join(labels)
        lines.append(tr(deed, names=_both_names(exam, writers), what=what))
    return (*lines, *late)


def _late(said: Iterable[tuple[str, Attribution]], times: TimeStyle) -> list[str]:
    """Say what was entered late: once for all that was seen at one moment."""
    seen: dict[Moment, list[tuple[str, Moment]]] = {}
    for label, by in said:
        if by.is_late:
            seen.setdefault(by.observed, []).append((label, by.entered))
    lines = []
    for moment, found in seen.items():
        labels = "; ".join(dict.fromkeys(label for label, _ in found))
        entered = sorted((at for _, at in found), key=lambda at: at.utc_ms)
        last = entered[-1]
        ends = dict.fromkeys(times.near(at, last) for at in (entered[0], last))
        lines.append(_late_line(labels, times.near(moment, last), list(ends)))
    return lines


def _late_line(labels: str, seen: str, entered: Sequence[str]) -> str:
    """Say what was entered late, at one time or between two."""
    if len(entered) == 1:
        return tr(
            "Late entry: {labels}, seen {seen}, entered {entered}",
            labels=labels,
            seen=seen,
            entered=entered[0],
        )
    return tr(
        "Late entry: {labels}, seen {seen}, entered {first} to {last}",
        labels=labels,
        seen=seen,
        first=entered[0],
        last=entered[1],
    )


def _around_by_others(exam: Exam, times: TimeStyle) -> list[str]:
    """Say who did or noted what surrounds the exam, where it was not its starter."""
    named: dict[Writers, list[str]] = {}
    for label, by in _around(exam):
        if _writers(by) != (exam.started_by, exam.started_by):
            named.setdefault(_writers(by), []).append(label)
    return [
        *(
            tr(
                "Done or noted by {names}: {what}",
                names=_both_names(exam, writers),
                what="; ".join(labels),
            )
            for writers, labels in named.items()
        ),
        *_late(_around(exam), times),
    ]


def _around(exam: Exam) -> Iterator[tuple[str, Attribution]]:
    """Yield what surrounds the exam, in the record's order, with who and when."""
    for sign in exam.urgent:
        named = sign_words(sign)
        yield tr("urgent sign {sign}", sign=named), sign.attribution
        for answer in sign.answers:
            yield f"{tr(answer.kind.value)} ({named})", answer.attribution
    for scan in exam.intake.scans if exam.intake else ():
        occasion = offered(scan.slot)
        yield tr("chip scan, {occasion}", occasion=occasion), scan.attribution
    yield from ((given.product, given.attribution) for given in exam.given)
    yield from ((done.what, done.attribution) for done in exam.procedures)
    yield from ((offered(sample.kind), sample.attribution) for sample in exam.samples)


def _found(exam: Exam, protocol: SpeciesProtocol) -> Iterator[tuple[str, Attribution]]:
    """Yield the finds of parts that were answered for by the same person."""
    for key in keys_in_scope(exam, protocol):
        entry = exam.entry(key)
        for found in entry.findings:
            if entry.attribution and not entry.attribution.is_late:
                label = f"{part_label(exam, protocol, key)} ({found_words(found)})"
                yield label, found.attribution


def both_names(exam: Exam, by: Attribution) -> str:
    """Name who saw or did it, and who entered it where that was another."""
    return _both_names(exam, _writers(by))


def _both_names(exam: Exam, writers: Writers) -> str:
    examiner, scribe = writers
    seen_by = person_name(exam, examiner)
    if scribe == examiner:
        return seen_by
    wrote = person_name(exam, scribe)
    return tr("{examiner}, entered by {scribe}", examiner=seen_by, scribe=wrote)


def _writers(by: Attribution) -> Writers:
    return by.examined_by, by.entered_by


def _as_far_as_done(label: str, entry: RegionEntry) -> str:
    is_partly = entry.is_gap and entry.state is not RegionState.NOT_EXAMINED
    return tr("{part} (partly)", part=label) if is_partly else label


def _deeds(
    exam: Exam, protocol: SpeciesProtocol
) -> Iterator[tuple[str, str, Attribution]]:
    """Yield for each answer what its author did, the label, and who and when."""
    for key in keys_in_scope(exam, protocol):
        entry = exam.entry(key)
        if is_left_by_stop(exam, entry.reason):
            continue
        deed = _DEEDS.get(entry.state, EXAMINED)
        if entry.state is not RegionState.UNEXAMINED and entry.attribution:
            label = part_label(exam, protocol, key)
            yield deed, _as_far_as_done(label, entry), entry.attribution
            for found in entry.findings:
                if _writers(found.attribution) != _writers(entry.attribution):
                    said = f"{label} ({found_words(found)})"
                    yield EXAMINED, said, found.attribution
    for vital in vitals_in_scope(exam, protocol):
        answer = exam.vital(vital.vital_id)
        is_left = is_left_by_stop(exam, answer.reason) and not answer.has_value
        if answer.is_answered and answer.attribution and not is_left:
            deed = EXAMINED if answer.has_value else NOT_EXAMINED
            yield deed, vital_label(vital, words_for(exam)), answer.attribution
