"""Play a clinical scenario through the exam's own rules, and say what does not fit.

A file ``tests/scenarios/SPECIES.toml`` holds the scenarios of one species, typed from
a source before the code was asked. ``tests/scenarios/_examples.toml`` shows the form;
``tests/scenario_form.py`` checks it.
"""

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from exam_app.app.exam_editor import Edit
from exam_app.app.forms.round_cells import fill_cell
from exam_app.app.view.round_presenter import columns_offered
from exam_app.domain.animal.signalment import AgeBasis, Animal, Sex, life_stage_of
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.closing import stop_early
from exam_app.domain.exam.denials import rest_claims
from exam_app.domain.exam.exam import Exam, StopReason, keys_in_scope, words_for
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import Call, Finding, Severity
from exam_app.domain.exam.handling import newly_stopping
from exam_app.domain.exam.people import Attribution, Person, Role
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.transitions import (
    assert_no_abnormality,
    mark_not_examined,
    mark_not_present,
    open_urgent,
    set_claim,
    set_remark,
)
from exam_app.domain.exam.urgent import UrgentEntry
from exam_app.domain.exam.vital_transitions import MOST_SIGNS, record_vital
from exam_app.domain.exam.vitals import RateState, Setting, VitalEntry
from exam_app.domain.measure.units import parse_reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol, split_key
from exam_app.domain.protocol.scales import Graded, give_grade
from exam_app.domain.wording.written_record import write_record
from exam_app.protocols.loader import available, load_protocol
from tests.scenario_form import AGE, ANY, REST, Told, form_faults, named_term

FOLDER = Path(__file__).parent / "scenarios"
EXAMPLES = "_examples"
NOW = Moment(1_790_000_000_000, 60)
DAYS = {"day": 1, "week": 7, "month": 30.44, "year": 365.25}


class ScenarioError(ValueError):
    """A scenario names something that is not there, or in a form that is not read."""


@dataclass(frozen=True, slots=True)
class Scenario:
    """One scenario with the protocol it is played on."""

    file: str
    told: Told
    protocol: SpeciesProtocol

    @property
    def name(self) -> str:
        """File and id, for messages."""
        return f"{self.file}: {self.told.get('id', '(no id)')}"


def files() -> list[Path]:
    """Return the files of scenarios, the examples first."""
    return sorted(FOLDER.glob("*.toml"))


def read_scenarios(path: Path) -> list[Scenario]:
    """Read a file of scenarios; what is wrong with it is said in one message.

    Raises:
        ScenarioError: Every fault of the file, one a line.
    """
    tables = tomllib.loads(path.read_text("utf-8")).get("scenarios", [])
    species = {path.stem, *(t.get("species", path.stem) for t in tables)}
    unknown = species - set(available()) - {EXAMPLES}
    if unknown:
        msg = f"{path.name}: no species {', '.join(sorted(unknown))}"
        raise ScenarioError(msg)
    found = [
        Scenario(
            path.name, told, load_protocol(told.get("species", path.stem)).protocol
        )
        for told in tables
    ]
    faults = [fault for scenario in found for fault in faults_of(scenario)]
    ids = [scenario.told.get("id") for scenario in found]
    faults += [f"{path.name}: id {i!r} twice" for i in {*ids} if ids.count(i) > 1]
    if faults:
        raise ScenarioError("\n".join(faults))
    return found


def faults_of(scenario: Scenario) -> list[str]:
    """Return every fault of a scenario's form, each with its name."""
    faults = form_faults(scenario.told, scenario.protocol)
    return [f"{scenario.name}: {fault}" for fault in faults]


def play(scenario: Scenario) -> tuple[Exam, Exam]:
    """Play a scenario.

    Returns:
        The exam before anything was entered, and after everything was.

    Raises:
        ScenarioError: The exam refused something; the message says what and why.
    """
    begun = _begin(scenario)
    try:
        return begun, _Play(scenario, begun).run()
    except ExamError as refusal:
        msg = f"{scenario.name}: refused: {type(refusal).__name__} {refusal}"
        raise ScenarioError(msg) from refusal


def age_days(text: str) -> int:
    """Return an age written as ``3 days`` or ``4 years`` in days."""
    found = AGE.fullmatch(text)
    assert found is not None, text
    return int(int(found[1]) * DAYS[found[2]])


