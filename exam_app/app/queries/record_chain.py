"""A closed record with the records that continue it, oldest first.

A request for a re-check stays until a later exam of the animal has looked at the
parts it names; a reason why one was not looked at does not answer it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from exam_app.app.clinic.notes import part_name
from exam_app.app.queries.kept_records import KeptRecord, read_kept
from exam_app.domain.animal.history import looked_at
from exam_app.domain.exam.closing import gaps
from exam_app.domain.exam.continued import answer_name, answered_again, combined
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.people import Role
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.exchange.signed_notes import SignedNote, notes_of
from exam_app.language.catalogue import tr
from exam_app.record.notes import Note, NoteKind
from exam_app.store.vault.vault import Vault


@dataclass(frozen=True, slots=True)
class Request:
    """A re-check that was asked for and not done yet.

    Attributes:
        exam_id: The record it is about.
        parts: What to look at again, in words; empty for all of it.
        asked: By whom and when.
    """

    exam_id: str
    parts: str
    asked: str
    text: str

    @property
    def words(self) -> str:
        """Say the request in one or two sentences."""
        parts = (
            tr("Look again at: {parts}.", parts=self.parts)
            if self.parts
            else tr("Look again.")
        )
        return f"{parts} {self.text}".strip()


def is_answered(note: Note, later: Iterable[Exam]) -> bool:
    """Whether exams begun after a request have looked at everything it names.

    Args:
        note: A request for a re-check.
        later: Other exams of the animal; earlier ones count for nothing.
    """
    since = [exam for exam in later if exam.started.utc_ms > note.written.utc_ms]
    if not note.asks_for:
        return bool(since)
    answered = frozenset[str]().union(*map(looked_at, since))
    return answered.issuperset(note.asks_for)


def request_of(
    signed: SignedNote, exam: Exam, protocol: SpeciesProtocol, reader: Role
) -> Request:
    """Put a request into words; one that the clinic did not sign names its device.

    Args:
        reader: Plain words for a volunteer, and for everybody of an intake look-over.
    """
    note, words = signed.note, signed.signer.words
    spoken = reader if reader is Role.VOLUNTEER else words_for(exam)
    parts = ", ".join(part_name(protocol, key, spoken) for key in note.asks_for)
    by = f", {words}" if words else ""
    asked = f"{note.author.name}, {note.written.date_and_time()}{by}"
    return Request(exam.exam_id, parts, asked, note.text)


def open_requests(
    vault: Vault, animal_id: str, reader: Role = Role.TECHNICIAN
) -> tuple[Request, ...]:
    """Return what is still to be looked at again of one animal, oldest first.

    Args:
        reader: Who reads it; parts are named in plain words for a volunteer.
    """
    rows = vault.closed.for_animal(animal_id)
    noted = vault.notes.counts_of(row.exam_id for row in rows)
    found: list[tuple[SignedNote, KeptRecord]] = []
    for row in rows:
        notes = notes_of(vault, row.exam_id)[0] if row.exam_id in noted else ()
        asked = [one for one in notes if one.note.kind is NoteKind.RECHECK_REQUEST]
        kept = read_kept(vault, row.exam_id) if asked else None
        if kept is not None:
            found += [(one, kept) for one in asked]
    if not found:
        return ()
    records = (read_kept(vault, row.exam_id) for row in rows)
    exams = [record.exam for record in records if record is not None]
    found.sort(key=lambda pair: pair[0].note.written.utc_ms)
    return tuple(
        request_of(one, kept.exam, kept.loaded.protocol, reader)
        for one, kept in found
        if not is_answered(one.note, exams)
    )


# How many exams with notes, the latest ones, are asked whether one is a request.
_LOOKED_THROUGH = 200
# By exam and how many notes it has: a note is never changed, so it is read once.
_asks: dict[tuple[str, int], bool] = {}


def animals_to_recheck(vault: Vault) -> tuple[tuple[str, Request], ...]:
    """Return each animal of which something is to be looked at again, oldest first.

    Returns:
        Animal id, and its oldest request.
    """
    animals: dict[str, None] = {}
    for exam_id, count in list(vault.notes.counts().items())[-_LOOKED_THROUGH:]:
        if (exam_id, count) not in _asks:
            notes, _ = notes_of(vault, exam_id)
            kinds = [one.note.kind for one in notes]
            _asks[exam_id, count] = NoteKind.RECHECK_REQUEST in kinds
        if _asks[exam_id, count]:
            rows = vault.closed.revisions(exam_id)
            animals.update({row.animal_id: None for row in rows})
    asked = ((one, open_requests(vault, one)) for one in animals)
    return tuple((one, requests[0]) for one, requests in asked if requests)


def chain_of(vault: Vault, exam_id: str) -> tuple[KeptRecord, ...]:
    """Return the first record and its continuations, as far as they are here.

    Args:
        exam_id: Any record of the chain.

    Returns:
        Oldest first; empty when the record is not here.

    Raises:
        RecordError: A signed record does not verify or cannot be read.
    """
    kept = read_kept(vault, exam_id)
    if kept is None:
        return ()
    rows = vault.closed.for_animal(kept.exam.animal.animal_id)
    continues = {row.exam_id: row.continues for row in rows}
    first = exam_id
    while continues.get(first) in continues:
        first = continues[first]
    ids = _with_later(first, continues)
    records = (read_kept(vault, later) for later in ids)
    found = [record for record in records if record is not None]
    return tuple(sorted(found, key=lambda record: record.exam.started.utc_ms))


def _with_later(first: str, continues: dict[str, str]) -> list[str]:
    ids = [first]
    for known in ids:
        ids += [new for new, old in continues.items() if old == known]
    return ids


def open_continuation(vault: Vault, exam_id: str) -> str:
    """Return the id of the open exam that continues a record; empty if there is none.

    Args:
        exam_id: The first record of a chain.
    """
    for row in vault.drafts.open():
        if row.continues == exam_id and not row.revision:
            return row.exam_id
    return ""


def left_open(chain: Sequence[KeptRecord]) -> tuple[str, ...]:
    """Return what every record of a chain together leaves undone."""
    return gaps(read_together(chain), chain[0].loaded.protocol)


def twice_words(chain: Sequence[KeptRecord]) -> str:
    """Name what two continuations of a record both answered; empty if nothing."""
    view, *later = (record.exam for record in chain)
    protocol, names = chain[0].loaded.protocol, list[str]()
    for exam in later:
        for key in answered_again(view, exam):
            name = answer_name(exam, protocol, key)
            names += [name] if name not in names else []
        view = combined(view, (exam,), protocol)
    if not names:
        return ""
    return tr(
        "Answered in two records of this chain: {parts}. Both stand: "
        "read them together.",
        parts=", ".join(names),
    )


def read_together(chain: Sequence[KeptRecord]) -> Exam:
    """Return the view of a chain of at least one record as one exam."""
    first, *later = (record.exam for record in chain)
    return combined(first, later, chain[0].loaded.protocol)
