"""An item of a line with what was answered about it, and what it would record.

Every change is one that a button makes too: the forms of vitals, finds, lumps and
visits, and the changes of a part. Nothing is worked out here that they do not.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from typing import Any

from exam_app.app import region_changes
from exam_app.app.exam_editor import Change, Edit, ExamEditor, change_maker
from exam_app.app.exam_sessions import told
from exam_app.app.forms import lump_form, visit_forms
from exam_app.app.forms import vital_form as forms
from exam_app.app.forms.finding_form import Place, graded
from exam_app.app.region_changes import Found
from exam_app.app.session import Session
from exam_app.app.strikes import Strikes
from exam_app.app.view.region_presenter import label_of, term_label
from exam_app.app.view.rest_presenter import parted, sentence_to_say
from exam_app.domain.exam.denials import rest_claims
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.findings import Finding, Severity
from exam_app.domain.exam.region_states import NOT_EXAMINED_REASONS, NOT_PRESENT_REASONS
from exam_app.domain.exam.review import vital_label
from exam_app.domain.exam.transitions import clause_words, set_remark
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.exam.vital_transitions import MOST_SIGNS, record_vital
from exam_app.domain.exam.vitals import RateState, VitalEntry
from exam_app.domain.lumps.lump_history import measured_words
from exam_app.domain.lumps.lumps import Consistency, LumpDepth, Mobility, Surface
from exam_app.domain.measure.counting import CountAlong
from exam_app.domain.protocol.protocol import Region, Vital, VitalKind, split_key
from exam_app.domain.protocol.scales import Graded
from exam_app.domain.words.items import Item, ItemKind
from exam_app.domain.words.protocol_words import ProtocolWords
from exam_app.domain.words.trade_words import TradeWords
from exam_app.language.catalogue import in_english, tr

# How a lump feels, by the field of its form.
_FEEL = (
    ("depth", LumpDepth),
    ("feel", Consistency),
    ("moves", Mobility),
    ("surface", Surface),
)


@dataclass(frozen=True, slots=True)
class Around:
    """What a line is said in.

    Attributes:
        words: What the exam can be told in words.
        keeps_words: Whether the words said are kept with the entry they gave.
    """

    session: Session
    editor: ExamEditor
    words: ProtocolWords
    keeps_words: bool = False

    @property
    def exam(self) -> Exam:
        """The exam as it is now."""
        return self.editor.exam

    @property
    def trade(self) -> TradeWords:
        """The words of the trade, and the practice's own."""
        return self.words.trade

    def vital(self, item: Item) -> Vital:
        """Return the vital that an item is about."""
        return self.words.vitals[item.places[0]]

    def region(self, item: Item) -> Region:
        """Return the part that an item is about."""
        return self.words.regions[split_key(item.places[0])[0]]

    def claims_of(self, item: Item) -> tuple[tuple[str, str], ...]:
        """Return the claims that the sentence of a part makes now: id and words."""
        region, key = self.region(item), item.places[0]
        left_out = dict(Strikes(self.session, self.editor, region).now())
        words = words_for(self.exam)
        return tuple(
            (clause.clause_id, clause_words(clause, words))
            for clause in rest_claims(self.exam, region, key)
            if clause.clause_id not in left_out
        )

    def name_of(self, place: str) -> str:
        """Name a vital or a part, its side spelled out."""
        if place in self.words.vitals:
            return vital_label(self.words.vitals[place], words_for(self.exam))
        region_id, side = split_key(place)
        if region_id not in self.words.regions:
            return tr("Given")
        name = label_of(self.exam, self.words.regions[region_id])
        return f"{name}, {tr(side)}" if side else name


@dataclass(frozen=True, slots=True)
class Settled:
    """An item, and what the person said about it.

    Attributes:
        said: The exact words it was read from.
        beside: The part of the line they stand in, up to the next comma or full stop.
        is_confirmed: Whether an unexpected number was believed.
        is_repeat: Whether it was counted or measured once more.
        is_replacing: Whether it comes in the place of what is recorded.
        tool: What a lump was measured with.
        as_remark: Whether only the words are recorded, as a remark.
    """

    item: Item
    said: str
    beside: str = ""
    is_confirmed: bool = False
    is_estimate: bool = False
    is_repeat: bool = False
    is_replacing: bool = False
    tool: str = ""
    as_remark: bool = False


@dataclass(frozen=True, slots=True)
class Proposal:
    """What one item would record, in full words.

    Attributes:
        title: The vital or the part, its side spelled out.
        value: What is recorded of it; a number with its unit.
        details: The sentence, or what stands beside the value.
        is_counted: Whether it is a count, which was made now.
        place: The vital or region key.
    """

    item_id: str
    title: str
    value: str
    details: str
    change: Change
    is_counted: bool = False
    place: str = ""


