"""Fill a throw-away vault with the invented practice of ``demo_patients``."""

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta

from exam_app.app.demo.demo_exam import Cast, Told, demo_picture, play, said
from exam_app.app.exam_sessions import new_id
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
from exam_app.domain.protocol.protocol import Scope
from exam_app.protocols.loader import LoadedProtocol, load_protocol
from exam_app.record.plain_form import to_plain
from exam_app.resources import demo_patients_folder
from exam_app.store.repositories.rows import open_projection
from exam_app.store.vault.vault import Vault

_MINUTE_MS = 60_000


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
        for path in sorted(folder.glob("[0-9]*.toml")):
            told = tomllib.loads(path.read_text("utf-8"))
            _keep(vault, told, people, today)


def _animal(told: Told, now: datetime) -> Animal:
    more: dict[str, object] = {}
    if told.get("age_basis") == AgeBasis.BIRTH_DATE:
        born = now.date() - timedelta(days=told["age_days"])
        more["birth_date"] = born.isoformat()
    if "age_days" in told:
        more["age_on"] = now.date().isoformat()
    return said(Animal, told, animal_id=new_id(), is_demo=True, **more)


def _people(vault: Vault, practice: Told) -> dict[str, Person]:
    people = {}
    for told in practice["people"]:
        person = said(Person, told, person_id=new_id())
        vault.people.put(person)
        vault.people.set_pin(person.person_id, practice["pin"])
        people[person.name] = person
    return people


def _keep(
    vault: Vault, told: Told, people: Mapping[str, Person], now: datetime
) -> None:
    """Put the animal of one file, its owner, and its exams, the oldest first."""
    animal = _animal(told["animal"], now)
    kept = to_plain(animal)
    if "owner" in told:
        kept["owner"] = to_plain(said(Owner, told["owner"]))
    vault.animals.put(kept)
    earlier: tuple[EarlierFinding, ...] = ()
    for exam in told.get("exams", ()):
        earlier = _keep_exam(vault, animal, exam, people, now, earlier)


def _keep_exam(
    vault: Vault,
    animal: Animal,
    told: Told,
    people: Mapping[str, Person],
    now: datetime,
    earlier: tuple[EarlierFinding, ...],
) -> tuple[EarlierFinding, ...]:
    loaded = load_protocol(animal.species)
    when = _moment(told, now)
    cast = Cast(people[told["by"]], people[told.get("scribe", told["by"])], when)
    if animal.age_days is not None:
        day = when.local().date()
        animal = replace(animal, age_days=age_on(animal, day), age_on=day.isoformat())
    setting = Setting(told["setting"])
    order = ExamOrder(animal, Scope(told["scope"]), setting, (), earlier)
    vault.protocols.put(loaded.content_hash, loaded.content)
    exam = _keep_played(vault, _begun(order, loaded, cast), loaded, told, cast)
    _keep_rows(vault, exam, loaded, told, cast)
    return open_findings(exam, loaded.protocol) if exam.is_closed else earlier


def _begun(order: ExamOrder, loaded: LoadedProtocol, cast: Cast) -> Exam:
    protocol, its_hash = loaded.protocol, loaded.content_hash
    return begin_exam(order, protocol, its_hash, cast.examiner, new_id(), cast.now)


def _keep_played(
    vault: Vault, exam: Exam, loaded: LoadedProtocol, told: Told, cast: Cast
) -> Exam:
    """Play a new exam and put it among the closed ones or the drafts."""
    for finding in told.get("findings", ()):
        for name in finding.get("photographs", ()):
            vault.photographs.add(exam.exam_id, demo_picture(name))
    exam = play(exam, loaded.protocol, told, cast)
    if exam.is_closed:
        store_closed(vault, exam, loaded.protocol)
    else:
        shown = open_projection(exam, loaded.protocol, cast.now)
        vault.drafts.put(exam.exam_id, to_plain(exam), shown)
    return exam


def _moment(told: Told, now: datetime) -> Moment:
    """Return the told day and time; never one that has not come yet."""
    hour, _, minute = told["at"].partition(":")
    day = now - timedelta(days=told["days_ago"])
    when = day.replace(hour=int(hour), minute=int(minute), second=0, microsecond=0)
    return Moment.from_datetime(min(when, now - timedelta(minutes=30)))


def _keep_rows(
    vault: Vault, group: Exam, loaded: LoadedProtocol, told: Told, cast: Cast
) -> None:
    """Put every animal of a group and its exam into the vault, a minute apart.

    Args:
        vault: Where they are put.
        group: The group's own exam.
        loaded: Its protocol.
        told: Its ``[[exams]]`` table; ``columns`` and ``rows`` make the round.
        cast: Who examined the group, and when.

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
        own = replace(cast, now=now)
        animal = row_animal(group.animal, new_id(), row["tag"])
        vault.animals.put(to_plain(animal))
        begun = _begun(ExamOrder(animal, Scope.GROUP, group.setting), loaded, own)
        exam = row_exam(begun, columns, group.exam_id)
        _keep_played(vault, exam, loaded, row, own)
