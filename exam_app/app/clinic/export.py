"""Received records for other programs: a table, FHIR; verified first, as always."""

from collections.abc import Iterable

from exam_app.app.clinic.notes import corrections_beside, notes_beside
from exam_app.app.queries.kept_records import KeptRecord, read_kept
from exam_app.export.fhir import as_json, exam_bundle
from exam_app.export.tables import Row, as_csv, exam_rows
from exam_app.language.catalogue import in_english, to_translate, tr, tr_plural
from exam_app.record.errors import RecordError
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.vault import Vault

UNSEALED = to_translate(
    "The table holds the values unsealed and unsigned. Keep it as you keep paper."
)
FHIR_UNSEALED = to_translate(
    "The FHIR file holds the record unsealed and unsigned, and names the signed record "
    "by its hash. Keep it as you keep paper."
)


@in_english()
def table_of(vault: Vault, rows: Iterable[ClosedExam]) -> tuple[bytes, int]:
    """Write the records of a list as CSV.

    Returns:
        The file, and how many records could not be verified and are not in it.
    """
    lines: list[Row] = []
    unread = 0
    for row in rows:
        try:
            kept = read_kept(vault, row.exam_id, row.record_hash)
        except RecordError:
            kept = None
        if kept is None:
            unread += 1
        else:
            notes = notes_beside(vault, kept)
            beside = corrections_beside(vault, kept)
            lines += exam_rows(kept.exam, kept.loaded.protocol, notes, beside)
    return as_csv(lines), unread


@in_english()
def fhir_of(vault: Vault, kept: KeptRecord) -> bytes:
    """Write one verified record as a FHIR R4 document, without private notes."""
    notes, protocol = notes_beside(vault, kept), kept.loaded.protocol
    beside = corrections_beside(vault, kept)
    return as_json(
        exam_bundle(
            kept.exam,
            protocol,
            kept.exam_hash,
            notes=notes,
            corrections=beside,
            key_id=kept.key_id,
            signed=vault.closed.get(kept.exam.exam_id, kept.exam_hash) or b"",
        )
    )


def file_name(kept: KeptRecord, ending: str) -> str:
    """Name the file of one record by its day and the beginning of its hash."""
    day = f"{kept.exam.started.local():%Y-%m-%d}"
    return f"record-{day}-{kept.exam_hash[:8]}.{ending}"


def told(unread: int) -> str:
    """Say what the file is, and what is not in it."""
    if not unread:
        return tr(UNSEALED)
    left_out = tr_plural(
        "{count} record could not be verified and is not in the table.",
        "{count} records could not be verified and are not in the table.",
        unread,
    )
    return f"{left_out} {tr(UNSEALED)}"
