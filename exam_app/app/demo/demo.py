"""Fill a throw-away vault with the invented practice of ``demo_patients``."""

import tomllib
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from exam_app.app.demo.demo_exam import Cast, Told, play, said
from exam_app.app.exam_start import ExamOrder, begin_exam, open_findings
from exam_app.app.round_exams import columns_setting
from exam_app.app.signing import store_closed
from exam_app.app.view.round_presenter import chosen_columns, columns_offered, row_exam
from exam_app.domain.animal.ages import age_on
from exam_app.domain.animal.groups import row_animal
from exam_app.domain.animal.signalment import AgeBasis, Animal, Owner
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import EarlierFinding
from exam_app.domain.exam.people import Person
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol
from exam_app.protocols.loader import LoadedProtocol, load_protocol
from exam_app.record.plain_form import to_plain
from exam_app.resources import demo_patients_folder
from exam_app.store.repositories.rows import open_projection
from exam_app.store.vault.vault import Vault

_MINUTE_MS = 60_000


@dataclass(frozen=True, slots=True)
class Patient:
    """One file of ``demo_patients``: an animal, its owner, its exams oldest first."""

    animal: Animal
    owner: Owner | None
    exams: tuple[Told, ...]


def fill(vault: Vault, now: datetime | None = None) -> None:
    """Put the invented people, animals and exams into a vault, in one save.

    Args:
        now: What the days of the files are counted back from; the present moment
            when not given.
    """
    today = now or datetime.now().astimezone()
    folder = demo_patients_folder()
    practice = tomllib.loads((folder / "practice.toml").read_text("utf-8"))
    with vault.transaction():
        people = _people(vault, practice)
        vault.settings.put("practice", practice["practice"])
        vault.settings.put("clinic_phone", practice["clinic_phone"])
        for patient in read_patients(folder, today):
            _keep(vault, patient, people, today)


def read_patients(folder: Path, now: datetime) -> Iterable[Patient]:
    """Read every patient file of a folder, in the order of their names."""
    for path in sorted(folder.glob("[0-9]*.toml")):
        told = tomllib.loads(path.read_text("utf-8"))
        owner = said(Owner, told["owner"]) if "owner" in told else None
        yield Patient(_animal(told["animal"], now), owner, tuple(told.get("exams", ())))


def _animal(told: Told, now: datetime) -> Animal:
    more: dict[str, object] = {}
    if told.get("age_basis") == AgeBasis.BIRTH_DATE:
        born = now.date() - timedelta(days=told["age_days"])
        more["birth_date"] = born.isoformat()
    if "age_days" in told:
        more["age_on"] = now.date().isoformat()
    return said(Animal, told, animal_id=uuid.uuid4().hex, is_demo=True, **more)


def _people(vault: Vault, practice: Told) -> dict[str, Person]:
    people = {}
    for told in practice["people"]:
        person = said(Person, told, person_id=uuid.uuid4().hex)
        vault.people.put(to_plain(person))
        vault.people.set_pin(person.person_id, practice["pin"])
        people[person.name] = person
    return people


def _keep(
    vault: Vault, patient: Patient, people: Mapping[str, Person], now: datetime
) -> None:
    kept = to_plain(patient.animal)
    if patient.owner:
        kept["owner"] = to_plain(patient.owner)
    vault.animals.put(kept)
    earlier: tuple[EarlierFinding, ...] = ()
    for told in patient.exams:
        earlier = _keep_exam(vault, patient.animal, told, people, now, earlier)


def _keep_exam(
    vault: Vault,
    animal: Animal,
    told: Told,
    people: Mapping[str, Person],
    now: datetime,
    earlier: tuple[EarlierFinding, ...],
) -> tuple[EarlierFinding, ...]:
    loaded = load_protocol(animal.species)
    protocol = loaded.protocol
    when = _moment(told, now)
    examiner = people[told["by"]]
    scribe = people[told.get("scribe", told["by"])]
    cast = Cast(examiner, scribe, people, when, lambda: uuid.uuid4().hex)
    age = age_on(animal, when.local().date())
    seen = replace(animal, age_days=age, age_on=f"{when.local():%Y-%m-%d}")
    seen = animal if animal.age_days is None else seen
    setting = Setting(told["setting"])
    order = ExamOrder(seen, Scope(told["scope"]), setting, (), earlier)
    exam = begin_exam(
        order, protocol, loaded.content_hash, examiner, cast.new_id(), when
    )
    exam = play(exam, protocol, told, cast)
    vault.protocols.put(loaded.content_hash, loaded.content)
    keep(vault, exam, protocol, when)
    keep_rows(vault, exam, loaded, told, cast)
    return open_findings(exam, protocol) if exam.is_closed else earlier


def _moment(told: Told, now: datetime) -> Moment:
    """Return the told day and time; never one that has not come yet."""
    hour, _, minute = told["at"].partition(":")
    day = now - timedelta(days=told["days_ago"])
    when = day.replace(hour=int(hour), minute=int(minute), second=0, microsecond=0)
    return Moment.from_datetime(min(when, now - timedelta(minutes=30)))


def keep(vault: Vault, exam: Exam, protocol: SpeciesProtocol, when: Moment) -> None:
    """Put a played exam among the closed ones or the drafts."""
    if exam.is_closed:
        store_closed(vault, exam, protocol)
    else:
        shown = open_projection(exam, protocol, when)
        vault.drafts.put(exam.exam_id, to_plain(exam), shown)


def keep_rows(
    vault: Vault, group: Exam, loaded: LoadedProtocol, told: Told, cast: Cast
) -> None:
    """Put every animal of a group and its exam into the vault, a minute apart.

    Args:
        group: The group's own exam.
        told: Its ``[[exams]]`` table; ``columns`` and ``rows`` make the round.

    Raises:
        ExamError: A row tells something the app would refuse.
    """
    protocol = loaded.protocol
    offered = columns_offered(protocol, cast.examiner.role)
    columns = chosen_columns(offered, told.get("columns", ()))
    if "columns" in told:
        name = columns_setting(protocol.species)
        vault.settings.put(name, [column.key for column in columns])
    for place, row in enumerate(told.get("rows", ())):
        now = Moment(cast.now.utc_ms + place * _MINUTE_MS, cast.now.offset_min)
        animal = row_animal(group.animal, cast.new_id(), row["tag"])
        vault.animals.put(to_plain(animal))
        order = ExamOrder(animal, Scope.GROUP, group.setting)
        begun = begin_exam(
            order,
            protocol,
            loaded.content_hash,
            cast.examiner,
            cast.new_id(),
            now,
        )
        exam = row_exam(begun, columns, group.exam_id)
        exam = play(exam, protocol, row, replace(cast, now=now))
        keep(vault, exam, protocol, now)
