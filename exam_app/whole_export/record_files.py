"""The files of one record in a whole export, each form the same statements.

``made_from.txt`` names what they were made from, so that a later run can tell whether
they would be the same without making them. The printed form says more than the others
of what is beside the record: the practice, the animal's weight until then, the computer
that signed.
"""

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from exam_app.app.clinic.notes import corrections_beside, notes_beside
from exam_app.app.queries.history import rows_of_animal
from exam_app.app.queries.kept_records import KeptRecord
from exam_app.crypto.door import sha256
from exam_app.domain.exam.exam import Correction
from exam_app.domain.wording.written_record import Section, write_record
from exam_app.exchange.signed_notes import notes_of, signer_of
from exam_app.export.fhir import as_json, exam_bundle
from exam_app.export.fhir_r5 import as_r5
from exam_app.export.fhir_shapes import Resource
from exam_app.export.record_json import record_json
from exam_app.export.tables import as_csv, exam_rows
from exam_app.language.catalogue import in_english
from exam_app.paper.fonts import Font
from exam_app.paper.printing import print_record
from exam_app.paper.sheet import PageSize
from exam_app.store.errors import (
    PhotographDamagedError,
    PhotographMissingError,
)
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.vault import Vault

FORMAT = 2
SIGNED, MADE_FROM, TABLE = "record.cose", "made_from.txt", "record.csv"
PRINTED = "record.pdf"
_PHOTOGRAPH, _PROTOCOL, _KEY = "photograph ", "protocol ", "signed by "
_HERE, _NOT_HERE = "here", "not here"


@dataclass(frozen=True, slots=True)
class Written:
    """One verified record with all that is written of it.

    Attributes:
        signed: The record itself.
        notes: Signed notes beside it: who signed it, then the words.
        corrections: What those notes say should read otherwise.
        with_private: Whether private notes are written.
        fhir: Its document in FHIR R4.
        on_paper: Its printed form.
    """

    kept: KeptRecord
    signed: bytes
    notes: tuple[Section, ...]
    corrections: tuple[Correction, ...]
    with_private: bool
    fhir: Resource
    on_paper: Callable[[KeptRecord], bytes]


@in_english()
def _text(record: Written) -> bytes:
    kept = record.kept
    written = write_record(
        kept.exam,
        kept.loaded.protocol,
        for_veterinarian=record.with_private,
        beside=record.corrections,
    )
    said = f"The signed record, {SIGNED}, has the SHA-256 {kept.exam_hash}.\n"
    text = f"{written.with_notes(record.notes).as_text()}\n{said}"
    return text.encode("utf-8", "replace")


@in_english()
def _json(record: Written) -> bytes:
    kept = record.kept
    return record_json(
        kept.exam,
        kept.loaded.protocol,
        kept.exam_hash,
        kept.key_id,
        for_veterinarian=record.with_private,
        notes=record.notes,
        corrections=record.corrections,
    )


@in_english()
def _csv(record: Written) -> bytes:
    exam, protocol = record.kept.exam, record.kept.loaded.protocol
    beside = record.corrections
    return as_csv(exam_rows(exam, protocol, record.notes, beside, is_whole=True))


# Every form of a record.
FORMS: tuple[tuple[str, Callable[[Written], bytes]], ...] = (
    (SIGNED, lambda record: record.signed),
    (PRINTED, lambda record: record.on_paper(record.kept)),
    ("record.txt", _text),
    ("record.json", _json),
    (TABLE, _csv),
    ("record.fhir-r4.json", lambda record: as_json(record.fhir)),
    ("record.fhir-r5.json", lambda record: as_json(as_r5(record.fhir))),
)


@dataclass(frozen=True, slots=True)
class Paper:
    """How records are printed: in one font, on one paper, with one head."""

    font: Font
    size: PageSize
    practice: str

    @property
    def line(self) -> str:
        """Say the paper and the head in one line."""
        head = json.dumps(self.practice)
        return f"printed on {self.size.name} for {head}"


@in_english()
def read_written(
    vault: Vault, kept: KeptRecord, signed: bytes, paper: Paper, *, with_private: bool
) -> Written:
    """Return a verified record with the notes beside it."""

    def on_paper(kept: KeptRecord) -> bytes:
        return print_record(vault, kept, paper.size, paper.font)

    notes = notes_beside(vault, kept)
    corrections = corrections_beside(vault, kept)
    fhir = exam_bundle(
        kept.exam,
        kept.loaded.protocol,
        kept.exam_hash,
        for_veterinarian=with_private,
        notes=notes,
        corrections=corrections,
        key_id=kept.key_id,
        signed=signed,
    )
    return Written(kept, signed, notes, corrections, with_private, fhir, on_paper)