def proposal_of(around: Around, item_id: str, settled: Settled) -> Proposal:
    """Return what an item would record.

    Raises:
        ExamError: What was said cannot be recorded, as a number that is none.
    """
    made = _proposed(around, item_id, settled)
    return replace(made, place=settled.item.places[0])


def _proposed(around: Around, item_id: str, settled: Settled) -> Proposal:
    item, editor = settled.item, around.editor
    keys = keys_said(item)
    title = around.name_of(item.places[0])
    if len(keys) > 1:
        title = ", ".join((around.name_of(split_key(keys[0])[0]), tr("both")))
    if settled.as_remark:
        change = _remarked(keys, settled.said)
        value = tr("Remark: {said}", said=settled.said)
        return Proposal(item_id, title, value, "", change)
    if item.places[0] in around.words.vitals:
        vital = around.vital(item)
        entry = entry_of(around, settled)
        value = told(editor, vital, entry).partition(": ")[2]
        beside = [tr(entry.state.value) if entry.state else "", _site(vital, entry)]
        details = ", ".join(word for word in beside if word)
        change = vital_recorded(vital, entry, is_repeat=settled.is_repeat)
        is_counted = entry.evidence is not None
        return Proposal(item_id, title, value, details, change, is_counted)
    if item.kind is ItemKind.GIVEN:
        texts = {"product": item.value, "dose": item.dose, "route": item.route}
        value = ", ".join(text for text in texts.values() if text)
        return Proposal(item_id, title, value, "", _given(texts))
    return _of_part(around, item_id, title, settled)


def keys_said(item: Item) -> tuple[str, ...]:
    """Return the keys an item is recorded for: one, or both sides of a part."""
    sides = [split_key(place) for place in item.places]
    is_pair = len({region_id for region_id, _ in sides}) == 1 and all(
        s for _, s in sides
    )
    return item.places if is_pair else item.places[:1]


def _site(vital: Vital, entry: VitalEntry) -> str:
    is_usual = not vital.sites or entry.site == vital.sites[0]
    return "" if is_usual else _shown(entry.site, vital.sites)


def _shown(words: str, known: Collection[str]) -> str:
    """Return words in the chosen language if they are known ones; else as said."""
    return tr(words) if words in known else words


def entry_of(around: Around, settled: Settled) -> VitalEntry:
    """Return the entry of a vital, as its form gives it.

    Raises:
        ReadingError, UnitMismatchError: It is no number with a unit.
        MissingReasonError: There is neither a value nor a reason.
    """
    item, exam = settled.item, around.exam
    vital, protocol = around.vital(item), around.editor.protocol
    with in_english():
        note = _evidence(around, settled)
    if item.kind is ItemKind.NOT_DONE:
        return VitalEntry(reason=item.value, note=note)
    form = forms.form_for(exam, protocol, vital, around.editor.now())
    form = replace(form, rhythm="", beats_felt="", values=(), grade_value="")
    form = forms.type_text(form, "")
    if item.kind is ItemKind.COUNT:
        count = CountAlong(int(item.value), item.seconds)
        form = forms.take_count(form, vital, count)
    elif item.kind is ItemKind.VALUE:
        form = replace(forms.type_text(form, item.value), unit=item.unit or form.unit)
    elif vital.kind is VitalKind.GRADE:
        form = replace(form, grade_value=item.value)
    else:
        form = replace(form, values=(item.value,))
    form = replace(
        form,
        site=item.site or (vital.sites[0] if vital.sites else ""),
        state=RateState(item.state) if item.state else form.state,
        is_estimate=settled.is_estimate,
        is_confirmed=settled.is_confirmed,
        note="; ".join(text for text in (form.note, note) if text),
    )
    return forms.to_entry(exam, protocol, vital, form)


def _evidence(around: Around, settled: Settled) -> str:
    words = settled.beside or settled.said
    return tr("as entered: “{words}”", words=words) if around.keeps_words else ""


def _of_part(around: Around, item_id: str, title: str, settled: Settled) -> Proposal:
    item, key = settled.item, settled.item.places[0]
    with in_english():
        words = _evidence(around, settled)
    if item.kind is ItemKind.FINDING:
        return _found(around, item_id, title, settled)
    if item.kind is ItemKind.NOT_DONE:
        made = region_changes.not_examined((key,), item.value)
        why = _shown(item.value, NOT_EXAMINED_REASONS)
        value = tr("not examined: {reason}", reason=why)
        return Proposal(item_id, title, value, "", _with_remark(made, key, words))
    if item.kind is ItemKind.NOT_PRESENT:
        made = region_changes.not_present((key,), item.value)
        why = _shown(item.value, NOT_PRESENT_REASONS)
        value = tr("not present: {reason}", reason=why)
        return Proposal(item_id, title, value, "", _with_remark(made, key, words))
    region = around.region(item)
    left_out = Strikes(around.session, around.editor, region).now()
    out = parted(region, left_out)
    keys = keys_said(item)
    made = region_changes.what_is_left(
        keys, out.struck, out.instead, out.denied or None
    )
    sentence = sentence_to_say(around.exam, region, key, left_out)
    made = _with_remark(made, key, words)
    return Proposal(item_id, title, tr("no abnormality found"), sentence, made)