def _begin(scenario: Scenario) -> Exam:
    told, protocol = scenario.told, scenario.protocol
    seen = told.get("animal", {})
    age = age_days(seen["age"]) if "age" in seen else None
    animal = Animal(
        "c" * 32,
        "Scenario",
        protocol.species,
        sex=Sex(seen.get("sex", Sex.UNKNOWN)),
        age_days=age,
        age_on=f"{NOW.local():%Y-%m-%d}" if "age" in seen else "",
        age_basis=AgeBasis.TOLD if "age" in seen else AgeBasis.UNKNOWN,
        is_demo=True,
        is_group=seen.get("group", False),
    )
    examiner = Person("a" * 32, "Examiner", Role(told.get("role", "technician")))
    asked = [c.partition(":")[2] for c in told.get("cells", {}) if c[:6] == "vital:"]
    return Exam(
        exam_id="e" * 32,
        animal=animal,
        scope=Scope(told["scope"]),
        setting=Setting(told.get("setting", "clinic")),
        protocol_id=protocol.protocol_id,
        protocol_hash="0" * 64,
        started=NOW,
        started_by=examiner.person_id,
        life_stage=life_stage_of(protocol.life_stages, age),
        focus=tuple(told.get("focus", ())),
        people=(examiner,),
        asked_vitals=tuple(asked),
        is_demo=True,
    )


class _Play:
    """What is entered, in the order of a visit."""

    def __init__(self, scenario: Scenario, exam: Exam) -> None:
        self.told, self.protocol, self.exam = scenario.told, scenario.protocol, exam
        person = exam.started_by
        self.by = Attribution(person, person, NOW, NOW)
        self.drawn = 0

    def new_id(self) -> str:
        self.drawn += 1
        return f"{self.drawn:032x}"

    def run(self) -> Exam:
        told = self.told
        columns = {
            c.key: c for c in columns_offered(self.protocol, words_for(self.exam))
        }
        for item in told.get("added", ()):
            self.exam = set_claim(
                self.exam, self.protocol, item["region"], item["clause"]
            )
        for key, typed in told.get("cells", {}).items():
            self.exam = fill_cell(
                self.exam,
                Edit(self.protocol, self.by, self.new_id),
                columns[key],
                typed,
            )
        for seen in told.get("vitals", ()):
            self._vital(seen)
        self._assert(told.get("asserted_first", ()))
        for found in told.get("findings", ()):
            self._finding(found)
        self._answers()
        self._assert(told.get("asserted", ()))
        for sign_id in told.get("button", ()):
            sign = self.protocol.sign(sign_id)
            assert sign is not None
            entry = UrgentEntry(
                self.new_id(), sign.label, self.by, sign_id, sign.action
            )
            self.exam = open_urgent(self.exam, entry)
        if "stop" in told:
            reason = StopReason(told["stop"])
            self.exam = stop_early(self.exam, self.protocol, reason, "", self.by)
        return self.exam

    def _vital(self, seen: Told) -> None:
        vital = self.protocol.vital(seen["vital"])
        assert vital is not None
        chosen = [c for c in vital.choices if c.value in seen.get("choices", ())]
        entry = VitalEntry(
            words=tuple(choice.label for choice in chosen),
            values=tuple(choice.value for choice in chosen),
            reason=seen.get("reason", ""),
            state=RateState(seen["state"]) if "state" in seen else None,
            site=seen.get("site", vital.sites[0] if vital.sites else ""),
            is_estimate=seen.get("estimate", False),
        )
        scale = self.protocol.scale(vital.scale_id)
        if "grade" in seen and scale is not None:
            entry = replace(entry, grade=give_grade(scale, seen["grade"]))
        for typed in (seen.get("value"), seen.get("again")):
            if typed is not None and vital.measure is not None:
                unit = seen.get("unit", vital.measure.unit)
                reading = parse_reading(typed, unit, vital.measure)
                self._record(vital.vital_id, replace(entry, reading=reading))
        if "value" not in seen:
            self._record(vital.vital_id, entry)

    def _record(self, vital_id: str, entry: VitalEntry) -> None:
        ids = tuple(self.new_id() for _ in range(MOST_SIGNS))
        self.exam = record_vital(
            self.exam, self.protocol, vital_id, entry, self.by, ids
        )

    def _finding(self, found: Told) -> None:
        key = found["region"]
        region = self.protocol.region(split_key(key)[0])
        assert region is not None
        term = named_term(region, found)
        is_plain = words_for(self.exam) is Role.VOLUNTEER
        label = (term.plain if is_plain and term.plain else term.label) if term else ""
        finding = Finding(
            self.new_id(),
            label or found["words"],
            self.by,
            term_id=term.term_id if term else "",
            side=found.get("side", split_key(key)[1]),
            qualities=tuple(found.get("qualities", ())),
            place=found.get("place", ""),
            severity=Severity(found["severity"]) if "severity" in found else None,
            since=found.get("since", ""),
            note=found.get("note", ""),
            call=Call(found.get("call", "noted")),
            grades=tuple(self._grade(g) for g in found.get("grades", ())),
        )
        self.exam = add_finding(self.exam, self.protocol, key, finding, self.new_id())

    def _grade(self, graded: Told) -> Graded:
        scale = self.protocol.scale(graded["scale"])
        assert scale is not None
        return give_grade(scale, graded["value"])

    def _answers(self) -> None:
        told, protocol, by = self.told, self.protocol, self.by
        for key, reason in told.get("not_examined", {}).items():
            self.exam = mark_not_examined(self.exam, protocol, key, reason, by)
        for key, reason in told.get("not_present", {}).items():
            self.exam = mark_not_present(
                self.exam, protocol, key, reason, by, self.new_id()
            )
        for key, text in told.get("remarks", {}).items():
            self.exam = set_remark(self.exam, protocol, key, text)

    def _assert(self, keys: tuple[str, ...]) -> None:
        named = [key for key in keys if key != REST]
        rest = keys_in_scope(self.exam, self.protocol) if REST in keys else ()
        for key in (*named, *(k for k in rest if k not in named)):
            if key in named or self._is_open(key):
                self._assert_one(key)

    def _assert_one(self, key: str) -> None:
        told = self.told
        own_words = [
            item["clause"] for item in told.get("denied", ()) if item["region"] == key
        ]
        self.exam = assert_no_abnormality(
            self.exam,
            self.protocol,
            (key,),
            words_for(self.exam),
            self.by,
            tuple(
                (item["clause"], item.get("reason", "could not be seen"))
                for item in told.get("struck", ())
                if item["region"] == key
            ),
            tuple(
                item["clause"]
                for item in told.get("instead", ())
                if item["region"] == key
            ),
            tuple(own_words) if own_words else None,
        )

    def _is_open(self, key: str) -> bool:
        """Whether "the rest" is said of a part, the other sex's aside."""
        region = self.protocol.region(split_key(key)[0])
        still_open = (RegionState.UNEXAMINED, RegionState.WITH_FINDINGS)
        is_open = self.exam.entry(key).state in still_open
        return (
            is_open and region is not None and bool(rest_claims(self.exam, region, key))
        )


