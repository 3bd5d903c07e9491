"""What an exam says that every sheet about it must say in the same way."""

from dataclasses import replace

from exam_app.domain.exam.exam import keys_offered, vitals_in_scope
from exam_app.domain.exam.findings import Call
from exam_app.domain.protocol.protocol import split_key
from exam_app.domain.wording.exam_wording import (
    describe_finding,
    describe_lump,
    describe_value,
)


def facts_of(exam, protocol):
    """Yield texts: of each find, flag, value, gap, remark and mark."""
    for key, entry in exam.regions.items():
        for found in entry.findings:
            yield from _of_find(found, protocol, split_key(key)[1])
    for key in keys_offered(exam, protocol):
        yield from _of_part(exam.entry(key))
    for vital in vitals_in_scope(exam, protocol):
        yield from _of_vital(exam.vital(vital.vital_id), vital, protocol)
    yield exam.remark


def _of_find(found, protocol, side):
    """Yield all that follows its name: kind, side, place, mark; grade, size, note.

    The name of a grade's scale has plain words of its own: its value stands apart.
    """
    first = replace(found, grades=(), lump=None, since="", note="", call=Call.NOTED)
    yield describe_finding(first, protocol, side).removeprefix(found.words)
    yield from (graded.value for graded in found.grades)
    yield describe_lump(found.lump) if found.lump else ""
    yield f"since {found.since}" if found.since else ""
    yield f"note: {found.note}" if found.note else ""
    yield found.call.value if found.call is not Call.NOTED else ""


def _of_part(entry):
    yield entry.remark
    if not entry.findings:
        yield from (one.reason for one in entry.struck)
        if entry.is_gap:
            yield entry.reason


def _of_vital(entry, vital, protocol):
    yield entry.note
    if entry.flag:
        yield entry.flag.summary
    if entry.reading:
        yield describe_value(replace(entry, words=()), vital, protocol)
    elif entry.is_gap:
        yield entry.reason