def _found(around: Around, item_id: str, title: str, settled: Settled) -> Proposal:
    item, key = settled.item, settled.item.places[0]
    region = around.region(item)
    term = region.term(item.term_id)
    find = Found(region, ((key, around.editor.new_id()),), term)
    with in_english():
        details = details_of(around, settled)
    change = _found_with(find, details)
    said = [
        *map(tr, details["qualities"]),
        tr(details["severity"].value) if details["severity"] else "",
        # The title names the side of a part that has two.
        tr(item.side),
        ", ".join(map(tr, item.landmarks)),
        details["extent"],
        measured_words(details["lump"]) if details["lump"] else "",
        *(tr("grade {grade}", grade=g.value) for g in details["grades"]),
        details_of(around, settled)["note"],
    ]
    value = term_label(around.exam, term) if term else item.term_id
    shown = ", ".join(text for text in said if text)
    return Proposal(item_id, title, value.lower(), shown, change)


def details_of(around: Around, settled: Settled) -> dict[str, Any]:
    """Return what is noted of a find, by the fields of a finding.

    Raises:
        LumpSizeError, ReadingError: A lump's size cannot be read.
    """
    item = settled.item
    region, protocol = around.region(item), around.editor.protocol
    term = region.term(item.term_id)
    own = term.qualities if term else ()
    feel = tuple(word for word in item.qualities if word not in own)
    first, *more = (*item.landmarks, "")
    is_lump = bool(term and term.is_lump)
    sizes = " x ".join(item.sizes)
    lump = _lump(around, settled, feel) if is_lump and sizes else None
    felt = "" if lump else ", ".join(word.replace("_", " ") for word in feel)
    grades: tuple[Graded, ...] = ()
    if term and item.value:
        blank = Finding("", term.label, around.editor.attribution())
        grades = graded(blank, protocol, term.scale_id, item.value)
    note = "; ".join(t for t in (felt, _evidence(around, settled)) if t)
    side = split_key(item.places[0])[1] or item.side
    return {
        "qualities": tuple(word for word in item.qualities if word in own),
        "place": Place(first, ", ".join(filter(None, more))).text(),
        "side": side if side != "both" else "",
        "severity": _severity(around.trade, item.degree),
        "extent": "" if is_lump else sizes,
        "lump": lump,
        "grades": grades,
        "note": note,
    }


def _severity(trade: TradeWords, degree: str) -> Severity | None:
    known = (key for key, ways in trade.degrees.items() if degree in ways)
    found = next(known, "")
    return Severity(found) if found else None


def _lump(around: Around, settled: Settled, feel: Iterable[str]) -> Any:  # noqa: ANN401
    texts = {"typed": " x ".join(settled.item.sizes), "tool": settled.tool}
    for word in feel:
        for name, kind in _FEEL:
            if word in [member.value for member in kind]:
                texts[name] = word
    return lump_form.lump_of(texts, around.editor.examiner.name)


@change_maker
def _found_with(exam: Exam, edit: Edit, find: Found, details: dict[str, Any]) -> Exam:
    exam = region_changes.found(find)(exam, edit)
    return region_changes.detailed(find, **details)(exam, edit)


@change_maker
def vital_recorded(
    exam: Exam, edit: Edit, vital: Vital, entry: VitalEntry, *, is_repeat: bool
) -> Exam:
    """Record the entry of a vital, with its flag and what it opens."""
    ids = tuple(edit.new_id() for _ in range(MOST_SIGNS))
    name = vital.vital_id
    return record_vital(
        exam, edit.protocol, name, entry, edit.by, ids, is_repeat=is_repeat
    )


@change_maker
def _given(exam: Exam, edit: Edit, texts: dict[str, str]) -> Exam:
    return record_visit(exam, visit_forms.entry_said("given", texts, edit.by))


@change_maker
def remark_added(exam: Exam, edit: Edit, key: str, words: str) -> Exam:
    """Write words behind the remark of a part; what stands there stays."""
    before = exam.entry(key).remark
    text = "; ".join(part for part in (before, words.strip()) if part)
    return set_remark(exam, edit.protocol, key, text)


@change_maker
def _remarked(exam: Exam, edit: Edit, keys: tuple[str, ...], words: str) -> Exam:
    for key in keys:
        exam = remark_added(key, words)(exam, edit)
    return exam


@change_maker
def _with_remark(exam: Exam, edit: Edit, made: Change, key: str, words: str) -> Exam:
    exam = made(exam, edit)
    return remark_added(key, words)(exam, edit) if words else exam