def misses(scenario: Scenario, before: Exam, after: Exam) -> list[str]:
    """Return every expectation that a played scenario does not meet, in words."""
    expected = scenario.told["expected"]
    record = write_record(after, scenario.protocol, for_veterinarian=True).as_text()
    found = [*_sign_misses(expected, after), *_word_misses(expected, record)]
    for vital_id, level in expected.get("flags", {}).items():
        flag = after.vital(vital_id).flag
        given = flag.level.value if flag else FlagLevel.NONE.value
        if given != level:
            found.append(f"{vital_id} flagged {given}, expected {level}")
    stops = bool(newly_stopping(before, after, scenario.protocol))
    if expected.get("stops_handling", stops) != stops:
        found.append(f"stops handling: {stops}")
    return found


def _sign_misses(expected: Told, after: Exam) -> Iterator[str]:
    opened = {entry.sign_id for entry in after.urgent if entry.sign_id}
    for sign_id in expected.get("signs", ()):
        if sign_id not in opened:
            yield f"sign {sign_id} did not open"
    unwanted = expected.get("no_signs", ())
    for sign_id in sorted(opened):
        if sign_id in unwanted or ANY in unwanted:
            yield f"sign {sign_id} opened"


def _word_misses(expected: Told, record: str) -> Iterator[str]:
    text = _plain(record)
    for words in expected.get("words", ()):
        if _plain(words) not in text:
            yield f"{words!r} does not stand in the record:\n{record}"
    for words in expected.get("absent", ()):
        if _plain(words) in text:
            yield f"{words!r} stands in the record:\n{record}"


def _plain(text: str) -> str:
    return " ".join(text.split()).casefold()
