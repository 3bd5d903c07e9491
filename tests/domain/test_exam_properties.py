"""Whatever the order of taps: nothing open closes, nothing typed is lost."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from exam_app.domain.errors import (
    ExamClosedError,
    NothingLeftError,
    OpenPointsError,
    OwnWordsError,
    UnknownItemError,
)
from exam_app.domain.exam.closing import close, stop_early
from exam_app.domain.exam.exam import StopReason, keys_in_scope, required_vitals
from exam_app.domain.exam.finding_transitions import add_finding, remove_finding
from exam_app.domain.exam.findings import Call, Finding, Severity
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.region_states import Conclusion
from exam_app.domain.exam.transitions import (
    answer_urgent,
    assert_no_abnormality,
    mark_not_examined,
    mark_not_present,
    park,
    set_remark,
)
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer
from exam_app.domain.exam.vital_transitions import clear_vital, record_vital
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.lumps.lumps import Lump, LumpDepth, LumpSize, LumpTool
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.written_record import write_record
from tests.exam_samples import BY, NOW, PROTOCOL, TECHNICIAN, new_exam
from tests.samples import examples

KEYS = ("nose", "eyes.left", "eyes.right", "heart", "tail")
VITALS = ("weight", "temperature", "gums")
TYPED = st.text(
    st.characters(whitelist_categories=("L", "N", "P", "Zs"), max_codepoint=0x2FF),
    min_size=1,
    max_size=30,
).filter(lambda text: text.strip() == text)


@st.composite
def lumps(draw):
    sizes = draw(st.lists(st.integers(1, 400), min_size=1, max_size=3))
    lengths = tuple(Reading(str(n), "mm", Decimal(n)) for n in sizes)
    tool = draw(st.sampled_from(LumpTool))
    size = LumpSize(lengths, tool, "along the body", TECHNICIAN.name)
    return Lump(draw(st.sampled_from(LumpDepth)), size)


@st.composite
def findings(draw):
    return Finding(
        finding_id=draw(st.uuids()).hex,
        words=draw(TYPED),
        attribution=BY,
        term_id=draw(st.sampled_from(("", "nose_wound", "nose_bleed"))),
        place=draw(st.one_of(st.just(""), TYPED)),
        note=draw(st.one_of(st.just(""), TYPED)),
        severity=draw(st.one_of(st.none(), st.sampled_from(Severity))),
        call=draw(st.sampled_from(Call)),
        lump=draw(st.one_of(st.none(), lumps())),
    )


class AnyOrderOfTaps(RuleBasedStateMachine):
    """Drive an exam by any sequence of taps, keeping our own list of what was said."""

    def __init__(self):
        super().__init__()
        self.exam = new_exam()
        self.remarks = {}
        self.found = {}
        self.number = 0

    def attempt(self, change):
        try:
            self.exam = change(self.exam)
        except ExamClosedError:
            assert self.exam.is_closed
            return False
        except (OwnWordsError, NothingLeftError) as refusal:
            key = str(refusal)
        else:
            return True
        assert self.exam.entry(key).findings
        return False

    def new_id(self):
        self.number += 1
        return f"{self.number:032x}"

    @rule(scope=st.sampled_from((Scope.TECHNICIAN, Scope.VETERINARIAN)))
    def choose_scope_before_the_first_touch(self, scope):
        if not self.exam.regions and not self.exam.vitals and not self.exam.is_closed:
            self.exam = replace(self.exam, scope=scope)

    @rule(key=st.sampled_from(KEYS))
    def no_abnormality(self, key):
        self.attempt(
            lambda e: assert_no_abnormality(e, PROTOCOL, (key,), Role.TECHNICIAN, BY)
        )

    @rule(key=st.sampled_from(KEYS), reason=TYPED)
    def strike(self, key, reason):
        region_id = key.partition(".")[0]
        struck = ((f"{region_id}_feel", reason),)
        self.attempt(
            lambda e: assert_no_abnormality(
                e, PROTOCOL, (key,), Role.TECHNICIAN, BY, struck
            )
        )

    @rule(key=st.sampled_from(KEYS), found=findings())
    def find(self, key, found):
        side = key.partition(".")[2]
        found = replace(found, side=side)
        urgent_id = self.new_id()
        if self.attempt(lambda e: add_finding(e, PROTOCOL, key, found, urgent_id)):
            self.found[found.finding_id] = (key, found)

    @precondition(lambda self: self.found and not self.exam.is_closed)
    @rule(choice=st.integers(0, 99))
    def take_back(self, choice):
        finding_id = sorted(self.found)[choice % len(self.found)]
        key, _ = self.found.pop(finding_id)
        self.exam = remove_finding(self.exam, PROTOCOL, key, finding_id)

    @rule(key=st.sampled_from(KEYS), reason=TYPED)
    def not_examined(self, key, reason):
        self.attempt(lambda e: mark_not_examined(e, PROTOCOL, key, reason, BY))

    @rule(key=st.sampled_from(KEYS), reason=TYPED)
    def not_present(self, key, reason):
        lost = self.new_id()
        self.attempt(lambda e: mark_not_present(e, PROTOCOL, key, reason, BY, lost))

    @rule(key=st.sampled_from(KEYS), remark=TYPED)
    def remark(self, key, remark):
        if self.attempt(lambda e: set_remark(e, PROTOCOL, key, remark)):
            self.remarks[key] = remark

    @rule(key=st.sampled_from(KEYS), parked=st.booleans())
    def park(self, key, parked):
        self.attempt(lambda e: park(e, PROTOCOL, key, parked=parked))

    @rule(vital_id=st.sampled_from(VITALS), reason=TYPED)
    def vital_not_done(self, vital_id, reason):
        entry = VitalEntry(reason=reason)
        ids = tuple(self.new_id() for _ in range(4))
        self.attempt(lambda e: record_vital(e, PROTOCOL, vital_id, entry, BY, ids))

    @rule(tenths=st.integers(300, 440))
    def temperature(self, tenths):
        value = Decimal(tenths).scaleb(-1)
        entry = VitalEntry(reading=Reading(str(value), "degC", value), site="rectal")
        ids = tuple(self.new_id() for _ in range(4))
        self.attempt(lambda e: record_vital(e, PROTOCOL, "temperature", entry, BY, ids))

    @rule(vital_id=st.sampled_from(VITALS))
    def clear(self, vital_id):
        self.attempt(lambda e: clear_vital(e, PROTOCOL, vital_id))

    @rule(kind=st.sampled_from(AnswerKind))
    def answer(self, kind):
        for entry in self.exam.urgent:
            if not entry.is_answered:
                entry_id = entry.entry_id
                answer = UrgentAnswer(kind, BY, "Dr Mar Ondine")
                self.attempt(lambda e, i=entry_id, a=answer: answer_urgent(e, i, a))

    @rule(reason=st.sampled_from(StopReason))
    def stop(self, reason):
        self.attempt(lambda e: stop_early(e, PROTOCOL, reason, "", BY))

    @rule()
    def try_to_close(self):
        if self.exam.is_closed:
            return
        is_open = self.something_is_open()
        if is_open:
            with pytest.raises(OpenPointsError) as refused:
                close(self.exam, PROTOCOL, TECHNICIAN, NOW)
            assert refused.value.points
        else:
            self.exam = close(self.exam, PROTOCOL, TECHNICIAN, NOW)

    def something_is_open(self):
        """Judge openness anew, without the product's own review."""
        for key in keys_in_scope(self.exam, PROTOCOL):
            entry = self.exam.regions.get(key)
            if entry is None:
                return True
            if entry.conclusion is Conclusion.OPEN and not entry.findings:
                return True
        for vital in required_vitals(self.exam, PROTOCOL):
            entry = self.exam.vitals.get(vital.vital_id)
            if entry is None or not (entry.reason or entry.reading or entry.words):
                return True
        return any(not entry.answers for entry in self.exam.urgent)

    @invariant()
    def every_finding_is_written_with_side_and_size(self):
        text = write_record(self.exam, PROTOCOL).as_text()
        for key, found in self.found.values():
            lines = [line for line in text.splitlines() if found.words in line]
            side = key.partition(".")[2]
            wanted = [found.place, found.note, side]
            if found.lump:
                numbers = [f"{r.value}" for r in found.lump.size.dimensions]
                wanted.append(f"{' × '.join(numbers)} mm")
            assert any(all(part in line for part in wanted) for line in lines)

    @invariant()
    def every_remark_is_written(self):
        text = write_record(self.exam, PROTOCOL).as_text()
        for remark in self.remarks.values():
            assert remark in text

    @invariant()
    def unexamined_is_never_written_as_no_abnormality(self):
        record = write_record(self.exam, PROTOCOL)
        clean = next(
            (s.lines for s in record.sections if s.heading == "No abnormality found"),
            (),
        )
        for key in KEYS:
            entry = self.exam.entry(key)
            if entry.conclusion is not Conclusion.ASSERTED:
                label = key.partition(".")[0].capitalize()
                side = key.partition(".")[2]
                start = f"{label}, {side}:" if side else f"{label}:"
                assert not any(line.startswith(start) for line in clean)
                assert not (side and any("left and right" in line for line in clean))


AnyOrderOfTaps.TestCase.settings = settings(
    max_examples=examples(60),
    stateful_step_count=40,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
TestAnyOrderOfTaps = AnyOrderOfTaps.TestCase


def test_unknown_parts_are_refused_by_name():
    with pytest.raises(UnknownItemError) as refused:
        mark_not_examined(new_exam(), PROTOCOL, "wing", "unsafe", BY)
    assert str(refused.value) == "wing"