def files_of(record: Written) -> Iterator[tuple[str, bytes]]:
    """Yield name and content of each form of a record."""
    return ((name, make(record)) for name, make in FORMS)


def note_files(vault: Vault, exam_id: str) -> Iterator[tuple[str, bytes]]:
    """Yield name and signed bytes of each note on an exam."""
    for signed in vault.notes.for_exam(exam_id):
        yield f"note-{sha256(signed).hex()[:16]}.cose", signed


@in_english()
def made_from(
    vault: Vault, row: ClosedExam, paper: Paper, *, with_private: bool
) -> str:
    """Return what a record's files are made from, as far as it is known unread."""
    lines = [
        f"export format {FORMAT}",
        f"record {row.record_hash}",
        f"private notes {'written' if with_private else 'left out'}",
        paper.line,
        f"records of the animal {_hash_of_records(vault, row.animal_id)}",
    ]
    if noted := vault.notes.for_exam(row.exam_id):
        lines += [f"note {sha256(signed).hex()}" for signed in noted]
        signers = (one.signer for one in notes_of(vault, row.exam_id)[0])
        lines += [f"signer {one.name}, {one.words}" for one in signers]
    if vault.privates.get(row.record_hash) is not None:
        lines.append("private notes kept")
    return "".join(f"{line}\n" for line in lines)


def _hash_of_records(vault: Vault, animal_id: str) -> str:
    """Return one hash over those of an animal's records: its weights come of them."""
    hashes = sorted(row.record_hash for row in rows_of_animal(vault, animal_id))
    return sha256("\n".join(hashes).encode()).hex()


@in_english()
def named_lines(
    vault: Vault, kept: KeptRecord, found: Sequence[tuple[str, bool]]
) -> str:
    """Return a line for what a record names: protocol, key and each photograph.

    Args:
        found: The hash of each photograph, and whether its picture is here.
    """
    photographs = (
        f"{_PHOTOGRAPH}{key} {_HERE if is_here else _NOT_HERE}\n"
        for key, is_here in found
    )
    protocol = f"{_PROTOCOL}{kept.loaded.content_hash}\n"
    return "".join((protocol, _key_line(vault, kept.key_id), *photographs))


def _key_line(vault: Vault, key_id: bytes) -> str:
    name = json.dumps(signer_of(vault, key_id).name)
    return f"{_KEY}{key_id.hex()} {name}\n"


def is_made_from(vault: Vault, text: str, expected: str) -> bool:
    """Whether files made from ``text`` would be made the same now."""
    if not text.startswith(expected):
        return False
    named = text.removeprefix(expected).splitlines()
    if len(named) < 2 or not named[0].startswith(_PROTOCOL):
        return False
    photographs = named[2:]
    are_all = all(line.startswith(_PHOTOGRAPH) for line in photographs)
    if not are_all or not _is_signed_by(vault, named[1]):
        return False
    return all(
        vault.photographs.has(key) is is_here
        for key, is_here in listed_photographs("\n".join(photographs))
    )


def _is_signed_by(vault: Vault, line: str) -> bool:
    """Whether a line names a key and its computer as they are named now."""
    key_id, _, _ = line.removeprefix(_KEY).partition(" ")
    try:
        return f"{line}\n" == _key_line(vault, bytes.fromhex(key_id))
    except ValueError:
        return False


def listed_protocol(text: str) -> str:
    """Return the hash of the protocol that ``made_from.txt`` names."""
    said = (line for line in text.splitlines() if line.startswith(_PROTOCOL))
    return next(said, "").removeprefix(_PROTOCOL)


def listed_photographs(text: str) -> Iterator[tuple[str, bool]]:
    """Yield each photograph that ``made_from.txt`` names, and whether it was here."""
    for line in text.splitlines():
        if line.startswith(_PHOTOGRAPH):
            key, _, state = line.removeprefix(_PHOTOGRAPH).partition(" ")
            yield key, state == _HERE


def picture_of(vault: Vault, sha256_hex: str) -> bytes | None:
    """Return a picture; None where it is not here, or is damaged."""
    try:
        return vault.photographs.get(sha256_hex)
    except (PhotographMissingError, PhotographDamagedError):
        return None
