"""One demonstration exam, made by the same changes a person's taps make.

A file under ``demo_patients`` says what was seen; the exam is built from it through
the app's forms and the domain's transitions, so a demonstration can show nothing the
app would refuse.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial
from typing import Any, TypeVar

from cattrs import Converter

from exam_app.app.exam_editor import Edit
from exam_app.app.forms.lump_form import lump_of
from exam_app.app.forms.visit_forms import ENTRIES, WHOLE
from exam_app.app.forms.vital_form import VitalForm, take_count, to_entry
from exam_app.app.view.urgent_presenter import to_answer
from exam_app.crypto.door import sha256
from exam_app.domain.animal.body_marks import (
    BodyMark,
    CloserPlace,
    CloserView,
    MarkView,
    OwnSide,
)
from exam_app.domain.animal.groups import set_group
from exam_app.domain.exam.closing import close, stop_early
from exam_app.domain.exam.denials import rest_claims
from exam_app.domain.exam.exam import Exam, StopReason, keys_in_scope
from exam_app.domain.exam.finding_transitions import add_finding, find_again
from exam_app.domain.exam.findings import EarlierOutcome, Finding
from exam_app.domain.exam.marks import next_number
from exam_app.domain.exam.people import Attribution, Person
from exam_app.domain.exam.photographs import add_photo
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.transitions import (
    answer_earlier,
    answer_urgent,
    assert_no_abnormality,
    mark_not_examined,
    mark_not_present,
    park,
    require_key,
    set_remark,
    with_person,
)
from exam_app.domain.exam.visit import ChipScan, Given, GroupFacts, Photo, PrivateNote
from exam_app.domain.exam.visit_transitions import Entry, Whole, record_visit
from exam_app.domain.exam.vital_transitions import (
    MOST_SIGNS,
    record_vital,
    require_vital,
)
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.lumps.lumps import Lump
from exam_app.domain.measure.counting import CountAlong
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital, split_key
from exam_app.domain.protocol.weight_rules import estimate_weight, how_estimated
from exam_app.protocols.loader import table_sources, weight_tables
from exam_app.record.ids_within import draw_id_within
from exam_app.record.jpeg import check_picture
from exam_app.resources import demo_patients_folder

Told = Mapping[str, Any]
T = TypeVar("T")
MINUTES_TO_CLOSING = 25
_LISTS: dict[str, type[Entry]] = {"scans": ChipScan, **ENTRIES}
_CONVERTER = Converter(forbid_extra_keys=True)
for _made in (Attribution, Moment, Lump):
    _CONVERTER.register_structure_hook(_made, lambda value, _: value)


def said(kind: type[T], told: Told, **more: object) -> T:
    """Return a value with what a table tells, its words as enumerated.

    Args:
        more: What the table does not say, or says in another form.
    """
    return _CONVERTER.structure({**told, **more}, kind)


@dataclass(frozen=True, slots=True)
class Cast:
    """Who takes part, and when it was seen: the moment that everything is dated."""

    examiner: Person
    scribe: Person
    now: Moment

    def edit(self, exam: Exam, protocol: SpeciesProtocol) -> Edit:
        """Return what their changes of an exam are made with."""
        ids = self.examiner.person_id, self.scribe.person_id
        by = Attribution(*ids, self.now, self.now)
        return Edit(protocol, by, partial(draw_id_within, exam.exam_id))


def play(exam: Exam, protocol: SpeciesProtocol, told: Told, cast: Cast) -> Exam:
    """Return an exam with everything a demonstration file tells of it.

    Args:
        exam: A new exam, nothing answered.
        told: One ``[[exams]]`` table of a demonstration file: ``presentation``,
            ``intake``, ``bite``, ``plan``, ``care``, ``group`` and each of ``vitals``
            are tables of fields, ``scans``, ``given``, ``procedures``, ``samples``
            and ``findings`` lists of them, ``private`` a text.

    Returns:
        The exam, closed unless its ``outcome`` is ``draft``.

    Raises:
        ExamError: The file tells something the app would refuse.
    """
    edit = cast.edit(exam, protocol)
    exam = with_person(with_person(exam, cast.examiner), cast.scribe)
    for part in _visit(told, edit.by):
        exam = record_visit(exam, part)
    if "group" in told:
        exam = set_group(exam, said(GroupFacts, told["group"]))
    for vital_id, seen in told.get("vitals", {}).items():
        vital = require_vital(exam, protocol, vital_id)
        for entry in _entries(exam, protocol, vital, seen):
            ids = tuple(edit.new_id() for _ in range(MOST_SIGNS))
            exam = record_vital(exam, protocol, vital_id, entry, edit.by, ids)
    for found in told.get("findings", ()):
        exam = _with_finding(exam, edit, found, cast.examiner.name)
    exam = _regions(exam, edit, told, cast)
    outcome = EarlierOutcome(told.get("earlier", EarlierOutcome.SAME.value))
    for earlier in exam.earlier:
        exam = answer_earlier(exam, protocol, earlier.finding_id, outcome)
    return _end(exam, edit, told, cast)


def _visit(told: Told, by: Attribution) -> Iterator[Whole | Entry]:
    for name, whole in WHOLE.items():
        if name in told:
            yield said(whole, told[name])
    for name, entry in _LISTS.items():
        for one in told.get(name, ()):
            at = {"at": by.observed} if entry is Given else {}
            yield said(entry, one, attribution=by, **at)
    if "private" in told:
        yield PrivateNote(told["private"], by)


def _entries(
    exam: Exam, protocol: SpeciesProtocol, vital: Vital, seen: Told
) -> list[VitalEntry]:
    """Return what was recorded of a vital: one entry, or one for each count."""
    if "reason" in seen:
        return [VitalEntry(reason=seen["reason"])]
    fields = {name: seen[name] for name in seen if name not in {"counts", "tape"}}
    unit = vital.measure.unit if vital.measure else ""
    form = said(VitalForm, fields, unit=unit)
    forms = [form]
    if "tape" in seen:
        forms = [_taped(form, seen["tape"])]
    elif "counts" in seen:
        counts = (CountAlong(*counted) for counted in seen["counts"])
        forms = [take_count(form, vital, counted) for counted in counts]
    return [to_entry(exam, protocol, vital, form) for form in forms]


def _taped(form: VitalForm, told: Mapping[str, str]) -> VitalForm:
    """Return a form with the weight a tape gives, marked as an estimate.

    Args:
        told: ``rule``, the id of a published rule, and its lengths in centimetres.
    """
    rule = next(r for r in weight_tables().rules if r.rule_id == told["rule"])
    lengths = {
        name: Reading(told[name], "cm", Decimal(told[name])) for name in rule.measures
    }
    estimate = estimate_weight(rule, lengths)
    note = how_estimated(estimate, lengths, table_sources()[rule.source_id].title)
    typed = f"{estimate.kg:f}"
    return replace(form, typed=typed, unit="kg", is_estimate=True, note=note)


def _with_finding(exam: Exam, edit: Edit, told: Told, examiner: str) -> Exam:
    fields = dict(told)
    key = fields.pop("key")
    region = require_key(exam, edit.protocol, key)
    if "lump" in fields:
        fields["lump"] = lump_of(fields["lump"], examiner)
    mark, is_again = fields.pop("mark", None), fields.pop("again", False)
    photographs = fields.pop("photographs", {})
    term_id = fields.pop("term", "")
    term = region.term(term_id)
    finding = said(
        Finding,
        {"words": term.label if term else "", "side": split_key(key)[1], **fields},
        finding_id=edit.new_id(),
        attribution=edit.by,
        term_id=term_id,
    )
    if is_again:
        known = next(one for one in exam.earlier if one.key == key and one.lump)
        exam = find_again(exam, edit.protocol, known.finding_id, finding, edit.new_id())
        return _photographed(exam, edit, finding, photographs)
    if mark:
        finding = replace(finding, mark=_mark(next_number(exam), mark))
    exam = add_finding(exam, edit.protocol, key, finding, edit.new_id())
    return _photographed(exam, edit, finding, photographs)


def _mark(number: int, told: Told) -> BodyMark:
    closer = told.get("closer")
    place = None
    if closer:
        limb = OwnSide(closer["limb"]) if "limb" in closer else None
        place = CloserPlace(CloserView(closer["view"]), closer["x"], closer["y"], limb)
    return BodyMark(number, MarkView(told["view"]), told["x"], told["y"], place)


def _photographed(
    exam: Exam, edit: Edit, finding: Finding, photographs: Mapping[str, str]
) -> Exam:
    """Name the pictures of a finding, by file and what each shows."""
    for name, caption in photographs.items():
        picture = demo_picture(name)
        pixels = check_picture(picture)
        photo = Photo(
            sha256(picture).hex(),
            caption,
            finding_id=finding.finding_id,
            width=pixels.width,
            height=pixels.height,
            size=len(picture),
            attribution=edit.by,
        )
        exam = add_photo(exam, edit.protocol, photo)
    return exam


def demo_picture(name: str) -> bytes:
    """Read a picture of the invented practice, a prepared one."""
    return (demo_patients_folder() / name).read_bytes()


def _regions(exam: Exam, edit: Edit, told: Told, cast: Cast) -> Exam:
    protocol, by = edit.protocol, edit.by
    for key, reason in told.get("not_present", {}).items():
        exam = mark_not_present(exam, protocol, key, reason, by, edit.new_id())
    for key, reason in told.get("not_examined", {}).items():
        exam = mark_not_examined(exam, protocol, key, reason, by)
    clean = list(told.get("without_abnormality", ()))
    if told.get("rest_without_abnormality"):
        open_states = (RegionState.UNEXAMINED, RegionState.WITH_FINDINGS)
        clean += [
            key
            for key in keys_in_scope(exam, protocol)
            if exam.entry(key).state in open_states
            and rest_claims(exam, require_key(exam, protocol, key), key)
        ]
    denied = told.get("denied", {})
    for key in clean:
        said = tuple(denied[key]) if key in denied else None
        exam = assert_no_abnormality(
            exam, protocol, (key,), cast.examiner.role, by, denied=said
        )
    for key, remark in told.get("remarks", {}).items():
        exam = set_remark(exam, protocol, key, remark)
    for key in told.get("parked", ()):
        exam = park(exam, protocol, key, parked=True)
    return exam


def _end(exam: Exam, edit: Edit, told: Told, cast: Cast) -> Exam:
    if "told" in told:
        answer = to_answer(told["told"], edit.by, cast.now)
        for sign in exam.urgent:
            exam = answer_urgent(exam, sign.entry_id, answer)
    if stop := told.get("stop"):
        reason = StopReason(stop["reason"])
        exam = stop_early(exam, edit.protocol, reason, stop["note"], edit.by)
    if told["outcome"] == "draft":
        return exam
    later = Moment(cast.now.utc_ms + MINUTES_TO_CLOSING * 60_000, cast.now.offset_min)
    return close(exam, edit.protocol, cast.scribe, later)
