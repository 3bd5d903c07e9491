"""Erase an animal's owner details everywhere in one store, and say what is left.

What was erased, when, by whom and why stays: in the log, and as a note signed on each
record beside which details stood. The note names fields, never what they held.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person
from exam_app.domain.moments import Moment
from exam_app.exchange.erasure import OwnerTraces, erase_traces, owner_traces
from exam_app.exchange.exchange import Erasure, Exchange
from exam_app.exchange.outgoing import WAITING
from exam_app.exchange.protocols import protocol_lookup
from exam_app.exchange.spool import import_spool
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.record.notes import Note, NoteKind
from exam_app.record.records import read_exam, sign_note
from exam_app.store.engine.documents import read_row
from exam_app.store.repositories.reports import Backup
from exam_app.store.repositories.rows import KnownAnimal
from exam_app.store.vault.vault import Vault

REASONS = {
    "requested": to_translate("The owner asked for it."),
    "retention": to_translate("The time for which the practice keeps it is over."),
    "mistake": to_translate("It was entered by mistake."),
}
RETENTION_YEARS = "retention_years"
LAST_BACKUP = "last_backup"
MOST_YEARS = 100
_COPIES = to_translate(
    "Copies of the folder, exports and printed papers made before are not known here: "
    "look for them."
)


class NothingToEraseError(ExamError):
    """No owner details of this animal are kept here."""

    advice = to_translate(
        "No owner details of this animal are kept here. Nothing was changed. "
        "Look for the same animal under another name or number."
    )


@dataclass(frozen=True, slots=True)
class Erasing:
    """Who erases, when, and why.

    Attributes:
        by: The person, as claimed.
        at: The present moment.
        reason: A key of ``REASONS``; no words of one's own, since they stay.
        new_id: Gives a new id of 32 hexadecimal digits.
    """

    by: Person
    at: Moment
    reason: str
    new_id: Callable[[], str]


@dataclass(frozen=True, slots=True)
class Erased:
    """What became of it.

    Attributes:
        erased: What was erased, as sentences.
        held: What still holds it, or may, as sentences.
    """

    erased: tuple[str, ...]
    held: tuple[str, ...]

    @property
    def words(self) -> str:
        """All of it, a line each."""
        held = [tr("What still holds them:"), *self.held] if self.held else []
        return "\n".join([tr("Erased:"), *self.erased, *held])


@dataclass(frozen=True, slots=True)
class Due:
    """An animal whose owner details have been kept for the practice's time.

    Attributes:
        last_exam: ISO date; empty where no closed exam is kept here.
    """

    animal_id: str
    name: str
    species: str
    last_exam: str

    @property
    def seen(self) -> str:
        """When it was examined last, in words."""
        if not self.last_exam:
            return tr("no closed exam")
        return tr("last exam {day}", day=self.last_exam)


def what_would_go(vault: Vault, animal_id: str) -> tuple[str, ...]:
    """Say what an erasure would take away, as sentences; empty for nothing."""
    return _erased_words(owner_traces(vault, animal_id))


def erase_owner(vault: Vault, folder: Path, animal_id: str, erasing: Erasing) -> Erased:
    """Erase owner details of an animal, with those of animals said to be the same.

    The files hold the past, sealed, until ``vault.rewrite`` and ``empty_torn``.

    Raises:
        NothingToEraseError: There are none.
        VaultError: Nothing was erased.
    """
    if vault.settings.get("role") == "clinic":
        # What waits would bring them again, or keep them for ever.
        import_spool(vault, folder, erasing.at)
    with vault.turn:
        traces = owner_traces(vault, animal_id)
        if traces.is_empty:
            raise NothingToEraseError(animal_id)
        words = _erased_words(traces)
        with vault.transaction():
            for note, signed in _notes(vault, traces, erasing):
                vault.notes.put(note.note_id, note.exam_id, signed)
            erasure = Erasure(
                erasing.new_id(),
                traces.animal_ids,
                traces.fields,
                erasing.at.utc_ms,
                erasing.at.date_and_time(),
                erasing.by.name,
                REASONS[erasing.reason],
            )
            erase_traces(vault, traces, erasure)
        held = (*_held(vault, folder, traces), tr(_COPIES))
    return Erased(words, held)


def set_aside_words(vault: Vault) -> str | None:
    """Say which erased details came again and were not kept; None for none unread."""
    aside = Exchange(vault).erasures.set_aside()
    if not aside:
        return None
    named = Exchange(vault).pairing.names()
    told = dict.fromkeys(
        tr(
            "{animal} from {device}, {time}",
            animal=_name_of(vault, one.animal_id),
            device=named.get(one.device_id) or tr("the clinic"),
            time=one.when,
        )
        for one in aside
    )
    return tr(
        "Owner details that were erased here came again with a hand-over and were not "
        "kept: {details}. The records are whole. Erase them there too. If the "
        "owner came anew, type the details into the animal's page.",
        details="; ".join(told),
    )


def _name_of(vault: Vault, animal_id: str) -> str:
    known = vault.animals.shown(animal_id)
    return (known.name if known else "") or tr("an animal")


def retention_years(vault: Vault) -> int | None:
    """Return for how many years the practice keeps owner details; None: not set."""
    years: int | None = vault.settings.get(RETENTION_YEARS)
    return years


def set_retention(vault: Vault, years: int | None) -> None:
    """Keep for how many years owner details are kept; nothing is ever erased by it."""
    vault.settings.put(RETENTION_YEARS, years)


def due(vault: Vault, today: date) -> tuple[tuple[Due, ...], tuple[Due, ...]]:
    """List animals whose owner details may be due to be erased.

    Returns:
        Those whose last exam is as many years ago as the practice keeps details, the
        oldest first; and those of which no closed exam tells a date. Animals with an
        open exam are in neither.
    """
    years = retention_years(vault)
    if years is None:
        return (), ()
    last: dict[str, str] = {}
    animal_of: dict[str, str] = {}
    for row in vault.closed.everything():
        animal_id, closed = row.animal_id, row.closed[:10]
        last[animal_id] = max(closed, last.get(animal_id, ""))
        animal_of[row.exam_id] = animal_id
    kept = {one.animal_id: one for one in vault.animals.all()}
    named = {key for key, one in kept.items() if one.has_owner}
    named |= {animal_of.get(key, "") for key in vault.owners.exam_ids()} - {""}
    found = [
        Due(key, one.name, one.species, last.get(key, ""))
        for key in named - {row.animal_id for row in vault.drafts.every()}
        for one in [kept.get(key, KnownAnimal(key))]
    ]
    found.sort(key=lambda one: (one.last_exam, one.name, one.animal_id))
    limit = _years_before(today, years).isoformat()
    dated = (one for one in found if one.last_exam and one.last_exam <= limit)
    return tuple(dated), tuple(one for one in found if not one.last_exam)


def backups_words(vault: Vault) -> tuple[str, ...]:
    """Name the backups made of this store, oldest first."""
    made = backups_made(vault)
    return tuple(
        tr("The backup of {time}: {place}.", time=one.at, place=one.place)
        for one in made
    )


def backups_made(vault: Vault) -> list[Backup]:
    """Return the backups made of this store, oldest first."""
    made = vault.backups.all()
    # Earlier versions remembered only the last one, by itself.
    kept = vault.settings.get(LAST_BACKUP)
    before = [read_row(Backup, kept)] if kept else []
    known = {(one.at, one.where) for one in made}
    return [*(one for one in before if (one.at, one.where) not in known), *made]


def _years_before(today: date, years: int) -> date:
    try:
        return today.replace(year=max(1, today.year - years))
    except ValueError:
        # The 29th of February in a year that has none.
        return today.replace(year=today.year - years, day=28)


def _erased_words(traces: OwnerTraces) -> tuple[str, ...]:
    if traces.is_empty:
        return ()
    said = []
    if traces.fields:
        details = ", ".join(map(tr, traces.fields))
        said.append(tr("Of the owner: {details}.", details=details))
    if traces.animals:
        said.append(
            tr_plural(
                "In {count} animal, with its versions.",
                "In {count} animals, with its versions.",
                traces.animals,
            )
        )
    if traces.blocks:
        said.append(
            tr_plural(
                "Beside {count} signed record; the signatures stay valid.",
                "Beside {count} signed records; the signatures stay valid.",
                len(traces.exam_ids),
            )
        )
    if traces.drafts:
        said.append(
            tr_plural(
                "In {count} open exam: who brought the animal and who consented.",
                "In {count} open exams: who brought the animal and who consented.",
                len(traces.drafts),
            )
        )
    if traces.forms:
        said.append(
            tr("What was typed of the owner in the animal's form and not saved.")
        )
    if traces.bundles:
        said.append(
            tr_plural(
                "{count} sealed hand-over not yet received: the records in it go "
                "again, without these details.",
                "{count} sealed hand-overs not yet received: the records in it go "
                "again, without these details.",
                len(traces.bundles),
            )
        )
    return tuple(said)


def _notes(
    vault: Vault, traces: OwnerTraces, erasing: Erasing
) -> Iterator[tuple[Note, bytes]]:
    seed = vault.settings.get("signing_key")
    for exam_id in traces.exam_ids:
        for row in vault.closed.tips(exam_id):
            note = Note(
                erasing.new_id(),
                NoteKind.ADDENDUM,
                exam_id,
                row.record_hash,
                erasing.by,
                erasing.at,
                REASONS[erasing.reason],
                is_demo=vault.is_demo,
                erased=traces.fields,
            )
            yield note, sign_note(note, seed)


def _held(vault: Vault, folder: Path, traces: OwnerTraces) -> Iterator[str]:
    yield from backups_words(vault)
    yield from _elsewhere(vault, traces)
    held = Exchange(vault).quarantine.held()
    apart = [one for one in held if one.kind == "bundle"]
    if apart:
        yield (
            tr_plural(
                "{count} hand-over that was set apart may hold them, sealed: admit or "
                "drop it; what was erased is not taken from it.",
                "{count} hand-overs that was set apart may hold them, sealed: admit or "
                "drop it; what was erased is not taken from it.",
                len(apart),
            )
        )
    refused = len([*folder.glob("spool/*.refused"), *folder.glob("spool/*.part")])
    if refused:
        yield tr_plural(
            "{count} file in the folder spool that cannot be opened.",
            "{count} files in the folder spool that cannot be opened.",
            refused,
        )
    signed = sum(1 for exam in _exams(vault, traces) if _names_in(exam))
    if signed:
        yield (
            tr_plural(
                "{count} signed record itself: who brought the animal, who consented "
                "or what the owner was told was typed into it and is signed.",
                "{count} signed records itself: who brought the animal, who consented "
                "or what the owner was told was typed into it and is signed.",
                signed,
            )
        )


def _elsewhere(vault: Vault, traces: OwnerTraces) -> Iterator[str]:
    rows = [row for one in traces.animal_ids for row in vault.closed.every_of(one)]
    exam_ids = {row.exam_id for row in rows}
    clinic = Exchange(vault).pairing.clinic()
    sent = Exchange(vault).outgoing.all()
    if any(exam_ids & set(one.exam_ids) and one.state != WAITING for one in sent):
        yield (
            tr(
                "The clinic “{name}”, as far as it has received hand-overs with these "
                "exams: erase there too.",
                name=clinic.name if clinic else "",
            )
        )
    withdrawn = [one.sequence for one in sent if one.bundle_hash in traces.bundles]
    if withdrawn:
        numbers = ", ".join(map(str, sorted(withdrawn)))
        yield (
            tr(
                "Hand-over {numbers} was withdrawn: tell the clinic not to wait for "
                "it. Codes or a file of it that were shown before still hold them.",
                numbers=numbers,
            )
        )
    identity = Exchange(vault).identity
    senders = {row.device_id for row in rows if row.is_received}
    for device_id, name in Exchange(vault).pairing.names().items():
        sides = [f"{side}:{device_id}" for side in ("seen", "sent")]
        had = any(identity.version(a, s) for a in traces.animal_ids for s in sides)
        if had or device_id in senders:
            yield tr("The device “{name}”: erase there too.", name=name)


def _exams(vault: Vault, traces: OwnerTraces) -> Iterator[Exam]:
    keys, lookup = Exchange(vault).signing_keys(), protocol_lookup(vault)
    for animal_id in traces.animal_ids:
        for row in vault.closed.every_of(animal_id):
            signed = vault.closed.get(row.exam_id, row.record_hash)
            try:
                yield read_exam(signed or b"", keys, lookup).exam
            except ExamError:
                # Of a key or version that is not known here; it is not looked into.
                continue


def _names_in(exam: Exam) -> bool:
    said, plan = exam.presentation, exam.plan
    is_brought = said is not None and bool(said.presented_by or said.consent_by)
    return is_brought or (plan is not None and bool(plan.owner_told))
